"""What preparations are made of, down to what was bought, and what each step of a run put on the seed in grams."""

import numpy as np
import pandas as pd

from palea.calc.units import BASES, per
from palea.derived.converted import converted
from palea.derived.lookup import numbers, texts
from palea.derived.made_for import run_seed
from palea.derived.spoken import amounts
from palea.derived.view import view

DEEPEST = 16  # a preparation of preparations deeper than this is a loop
MG_IN_G, G_IN_KG, ML_IN_L = 1000.0, 1000.0, 1000.0
PPM = 1e6  # mg/kg in one
GRAMS_A_ML, MG_A_KG, MG_A_L = per("g", "mL"), per("mg", "kg"), per("mg", "L")


@view(
    material_parts="material_id part_material_id amount unit basis",
    materials="material_id density_g_ml role",
)  # fmt: skip
def direct_parts(material_parts, materials):
    """One row a part of a preparation as it was entered: material, part, grams (put in all), share (grams in a gram), role.

    grams is nan for a strength; share is nan where no density leads from volume to mass, and in a preparation of which
    one part cannot be told in grams.
    """
    once = materials.dropna(subset=["material_id"]).drop_duplicates("material_id").set_index("material_id")
    told = material_parts.dropna(subset=["material_id", "part_material_id"])
    told = told.drop_duplicates(["material_id", "part_material_id"])
    density = numbers(told["part_material_id"], once["density_g_ml"])
    in_all = told["basis"].eq("in all").fillna(value=False).astype(bool)
    grams = in_grams(told["amount"], told["unit"], density).where(in_all)
    by = grams.groupby(told["material_id"])
    total = by.transform("sum").where(by.transform("count").eq(in_all.groupby(told["material_id"]).transform("sum")))
    strength = _share(told, density, numbers(told["material_id"], once["density_g_ml"]))
    return pd.DataFrame(
        {
            "material": told["material_id"],
            "part": told["part_material_id"],
            "grams": grams,
            "share": (grams / total).where(in_all, strength),
            "role": texts(told["part_material_id"], once["role"]).fillna(""),
        }
    ).reset_index(drop=True)


def in_grams(amount, unit, density_g_ml):
    """Masses and volumes as grams, nan for other units and for a volume of unknown density."""
    return amounts(amount, unit, "mass").fillna(amounts(amount, unit, "volume") * density_g_ml)


def _share(told, density, made_density):
    """Grams of a part in a gram of the whole, for strengths; a bare % by its basis."""
    bare = told["unit"].eq("%").fillna(value=False) & told["basis"].isin(BASES).fillna(value=False)
    unit = told["unit"].mask(bare.astype(bool), "%{" + told["basis"].fillna("") + "}")
    strength = _mass_share(told["amount"], unit, made_density)
    grams = in_grams(told["amount"], told["unit"], density)
    per_kg = (grams / G_IN_KG).where(told["basis"].eq("per kg of preparation"))
    per_l = (grams / ML_IN_L / made_density).where(told["basis"].eq("per L of preparation"))
    return strength.fillna(per_kg).fillna(per_l)


def _mass_share(amount, unit, density_g_ml):
    """Grams in a gram of a liquid of that density, from a mass in mass or a mass in volume."""
    per_volume = converted(amount, unit, GRAMS_A_ML) / density_g_ml
    return (converted(amount, unit, MG_A_KG) / PPM).fillna(per_volume)


@view(direct_parts)
def contents(direct_parts):
    """One row a preparation and what it holds in the end: material, part, share (grams in a gram, nan where unknown).

    Preparations in it are followed to what they were made from; what comes in by two ways is added up.
    """
    step = direct_parts[["material", "part", "share"]]
    made = set(direct_parts["material"])
    found, far = [step[~step["part"].isin(made)]], step[step["part"].isin(made)]
    for _ in range(DEEPEST):
        if far.empty:
            break
        far = far.merge(step.rename(columns={"material": "part", "part": "inner", "share": "of"}), on="part")
        far = far.assign(part=far["inner"], share=far["share"] * far["of"])[["material", "part", "share"]]
        found.append(far[~far["part"].isin(made)])
        far = far[far["part"].isin(made)]
    every = pd.concat(found)
    by = every.groupby(["material", "part"], sort=False)["share"]
    return by.sum().where(by.count().eq(by.size())).reset_index()


@view(
    direct_parts, contents, material_parts="material_id part_material_id amount unit basis",
    materials="material_id role active_fraction_w_w density_g_ml molar_mass_g_mol",
)  # fmt: skip
def preparation_parts(direct_parts, contents, material_parts, materials):
    """One row a preparation and part: material, part, amount, unit, basis, purity, density_g_ml, molar_mass_g_mol,
    made_density_g_ml, acid.

    A preparation that was weighed together from other preparations is told by what these hold, so a diluted stock says how
    strong it is. A solvent has no purity and no molar mass here: it is what the rest lies in.
    """
    nested = _followed(direct_parts, contents)
    plain = material_parts.dropna(subset=["material_id", "part_material_id"])
    plain = plain[~plain["material_id"].isin(nested["material"])].rename(
        columns={"material_id": "material", "part_material_id": "part"}
    )
    frames = [f for f in (plain, nested) if len(f)]
    rows = pd.concat(frames, ignore_index=True) if frames else plain
    place = numbers(rows["material"], pd.Series(range(len(material_parts)), index=material_parts["material_id"]))
    rows = rows.iloc[place.argsort(kind="stable")].reset_index(drop=True)
    once = materials.dropna(subset=["material_id"]).drop_duplicates("material_id").set_index("material_id")
    role = texts(rows["part"], once["role"])
    solvent = role.eq("solvent").fillna(value=False).astype(bool)
    return pd.DataFrame(
        {
            "material": rows["material"],
            "part": rows["part"],
            "amount": rows["amount"],
            "unit": rows["unit"].fillna(""),
            "basis": rows["basis"].fillna(""),
            "purity": numbers(rows["part"], once["active_fraction_w_w"]).mask(solvent, 1.0),
            "density_g_ml": numbers(rows["part"], once["density_g_ml"]),
            "molar_mass_g_mol": numbers(rows["part"], once["molar_mass_g_mol"]).mask(solvent),
            "made_density_g_ml": numbers(rows["material"], once["density_g_ml"]),
            "acid": role.eq("acid").fillna(value=False).astype(bool),
        }
    )


def _followed(direct_parts, contents):
    """Parts in grams of preparations that hold other preparations and were weighed together as a whole."""
    made = direct_parts["part"].isin(direct_parts["material"])
    whole = direct_parts["grams"].notna().groupby(direct_parts["material"]).transform("all")
    total = direct_parts[whole].groupby("material")["grams"].sum()
    mine = contents[contents["material"].isin(direct_parts.loc[made & whole, "material"])]
    known = mine.groupby("material")["share"].transform(lambda s: s.notna().all()).astype(bool)
    mine = mine[known]
    grams = mine["share"] * numbers(mine["material"], total)
    return pd.DataFrame({"material": mine["material"], "part": mine["part"], "amount": grams, "unit": "g", "basis": "in all"})


@view(
    contents, run_seed, run_steps="run_id step action material_id amount unit basis concentration concentration_unit",
    materials="material_id role density_g_ml active_fraction_w_w",
)  # fmt: skip
def put_on(contents, run_seed, run_steps, materials):
    """One row a step that used a material: run, action, material, grams, volume_ml, solids (share of it that dries on).

    Amounts per kg of seed are of the seed put in. A solvent leaves nothing; of a liquid that is no preparation nobody
    knows what it leaves unless the share of active is said; powders stay whole.
    """
    once = materials.dropna(subset=["material_id"]).drop_duplicates("material_id").set_index("material_id")
    used = run_steps.dropna(subset=["run_id", "material_id"])
    kilos = numbers(used["run_id"], run_seed.set_index("run")["seed_g"]) / G_IN_KG
    per_kg = used["basis"].isin(["per kg seed put in", "per kg bare seed"]).fillna(value=False).astype(bool)
    amount = used["amount"] * kilos.where(per_kg, 1.0)
    density = numbers(used["material_id"], once["density_g_ml"])
    grams = in_grams(amount, used["unit"], density)
    return pd.DataFrame(
        {
            "run": used["run_id"],
            "action": used["action"],
            "material": used["material_id"],
            "grams": grams,
            "volume_ml": amounts(amount, used["unit"], "volume").fillna(grams / density),
            "solids": numbers(used["material_id"], _solids(once, contents)),
            "concentration": used["concentration"],
            "concentration_unit": used["concentration_unit"],
        }
    ).reset_index(drop=True)


def _solids(once, contents):
    """{material: share of its mass that is left when it dries}."""
    liquid = once["density_g_ml"].notna()
    alone = once["active_fraction_w_w"].where(liquid, 1.0).mask(once["role"].eq("solvent").fillna(value=False).astype(bool), 0.0)
    parts = (contents["share"] * numbers(contents["part"], alone)).groupby(contents["material"])
    made = parts.sum().where(parts.count().eq(parts.size()))
    return pd.concat([made, alone[~alone.index.isin(made.index)]])


def active_mg(rows, contents, materials, active):
    """Milligrams of pure active in each row of `put_on`.

    active : Series of material ids along `rows`.  The strength of the liquid as used stands before what it was made from,
    and counts as pure. 0 where the material holds none of it, nan where its strength is not known.
    """
    keys = pd.MultiIndex.from_arrays([rows["material"].astype(object), active.astype(object)])
    share = contents.set_index(["material", "part"])["share"]
    itself = rows["material"].eq(active).fillna(value=False).to_numpy(bool)
    holds = keys.isin(share.index) | itself
    in_it = np.where(itself, 1.0, share.reindex(keys).to_numpy(float))
    once = materials.dropna(subset=["material_id"]).drop_duplicates("material_id").set_index("material_id")
    pure = numbers(active, once["active_fraction_w_w"]).fillna(1.0)
    by_parts = MG_IN_G * rows["grams"] * in_it * pure
    found = stated_mg(rows).fillna(by_parts)
    return found.where(holds, 0.0)


def stated_mg(rows):
    """Milligrams of active by the strength that the step itself states; nan where it states none."""
    strength, unit = rows["concentration"], rows["concentration_unit"]
    per_volume = converted(strength, unit, MG_A_L) * rows["volume_ml"] / ML_IN_L
    return per_volume.fillna(converted(strength, unit, MG_A_KG) * rows["grams"] / G_IN_KG)
