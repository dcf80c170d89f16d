"""What a batch carries of each active, by every way to know it, and which treatments are held against each other by route."""

import pandas as pd

from palea import schema
from palea.calc.units import per
from palea.derived import recovery
from palea.derived.coated_lots import KEYS, STAYS, solids_of_batches
from palea.derived.converted import converted
from palea.derived.lineage import batches
from palea.derived.lookup import numbers, texts
from palea.derived.lot_tests import live
from palea.derived.made_for import made_for, run_seed
from palea.derived.preparations import active_mg, contents, put_on
from palea.derived.spoken import sums
from palea.derived.tests_of_lots import counted
from palea.derived.view import view

G_IN_KG, M2_IN_HA = 1000.0, 10_000.0


@view(made_for, treatment_actives="treatment_id material_id amount unit basis of_seed_unit")
def carriers(made_for, treatment_actives):
    """One row a coating or soaking run and active of its treatment: batch, kind, taxon, treatment, material, intended_mg_kg.

    What was meant is known where it was written per kg of bare seed; a strength of a solution is no dose.
    """
    mine = made_for[made_for["kind"].isin(["coat", "soak"])]
    told = treatment_actives.dropna(subset=["treatment_id", "material_id"]).drop_duplicates(["treatment_id", "material_id"])
    per_kg = converted(told["amount"], told["unit"], per("mg", "kg")).where(told["basis"].eq("per kg bare seed"))
    told = told[["treatment_id", "material_id"]].assign(intended_mg_kg=per_kg)
    both = mine.merge(told, left_on="treatment", right_on="treatment_id", how="inner")
    names = {"run": "batch", "material_id": "material"}
    return both.rename(columns=names)[["batch", "kind", "taxon", "treatment", "material", "intended_mg_kg"]]


@view(
    carriers, put_on, contents, materials="material_id role active_fraction_w_w density_g_ml",
)  # fmt: skip
def put_in(carriers, put_on, contents, materials):
    """One row a batch and active: batch, material, added_mg (pure active put on), strength_mg_l (of what it was soaked in)."""
    rows = carriers[["batch", "material"]].merge(put_on.rename(columns={"run": "batch", "material": "used"}), on="batch")
    rows = rows.rename(columns={"material": "active", "used": "material"})
    rows = rows.assign(mg=active_mg(rows, contents, materials, rows["active"]))
    keys = ["batch", "active"]
    added = sums(rows[rows["action"].isin(STAYS)].groupby(keys)["mg"])
    soak = rows[rows["action"].eq("soak").fillna(value=False) & rows["mg"].ne(0)]
    strength = (soak["mg"] / (soak["volume_ml"] / 1000)).groupby([soak[k] for k in keys]).mean()
    at = pd.MultiIndex.from_frame(carriers[["batch", "material"]])
    told = {"added_mg": added, "strength_mg_l": strength}
    return carriers[["batch", "material"]].assign(**{c: v.reindex(at).to_numpy(float) for c, v in told.items()})


@view(
    carriers, batches, tests="test_id lot_id quantity material_id status",
    readings="test_id item value unit reported_only",
)  # fmt: skip
def found_in(carriers, batches, tests, readings):
    """One row a batch and active: batch, material, assayed_mg_kg (mean of its lots' readings, per kg of bare seed) and
    uptake_ml_g (mean of its lots' tests of the solution taken up).
    """
    valid = tests[~tests["status"].isin(schema.words("test_status", counts=False))].drop_duplicates("test_id")
    valid = valid.assign(batch=texts(valid["lot_id"], batches.set_index("lot")["batch"]))
    rows = valid.dropna(subset=["test_id"]).merge(readings, on="test_id")
    dose, taken = (rows[rows["quantity"].isin(schema.words("test_quantity", gives=g))] for g in ("dose", "uptake"))
    assayed = converted(dose["value"], dose["unit"], per("mg", "kg")).groupby([dose["batch"], dose["material_id"]]).mean()
    uptake = converted(taken["value"], taken["unit"], per("mL", "g")).groupby(taken["batch"]).mean()
    at = pd.MultiIndex.from_frame(carriers[["batch", "material"]])
    return carriers[["batch", "material"]].assign(
        assayed_mg_kg=assayed.reindex(at).to_numpy(float), uptake_ml_g=numbers(carriers["batch"], uptake)
    )


@view(units="treatment_id sown_n area_m2 status")
def sown_density(units):
    """One row a treatment that was sown on measured ground: units_per_ha, all its units over all its ground."""
    kept = units[~units["status"].isin(schema.words("unit_status", counts=False))]
    kept = kept[(kept["area_m2"] > 0) & kept["sown_n"].notna()]
    total = kept.groupby("treatment_id")[["sown_n", "area_m2"]].sum()
    return (M2_IN_HA * total["sown_n"] / total["area_m2"]).rename("units_per_ha").rename_axis("treatment").reset_index()


@view(
    carriers, put_in, found_in, solids_of_batches, run_seed, recovery.unit_masses, counted, sown_density,
)  # fmt: skip
def batch_doses(carriers, put_in, found_in, solids_of_batches, run_seed, unit_masses, counted, sown_density):
    """One row a batch and active: taxon, treatment, batch, material, intended_mg_kg, added_mg, seed_kg, stayed,
    uptake_ml_g, strength_mg_l, assayed_mg_kg (per kg of product), build_up_percent, thousand_g, live_share, units_per_ha.

    stayed : share of all dry matter put on that is on the product, by mass; 1 where weighing makes it more.
    An assay is kept per kg of bare seed in the tables; the calculation asks for it per kg of product, so it is put back
    by the build-up, which drops out again. A soak builds nothing up.
    """
    weighed = run_seed.set_index("run")
    solids = solids_of_batches.set_index("batch")["solids_g"]
    run = carriers["batch"]
    seed_g, seed_dry, product_dry = (numbers(run, weighed[c]) for c in ("seed_g", "seed_dry_g", "product_dry_g"))
    stayed = ((product_dry - seed_dry) / numbers(run, solids)).clip(upper=1.0)
    built = (100 * (product_dry - seed_dry) / seed_dry.where(seed_dry > 0)).mask(carriers["kind"].eq("soak"), 0.0)
    lot = texts(run, weighed["lot"])
    product_in_bare = (1 + built / 100).where(built > -100)
    return carriers[[*KEYS, "material", "intended_mg_kg"]].assign(
        added_mg=put_in["added_mg"].where(carriers["kind"].eq("coat")), seed_kg=(seed_g / G_IN_KG).where(seed_g > 0),
        stayed=stayed.where(stayed >= 0), uptake_ml_g=found_in["uptake_ml_g"], strength_mg_l=put_in["strength_mg_l"],
        assayed_mg_kg=found_in["assayed_mg_kg"] / product_in_bare, build_up_percent=built.where(built > -100),
        thousand_g=numbers(lot, unit_masses.set_index("lot")["tsw_g"]), live_share=numbers(lot, live(counted)),
        units_per_ha=numbers(carriers["treatment"], sown_density.set_index("treatment")["units_per_ha"]),
    )  # fmt: skip


@view(carriers, contrasts="a b asks_about")
def route_pairs(carriers, contrasts):
    """One row a declared comparison of routes and active that both sides carry: taxon, a, b, material."""
    asked = contrasts[contrasts["asks_about"].eq("route").fillna(value=False)][["a", "b"]].dropna().drop_duplicates()
    side = carriers[["treatment", "taxon", "material"]].drop_duplicates()
    first = asked.merge(side.rename(columns={"treatment": "a"}), on="a")
    both = first.merge(side.rename(columns={"treatment": "b"}), on=["b", "taxon", "material"])
    return both[["taxon", "a", "b", "material"]]
