"""What all trials of a package take from each received lot, as their units say, and what was received of it."""

import numpy as np
import pandas as pd

from palea import schema
from palea.derived.lineage import batches, origins
from palea.derived.lookup import numbers, texts
from palea.derived.priced import masses
from palea.derived.spoken import sums
from palea.derived.view import view


@view(
    origins, batches, masses,
    units="unit_id trial_id treatment_id lot_id sown_n status",
)  # fmt: skip
def needs(origins, batches, masses, units):
    """One row a trial, treatment and received lot, as calc.planning.seed reads it: lot, trial, treatment, units, seeds (seed
    units a unit), received_g, recovery, clean_g, build_up [%], batches.

    Units that were sown and those that are only planned; not those left out before sowing. A unit whose seed goes back to
    several received lots takes an equal part of each.
    """
    rows = units[units["sown_n"].gt(0) & units["lot_id"].notna() & units["treatment_id"].notna()]
    both = rows.merge(origins, left_on="lot_id", right_on="lot", how="inner").drop(columns="lot")
    part = 1 / both.groupby("unit_id")["origin"].transform("nunique")
    both = both.assign(seeds=both["sown_n"] * part, batch=texts(both["lot_id"], batches.set_index("lot")["batch"]))
    by = both.groupby(["origin", "trial_id", "treatment_id"], sort=False)
    told = by.agg(units=("unit_id", "nunique"), seeds=("seeds", "sum"), batches=("batch", "nunique")).reset_index()
    told = told.rename(columns={"origin": "lot", "trial_id": "trial", "treatment_id": "treatment"})
    mass = masses.set_index("treatment")
    return told.assign(
        units=told["units"].astype(float), seeds=told["seeds"] / told["units"], batches=told["batches"].astype(float),
        **{name: numbers(told["treatment"], mass[name]) for name in ("received_g", "recovery", "clean_g")},
        build_up=100 * (numbers(told["treatment"], mass["product_g"] / mass["clean_g"]) - 1).clip(lower=0.0),
    ).dropna(subset=["received_g"])


@view(origins, lots="lot_id taxon_id keep_of", movements="lot_id kind mass_g counterpart_lot_id")
def lots(origins, lots, movements):
    """One row a received lot: lot, taxon, held_g (all that was received of it), keep_g (what was moved to its keep-sample).

    held_g is nan where a delivery was not weighed.
    """
    first = origins.loc[origins["lot"].eq(origins["origin"]), "lot"].drop_duplicates()
    came = movements[movements["kind"].isin(_arrivals())]
    held = sums(came.groupby("lot_id")["mass_g"])
    keeps = lots.dropna(subset=["keep_of"]).drop_duplicates("lot_id").set_index("lot_id")["keep_of"]
    moved = movements[movements["counterpart_lot_id"].isin(keeps.index)]
    kept = moved.groupby(texts(moved["counterpart_lot_id"], keeps).to_numpy())["mass_g"].sum(min_count=1)
    return pd.DataFrame({
        "lot": first, "taxon": texts(first, lots.drop_duplicates("lot_id").set_index("lot_id")["taxon_id"]).fillna(""),
        "held_g": numbers(first, held), "keep_g": numbers(first, kept).fillna(0.0).astype(np.float64),
    }).reset_index(drop=True)  # fmt: skip


def _arrivals():
    """Movements by which seed comes into a package: those that add to a lot and belong to no run of ours."""
    added = schema.words("movement_kind", sign=1)
    return [kind for kind in added if "run_id" not in schema.word("movement_kind", kind)["needs"]]
