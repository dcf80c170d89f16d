"""Which lot came of which, and whether what lies in each bag can have come of what lay in the one before."""

import pandas as pd

from palea import schema
from palea.calc.spans import earliest, latest
from palea.checks.examples import lot, moved, run, several, stepped
from palea.checks.rule import rule
from palea.derived.lineage import ancestry, history, looped, parents
from palea.derived.lookup import moments, texts


@rule(
    "lots.made-after-use",
    severity="error",
    reads=("units", "movements"),
    at="units.lot_id",
    needs="movements",
    says="{kind} {unit_id} was wetted on {first_wetted_at}, but its lot {lot_id} was only made on {made_at}.",
    remedy="Check both dates and the lot: one of the three was written down wrong.",
    fires=several(
        lot("AV-0"),
        lot("AV-1"),
        run("R1", "AV-0", "AV-1", "2025-04-01"),
        {"units": [{"unit_id": "D1", "kind": "dish", "lot_id": "AV-1", "first_wetted_at": "2025-03-01"}]},
    ),
    nearly=several(
        lot("AV-0"),
        lot("AV-1"),
        run("R1", "AV-0", "AV-1", "2025-03"),
        {"units": [{"unit_id": "D1", "kind": "dish", "lot_id": "AV-1", "first_wetted_at": "2025-03-01"}]},
    ),
)
def made_after_use(units, movements):
    """Seed cannot be sown before it exists; partial dates are spans, and only spans that cannot overlap are an error."""
    came = movements[movements["kind"].isin(["made", "received"])].assign(first=lambda m: earliest(m["moved_at"]))
    came = (
        came.dropna(subset=["first"]).sort_values("first", kind="stable").drop_duplicates("lot_id").set_index("lot_id")
    )
    born = moments(units["lot_id"], came["first"])
    wetted = pd.Series(latest(units["first_wetted_at"]), index=units.index)
    return units.assign(made_at=texts(units["lot_id"], came["moved_at"]))[born > wetted]


@rule(
    "lots.lineage-loop",
    severity="error",
    reads=("lots", parents),
    at="lots.lot_id",
    needs="movements",
    says="Lot {lot_id} is its own ancestor: following where it came from leads back to it, by way of {loop}.",
    remedy="One of the movements between these lots points the wrong way; swap its lot and counterpart.",
    fires=several(
        lot("A"),
        lot("B"),
        moved("moved to lot", "A", counterpart_lot_id="B"),
        moved("moved to lot", "B", counterpart_lot_id="A"),
    ),
    nearly=several(
        lot("A"),
        lot("B"),
        lot("C"),
        moved("moved to lot", "A", counterpart_lot_id="B"),
        moved("moved to lot", "A", at="2025-02-02", counterpart_lot_id="C"),
        moved("moved to lot", "B", counterpart_lot_id="C"),
    ),
)
def lineage_loop(lots, parents):
    """Where seed came from is a graph without loops; a loop is one fault, told at its first lot."""
    names = looped(parents)
    return lots[lots["lot_id"].isin(names)].iloc[:1].assign(loop=", ".join(names))


@rule(
    "lots.other-taxon",
    severity="error",
    reads=("lots", parents),
    at="lots.taxon_id",
    needs="movements",
    says="Lot {lot_id} is {taxon_id}, but it was made from lot {parent}, which is {parent_taxon}.",
    remedy="Correct the taxon, or the lot that was drawn. A blend of species is a mixture and has no taxon of its own.",
    fires=several(lot("AM-0", "AM"), lot("CC-1", "CC"), run("R1", "AM-0", "CC-1")),
    nearly=several(
        lot("AM-0", "AM"),
        lot("CC-0", "CC"),
        {"lots": [{"lot_id": "MIX", "seed_unit": "mixture"}]},
        moved("moved to lot", "AM-0", counterpart_lot_id="MIX"),
        moved("moved to lot", "CC-0", counterpart_lot_id="MIX"),
    ),
)
def other_taxon(lots, parents):
    """A lot has the taxon of the lots it was made from, unless it is a mixture."""
    taxon = lots.set_index("lot_id")["taxon_id"]
    pairs = parents.assign(own=texts(parents["lot"], taxon), parent_taxon=texts(parents["parent"], taxon))
    wrong = pairs[pairs["own"].ne(pairs["parent_taxon"]).fillna(value=False)].drop_duplicates("lot")
    wrong = wrong[wrong["run"].eq("") | ~wrong.duplicated("run")]  # the fractions of one run are one fault
    found = lots.merge(wrong[["lot", "parent", "parent_taxon"]], left_on="lot_id", right_on="lot", how="inner")
    return found.set_index(lots.index[lots["lot_id"].isin(wrong["lot"])])


def _kind(lots, name):
    """A property of each lot's seed unit (hull, coat_class), missing where it has none."""
    return lots["seed_unit"].map({w: schema.word("seed_unit", w).get(name) for w in schema.words("seed_unit")})


def _is_product(lots):
    return lots["fraction"].isna() | lots["fraction"].isin(schema.words("fraction", product=True))


@rule(
    "lots.hull-back-on",
    severity="error",
    reads=("lots", ancestry),
    at="lots.seed_unit",
    needs="movements",
    says="Lot {lot_id} is {seed_unit}, in its hull, but it came from lot {before}, whose hull was off ({was}).",
    remedy="Correct the seed unit of one of the two, or the lot that was drawn.",
    fires=several(lot("AV-0", seed_unit="seed"), lot("AV-1", seed_unit="legume"), run("R1", "AV-0", "AV-1")),
    nearly=several(lot("AV-0", seed_unit="seed"), lot("AV-1", seed_unit="legume", fraction="waste"), run("R1", "AV-0", "AV-1")),
)
def hull_back_on(lots, ancestry):
    """A hull that was taken off does not come back; pods left over among clean seed may be sorted out as waste.

    On a loop of lots everything comes from everything, which is told as a loop.
    """
    ancestry = ancestry[~ancestry["ancestor"].isin(looped(ancestry.rename(columns={"ancestor": "parent"})))]
    off = lots[_kind(lots, "hull").eq("off")].set_index("lot_id")["seed_unit"]
    before = ancestry[ancestry["ancestor"].isin(off.index)].drop_duplicates("lot").set_index("lot")["ancestor"]
    told = lots.assign(before=texts(lots["lot_id"], before))
    told = told.assign(was=texts(told["before"], off))
    return told[_kind(lots, "hull").eq("on") & told["before"].notna() & _is_product(lots)]


@rule(
    "lots.coat-without-a-run",
    severity="error",
    reads=("lots", ancestry, history, "runs"),
    at="lots.seed_unit",
    needs="movements",
    says="Lot {lot_id} is {seed_unit}, but no run that put a coat on stands between it and the bare lots it came from.",
    remedy="Record the coating run, or correct the seed unit.",
    fires=several(lot("AV-0", seed_unit="seed"), lot("AV-1", seed_unit="pellet"), run("R1", "AV-0", "AV-1")),
    nearly=several(lot("AV-0", seed_unit="seed"), lot("AV-1", seed_unit="pellet"), run("R1", "AV-0", "AV-1", kind="coat")),
)
def coat_without_a_run(lots, ancestry, history, runs):
    """Coated seed came coated, or a run here or at a contractor's coated it."""
    coated = _kind(lots, "coat_class").notna()
    coats = runs.loc[runs["kind"].eq("coat").fillna(value=False), "run_id"]
    behind = history.loc[history["run"].isin(coats), "lot"]
    came_coated = ancestry.loc[ancestry["ancestor"].isin(lots.loc[coated, "lot_id"]), "lot"]
    unknown = ancestry.loc[ancestry["ancestor"].isin(lots.loc[lots["seed_unit"].isna(), "lot_id"]), "lot"]
    made = lots["lot_id"].isin(ancestry["lot"])
    return lots[coated & made & ~lots["lot_id"].isin({*behind, *came_coated, *unknown})]


_COAT = stepped("R1", {"action": "powder", "material_id": "CLAY"})
_CLAY = {"materials": [{"material_id": "CLAY", "role": "filler"}]}
_COATED = several(lot("AV-0", seed_unit="seed"), run("R1", "AV-0", "AV-1", kind="coat"), _COAT, _CLAY)


@rule(
    "lots.coated-but-called-bare",
    severity="error",
    reads=("lots", "movements", "runs", "run_steps", "materials"),
    at="lots.seed_unit",
    needs="movements runs run_steps materials",
    says="Lot {lot_id} is called {seed_unit}, but run {run_id} put {material} on it, which stays as a coat.",
    remedy="Say by what stays visible whether it is film-coated, encrusted or a pellet.",
    fires=several(_COATED, lot("AV-1", seed_unit="seed")),
    nearly=several(_COATED, lot("AV-1", seed_unit="film-coated"), lot("AV-2", seed_unit="seed", fraction="waste"),
                   moved("made", "AV-2", run_id="R1")),
)  # fmt: skip
def coated_but_called_bare(lots, movements, runs, run_steps, materials):
    """What a finished coating run put out as its product carries what was put on; a run with water alone is a sham."""
    finished = runs["kind"].eq("coat") & runs["status"].isin(schema.words("run_status", gives_seed=True))
    stays = materials[materials["role"].isin(schema.words("material_role", stays=True))].set_index("material_id")["role"]
    of_coats = run_steps["run_id"].isin(runs.loc[finished.fillna(value=False), "run_id"])
    on = run_steps[of_coats & run_steps["material_id"].isin(stays.index)]
    on = on.drop_duplicates("run_id").set_index("run_id")["material_id"]
    made = movements[movements["kind"].eq("made") & movements["run_id"].isin(on.index)]
    made = made.drop_duplicates("lot_id").set_index("lot_id")["run_id"]
    told = lots.assign(run_id=texts(lots["lot_id"], made))
    told = told.assign(material=texts(told["run_id"], on))
    return told[told["material"].notna() & _kind(lots, "hull").notna() & _is_product(lots)]


_KEEP = several(lot("AV-0"), lot("AM-0", "AM"))


@rule(
    "lots.keep-sample-of-none",
    severity="gap",
    reads=("lots", parents),
    at="lots.keep_of",
    says="{lot_id} is a keep-sample, and nothing says of which lot.",
    remedy="Name the lot in keep_of, or enter the movement by which it was set aside.",
    fires=several(_KEEP, lot("AV-K", fraction="keep-sample")),
    nearly=several(_KEEP, lot("AV-K", fraction="keep-sample"), moved("moved to lot", "AV-0", counterpart_lot_id="AV-K")),
)
def keep_sample_of_none(lots, parents):
    """A keep-sample stands for a lot, said beside it or by the movement that set it aside."""
    kept = lots["fraction"].eq("keep-sample").fillna(value=False) & lots["keep_of"].isna()
    return lots[kept & ~lots["lot_id"].isin(parents["lot"])]


@rule(
    "lots.keep-sample-of-other",
    severity="error",
    reads=("lots",),
    at="lots.keep_of",
    says="Lot {lot_id} is said to be kept back for {keep_of}, {why}.",
    remedy="Name the lot that it was taken from.",
    fires=several(_KEEP, lot("AV-K", fraction="keep-sample", keep_of="AM-0")),
    nearly=several(_KEEP, lot("AV-K", fraction="keep-sample", keep_of="AV-0")),
)
def keep_sample_of_other(lots):
    """It is a part of that lot, so it is of the same kind, and not the lot itself."""
    taxon = texts(lots["keep_of"], lots.set_index("lot_id")["taxon_id"])
    itself = lots["keep_of"].eq(lots["lot_id"]).fillna(value=False).astype(bool)
    other = taxon.ne(lots["taxon_id"]).fillna(value=False).astype(bool)
    why = ("which is " + taxon + " and not " + lots["taxon_id"]).mask(itself, "which is itself")
    return lots.assign(why=why)[itself | other]


@rule(
    "lots.kept-but-not-called-so",
    severity="warning",
    reads=("lots",),
    at="lots.fraction",
    says="Lot {lot_id} is said to be kept back for {keep_of}, but its fraction is {fraction}.",
    remedy="Set the fraction to keep-sample, so that no plan draws from it; or clear keep_of.",
    fires=several(lot("AV-0"), lot("AV-K", fraction="main", keep_of="AV-0")),
    nearly=several(lot("AV-0"), lot("AV-K", fraction="keep-sample", keep_of="AV-0"), lot("AV-L", keep_of="AV-0")),
)
def kept_but_not_called_so(lots):
    """The two columns agree."""
    return lots[lots["keep_of"].notna() & lots["fraction"].ne("keep-sample").fillna(value=False)]


RULES = (made_after_use, lineage_loop, other_taxon, hull_back_on, coat_without_a_run, coated_but_called_bare,
         keep_sample_of_none, keep_sample_of_other, kept_but_not_called_so)  # fmt: skip
