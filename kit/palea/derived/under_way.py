"""Runs as far as they have come: what went in, and what their steps have put on until now."""

import pandas as pd

from palea.derived.coated_lots import STAYS
from palea.derived.lookup import numbers
from palea.derived.made_for import run_seed
from palea.derived.preparations import put_on
from palea.derived.spoken import sums
from palea.derived.view import view


@view(run_seed, put_on)
def runs_so_far(run_seed, put_on):
    """One row a run whose steps put something on: batch, lot (put in), seed_g (dry matter, as it lies where its water is not
    known), liquid_g, powder_g, solids_g (nan where one amount or its solids are not known), moist.
    """
    on = put_on[put_on["action"].isin(STAYS)]
    mine = run_seed[run_seed["run"].isin(on["run"])].reset_index(drop=True)
    liquid, powder = (sums(on[on["action"].eq(a)].groupby("run")["grams"]) for a in STAYS)
    solids = sums((on["grams"] * on["solids"]).groupby(on["run"]))
    return pd.DataFrame({
        "batch": mine["run"], "lot": mine["lot"], "seed_g": mine["seed_dry_g"].fillna(mine["seed_g"]),
        "liquid_g": numbers(mine["run"], liquid), "powder_g": numbers(mine["run"], powder),
        "solids_g": numbers(mine["run"], solids), "moist": mine["seed_dry_g"].isna(),
    })  # fmt: skip
