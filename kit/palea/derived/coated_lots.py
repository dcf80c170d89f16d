"""Coated lots as the calculations on coats take them: a row a batch, unit, sample or step. A batch is a coating run."""

import numpy as np
import pandas as pd

from palea import schema
from palea.derived import recovery
from palea.derived.lineage import batches
from palea.derived.lookup import numbers, texts
from palea.derived.lot_tests import wide
from palea.derived.made_for import made_for, moisture_of, run_seed
from palea.derived.preparations import put_on
from palea.derived.spoken import sums
from palea.derived.tests_of_lots import PER, read
from palea.derived.view import view

KEYS = ["taxon", "treatment", "batch"]
STAYS = ("wet", "powder")  # steps that put on the seed what stays there; a soak or a rinse runs off
MM_IN_M = 1000.0


@view(made_for, run_seed)
def coats(made_for, run_seed):
    """One row a coating run that put a coat on: taxon, treatment, batch, coat_class and what `run_seed` says of it.

    A sham, tumbled and wetted alone, puts none on and is left out.
    """
    bare = schema.words("coat_class", zero=True)
    mine = made_for[made_for["kind"].eq("coat").fillna(value=False) & ~made_for["coat_class"].isin(bare)]
    both = mine.merge(run_seed, on="run", how="inner")
    return both.rename(columns={"run": "batch"}).reset_index(drop=True)


def of_batches(rows, coats, batches):
    """Rows of tests whose lot was coated in a batch, with taxon, treatment and batch."""
    batch = texts(rows["lot"], batches.set_index("lot")["batch"])
    kept = rows.assign(batch=batch)[batch.isin(coats["batch"])]
    once = coats.set_index("batch")
    return kept.assign(**{c: texts(kept["batch"], once[c]) for c in ("taxon", "treatment")}).reset_index(drop=True)


@view(coats)
def coated_batches(coats):
    """One row a batch: taxon, treatment, batch, bare_g, coated_g (main product and multiples), bare_moisture,
    coated_moisture, coat_class, and nan for what the tables do not hold: diameter_mm, seed_g_cm3, coat_g_cm3.
    """
    return coats[[*KEYS, "coat_class"]].assign(
        bare_g=coats["seed_g"].where(coats["seed_g"] > 0), coated_g=coats["product_g"].where(coats["product_g"] > 0),
        bare_moisture=moisture_of(coats, "seed"), coated_moisture=moisture_of(coats, "product"),
        diameter_mm=np.nan, seed_g_cm3=np.nan, coat_g_cm3=np.nan,
    )  # fmt: skip


@view(coats, recovery.unit_masses)
def unit_masses(coats, unit_masses):
    """One row a batch: taxon, treatment, batch, bare_mg and coated_mg (mean mass of a unit), their water contents as shares."""
    tsw = unit_masses.set_index("lot")["tsw_g"]  # grams a thousand are milligrams a unit
    return coats[KEYS].assign(
        bare_mg=numbers(coats["lot"], tsw), coated_mg=numbers(coats["main"], tsw),
        bare_moisture=moisture_of(coats, "seed"), coated_moisture=moisture_of(coats, "main"),
    )  # fmt: skip


@view(read, coats, batches)
def washed_units(read, coats, batches):
    """One row a sample whose coat was washed off: taxon, treatment, batch, sample_g, without_coat_g."""
    rows = of_batches(wide(read, "coat share"), coats, batches)
    rows = rows.rename(columns={"sample": "sample_g", "without coat": "without_coat_g"})
    return rows[[*KEYS, "sample_g", "without_coat_g"]]


@view(read, coats, batches)
def opened_units(read, coats, batches):
    """One row a replicate of units that were opened: taxon, treatment, batch, replicate, none, one, two, more, broken."""
    rows = of_batches(wide(read, "singles and multiples"), coats, batches)
    return rows[[*KEYS, "replicate", "broken"]].assign(
        none=rows["no seed"], one=rows["one seed"], two=rows["two seeds"], more=rows["more seeds"]
    )


@view(read, coats, batches)
def single_masses(read, coats, batches):
    """One row a unit weighed alone: taxon, treatment, batch, mass_mg."""
    return of_batches(wide(read, "unit mass"), coats, batches).rename(columns={"one unit": "mass_mg"})[[*KEYS, "mass_mg"]]


@view(read, coats, batches)
def disintegration_times(read, coats, batches):
    """One row a unit put in water: taxon, treatment, batch, time_s."""
    return of_batches(wide(read, "disintegration time"), coats, batches).rename(columns={"time": "time_s"})[[*KEYS, "time_s"]]


@view(read, coats, batches, recovery.unit_masses)
def dust_tests(read, coats, batches, unit_masses):
    """One row a dust test: taxon, treatment, batch, gain_g, n_units (from the mass of the sample and that of a unit)."""
    rows = of_batches(wide(read, "dust"), coats, batches)
    tsw = numbers(rows["lot"], unit_masses.set_index("lot")["tsw_g"])
    return rows[KEYS].assign(gain_g=rows["dust"] / 1000, n_units=PER * rows["sample"] / tsw)


@view(coats, put_on)
def solids_of_batches(coats, put_on):
    """One row a batch: solids_g, dry matter of all that was put on; nan where one amount or its solids are not known."""
    rows = put_on[put_on["action"].isin(STAYS)]
    total = sums((rows["grams"] * rows["solids"]).groupby(rows["run"]))
    return coats[["batch"]].assign(solids_g=numbers(coats["batch"], total))


@view(coats, solids_of_batches, washed_units)
def coating_flows(coats, solids_of_batches, washed_units):
    """One row a batch: taxon, treatment, batch, seed_g, solids_g, product_g, rest_g (all dry matter), coat_share_percent,
    moist (a water content was not known, and that mass is taken as it lay).
    """
    washed = 100 * (1 - washed_units["without_coat_g"] / washed_units["sample_g"])
    moist = pd.Series(data=False, index=coats.index)
    dry = {}
    for name in ("seed", "product", "rest"):
        unknown = coats[f"{name}_dry_g"].isna() & coats[f"{name}_g"].notna()
        dry[f"{name}_g"] = coats[f"{name}_dry_g"].fillna(coats[f"{name}_g"])
        moist |= unknown
    return coats[KEYS].assign(
        **dry | {"seed_g": dry["seed_g"].where(dry["seed_g"] > 0)}, solids_g=solids_of_batches["solids_g"],
        coat_share_percent=numbers(coats["batch"], washed.groupby(washed_units["batch"]).mean()), moist=moist,
    )  # fmt: skip


@view(
    coats, put_on, run_steps="run_id action equipment_id speed_rpm", equipment="equipment_id bowl_diameter_mm",
)  # fmt: skip
def batch_settings(coats, put_on, run_steps, equipment):
    """One row a batch: taxon, treatment, batch, seed_g, liquid_g, powder_g, speed_rpm (median while coating), diameter_m,
    and nan for what the tables do not hold: unit_m, bulk_l, drum_l.
    """
    liquid, powder = (sums(put_on[put_on["action"].eq(a)].groupby("run")["grams"]) for a in STAYS)
    turning = run_steps[run_steps["action"].isin(STAYS)]
    bowl = numbers(turning["equipment_id"], equipment.set_index("equipment_id")["bowl_diameter_mm"]) / MM_IN_M
    return coats[KEYS].assign(
        seed_g=coats["seed_g"].where(coats["seed_g"] > 0), liquid_g=numbers(coats["batch"], liquid),
        powder_g=numbers(coats["batch"], powder),
        speed_rpm=numbers(coats["batch"], turning.groupby("run_id")["speed_rpm"].median()),
        diameter_m=numbers(coats["batch"], bowl.groupby(turning["run_id"]).median()),
        unit_m=np.nan, bulk_l=np.nan, drum_l=np.nan,
    )  # fmt: skip
