"""How a coat grew from cycle to cycle, beside what its written procedure planned and allows."""

import numpy as np
import pandas as pd

from palea.derived.coated_lots import coats, of_batches
from palea.derived.converted import converted
from palea.derived.lineage import batches
from palea.derived.lookup import numbers, texts
from palea.derived.made_for import run_seed
from palea.derived.preparations import put_on
from palea.derived.tests_of_lots import read
from palea.derived.view import view

G_IN_KG = 1000.0
SAME = ["protocol_id", "version", "step", "action", "material_id", "cycle"]
BOUNDS = ("amount", "lowest_amount", "highest_amount")


@view(
    coats, run_seed, put_on, runs="run_id protocol_id version",
    run_steps="run_id step action material_id cycle amount unit basis",
    protocol_steps="protocol_id version step action material_id cycle unit basis amount lowest_amount highest_amount",
)  # fmt: skip
def build_ups(coats, run_seed, put_on, runs, run_steps, protocol_steps):
    """One row a coating batch and cycle: taxon, treatment, batch, cycle, done, planned, lowest, highest: dry matter put on
    up to and with it, % of the seed that was put in; nan once an amount, or what its step should be, is not known.

    A step of the procedure is the one with the same number, action, material and cycle; amounts per kg are of seed put in.
    """
    used = run_steps.dropna(subset=["run_id", "material_id"])  # the rows of put_on, in its order
    used = used.assign(solids_g=(put_on["grams"] * put_on["solids"]).to_numpy()).dropna(subset=["cycle"])
    whose = runs.drop_duplicates("run_id").set_index("run_id")
    used = used.assign(**{c: texts(used["run_id"], whose[c]) for c in ("protocol_id", "version")})
    planned = protocol_steps.drop_duplicates(SAME)
    planned = planned.rename(columns={name: f"planned_{name}" for name in (*BOUNDS, "unit", "basis")})
    both = used.merge(planned, on=SAME, how="left")
    seed_g = numbers(both["run_id"], run_seed.set_index("run")["seed_g"])
    in_all = {side: both["amount" if side == "" else "planned_amount"] for side in ("", "planned_")}
    per_kg = {s: both[f"{s}basis"].isin(["per kg seed put in", "per kg bare seed"]) for s in in_all}
    done = both["amount"] * np.where(per_kg[""], seed_g / G_IN_KG, 1.0)
    same_unit = both["unit"].eq(both["planned_unit"]).fillna(value=False).astype(bool)
    share = 100 * both["solids_g"] / seed_g
    told = {"done": share}
    for name, column in zip(("planned", "lowest", "highest"), BOUNDS, strict=True):
        meant = both[f"planned_{column}"] * np.where(per_kg["planned_"], seed_g / G_IN_KG, 1.0)
        told[name] = (share * meant / done).where(same_unit & (done > 0))
    per_cycle = _sums(both[["run_id", "cycle"]].assign(**told))
    by_run = per_cycle.groupby("run_id", sort=False)[list(told)].cumsum()
    known = per_cycle[list(told)].notna().groupby(per_cycle["run_id"], sort=False).cummin()
    grown = per_cycle.assign(**by_run.where(known.astype(bool)))
    return coats[["taxon", "treatment", "batch"]].merge(grown.rename(columns={"run_id": "batch"}), on="batch")


@view(read, coats, batches)
def single_units(read, coats, batches):
    """One row a coated unit weighed alone: taxon, treatment, batch, mass_mg, whatever unit it was read in."""
    rows = of_batches(read[read["quantity"].eq("unit mass")], coats, batches)
    mass = converted(rows["value"], rows["unit"], pd.Series("mg", index=rows.index, dtype=rows["unit"].dtype))
    return rows[["taxon", "treatment", "batch"]].assign(mass_mg=mass).dropna(subset=["mass_mg"]).reset_index(drop=True)


def _sums(rows):
    """Sums a run and cycle, in order; nan where one part is not known."""
    by = rows.groupby(["run_id", "cycle"], sort=True)
    totals, size = by.sum(), by.size()
    return totals.where(by.count().eq(size, axis=0)).reset_index()
