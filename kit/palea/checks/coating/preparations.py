"""Preparations made here: what went into them."""

from palea import schema
from palea.checks.examples import percent
from palea.checks.rule import rule
from palea.derived.lineage import looped
from palea.derived.lookup import numbers, texts
from palea.derived.spoken import amounts, dimensions, surely_before

WHOLE = 1.005  # parts are weighed one by one
G_PER_KG = 1000.0


def _made(*parts, until=None, **more):
    """Preparation MIX of parts A, B ..., each (amount, unit, basis)."""
    rows = [{"material_id": "MIX", "part_material_id": name, "amount": a, "unit": u, "basis": b}
            for name, (a, u, b) in zip("AB", parts, strict=False)]  # fmt: skip
    named = [{"material_id": "MIX", "name": "Binder", "role": "preparation", "disclosure": "disclosed"} | more,
             {"material_id": "A", "name": "Kaolin", "role": "filler", "expires_on": until}]  # fmt: skip
    return {"materials": named, "material_parts": rows}


@rule(
    "coating.preparation-in-itself", severity="error", reads=("material_parts",), at="material_parts.material_id",
    says="{material_id} is made of itself, by way of {loop}.",
    remedy="One of these parts points the wrong way; a stock and its dilution are two materials.",
    fires={"material_parts": [{"material_id": "A", "part_material_id": "B"}, {"material_id": "B", "part_material_id": "A"}]},
    nearly={"material_parts": [{"material_id": "A", "part_material_id": "B"}, {"material_id": "A", "part_material_id": "C"},
                               {"material_id": "B", "part_material_id": "C"}]},
)  # fmt: skip
def preparation_in_itself(material_parts):
    """What a preparation is made of has an end; a loop is one fault, told at its first row."""
    edges = material_parts.rename(columns={"material_id": "lot", "part_material_id": "parent"})
    names = looped(edges.dropna(subset=["lot", "parent"]))
    found = material_parts[material_parts["material_id"].isin(names) & material_parts["part_material_id"].isin(names)]
    return found.iloc[:1].assign(loop=", ".join(names))


@rule(
    "coating.parts-above-the-whole", severity="error", reads=("material_parts",), at="material_parts.amount",
    says="The parts of {material_id} add up to {total} {unit} ({basis}), more than the whole.",
    remedy="Look for a slip in one of the amounts, or for a part that was counted twice.",
    fires=_made((70.0, percent("w/w"), "w/w"), (40.0, percent("w/w"), "w/w")),
    nearly=_made((60.0, percent("w/w"), "w/w"), (40.0, percent("w/w"), "w/w")),
)  # fmt: skip
def parts_above_the_whole(material_parts):
    """Shares by mass or by volume add up to 100 % at most, masses in a kilogram to a kilogram; told once a preparation."""
    share = dimensions(material_parts["unit"]).eq("share") & material_parts["basis"].isin(("w/w", "v/v"))
    percent = material_parts["amount"].where(share.fillna(value=False))
    grams = amounts(material_parts["amount"], material_parts["unit"], "mass")
    in_kg = (100 * grams / G_PER_KG).where(material_parts["basis"].eq("per kg of preparation").fillna(value=False))
    keys = [material_parts["material_id"], material_parts["basis"]]
    whole = percent.fillna(in_kg)
    over = whole.groupby(keys).transform("sum") > 100 * WHOLE
    symbols = {u: schema.word("unit", u)["symbol"] for u in schema.words("unit")}
    total = material_parts["amount"].groupby(keys).transform("sum")
    told = material_parts.assign(total=total, unit=material_parts["unit"].map(symbols))
    return told[over & whole.notna()].drop_duplicates("material_id")


@rule(
    "coating.preparation-of-what", severity="gap", reads=("materials", "material_parts"), at="materials.material_id",
    says="{name} was made here, and nothing says of what.",
    remedy="Enter its parts with amounts; a solution of the binder is what reports leave out most often.",
    fires=_made(), nearly=_made((100.0, "g", "in all")),
)  # fmt: skip
def preparation_of_what(materials, material_parts):
    """A preparation has parts; one whose recipe is withheld says by whom instead."""
    made = materials["role"].eq("preparation") | materials["made_at"].notna()
    hidden = materials["disclosure"].isin(schema.words("disclosure", needs_name=True))
    return materials[made.fillna(value=False) & ~hidden & ~materials["material_id"].isin(material_parts["material_id"])]


@rule(
    "coating.part-by-volume", severity="error", reads=("material_parts", "materials"), at="material_parts.unit",
    says="{material_id}: {amount} {unit} of {name}, a powder without a density: {unit} does not fit.",
    remedy="Weigh it. If it was measured by volume, enter its bulk density beside the material.",
    fires=_made((100.0, "mL", "in all")), nearly=_made((100.0, "g", "in all"), (100.0, "mL", "in all")),
)  # fmt: skip
def part_by_volume(material_parts, materials):
    """A powder has no volume of its own; what is only known to be a preparation may be a liquid."""
    of = materials.set_index("material_id")
    part = material_parts["part_material_id"]
    dusty = [r for r in schema.words("material_role") if "dust" in schema.word("material_role", r)["hazard"]]
    powder = texts(part, of["role"]).isin(dusty) & numbers(part, of["density_g_ml"]).isna()
    by_volume = dimensions(material_parts["unit"]).eq("volume").fillna(value=False)
    return material_parts.assign(name=texts(part, of["name"]))[powder & by_volume]


@rule(
    "coating.part-expired", severity="warning", reads=("material_parts", "materials"), at="material_parts.part_material_id",
    says="{material_id} was made on {made_at} of {name}, which by its label was to be used until {expires_on}.",
    remedy="Enter the batch that was really used, or note that an old one was.",
    fires=_made((100.0, "g", "in all"), made_at="2025-03-01", until="2025-01"),
    nearly=_made((100.0, "g", "in all"), made_at="2025-03-01", until="2025"),
)  # fmt: skip
def part_expired(material_parts, materials):
    """A part that is past its day makes a preparation that is."""
    of = materials.set_index("material_id")
    told = material_parts.assign(
        made_at=texts(material_parts["material_id"], of["made_at"]),
        name=texts(material_parts["part_material_id"], of["name"]),
        expires_on=texts(material_parts["part_material_id"], of["expires_on"]),
    )
    return told[surely_before(told["expires_on"], told["made_at"])]


RULES = (preparation_in_itself, parts_above_the_whole, preparation_of_what, part_by_volume, part_expired)
