"""Replicates of tests of a lot, gathered into a mean a lot. A lot has one sample: the interval is of the test."""

import numpy as np
import pandas as pd

from palea.calc.means import mean_interval
from palea.calc.results import Estimate
from palea.calc.terms import Rung

KEYS = ("taxon", "lot")
LABELS = [*KEYS, "unit", "batch", "quantity", "denominator", "value"]


def units_frame(rows):
    """The `units` of a result: one row a replicate, named test/replicate; `quantity` and `value` are there already."""
    name = rows["test"].astype(str) + "/" + rows["replicate"].astype(str)
    return rows.assign(unit=name, batch="", denominator=rows.get("denominator", ""))[LABELS].reset_index(drop=True)


def group_estimates(frames, confidence, unit="%", lowest=0.0, highest=None):
    """(units, estimates): the mean of each lot's replicates with its t interval, lots in order, quantities in order.

    frames : one frame a quantity with taxon, lot, test, replicate, quantity, value.  unit : one, or {quantity: unit}.
    highest : {quantity: end that cannot be passed}.
    """
    units = units_frame(pd.concat(frames, ignore_index=True))
    units["order"] = units.groupby(list(KEYS), sort=False, dropna=False).ngroup()
    units = units.sort_values("order", kind="stable").drop(columns="order").reset_index(drop=True)
    groups = units.groupby([*KEYS, "quantity"], sort=False, dropna=False)["value"]
    estimates = []
    for (taxon, lot, quantity), values in groups:
        most = (highest or {}).get(quantity, np.inf)
        found = mean_interval(values, confidence, lowest=lowest, highest=most)
        estimates.append(estimate_of(taxon, lot, quantity, found, confidence, len(values),
                                     unit=unit if isinstance(unit, str) else unit[quantity]))
    return units, tuple(estimates)


def estimate_of(taxon, lot, quantity, interval, confidence, replicates=0, seeds=0, **more):
    """An Estimate of a lot from an Interval."""
    value, lower, upper, df = interval
    alone = "One replicate: no interval." if replicates == 1 and np.isnan(lower) else ""
    return Estimate(
        quantity, {"taxon": str(taxon), "lot": str(lot)}, value, lower, upper, confidence=confidence, df=df,
        n_units=replicates, n_seeds=round(seeds), rung=str(Rung.LOT), **{"reason": alone} | more,
    )  # fmt: skip
