"""One value a batch gathered into a mean a treatment. The batch is the unit: one of them says nothing of the recipe."""

from types import MappingProxyType

import numpy as np
import pandas as pd

from palea.calc.means import geometric_interval, mean_interval
from palea.calc.results import Estimate
from palea.calc.terms import Rung

KEYS = ("taxon", "treatment")
LABELS = [*KEYS, "unit", "batch", "quantity", "denominator", "value"]
ONE_BATCH = "One batch: it holds for that batch, not yet for the recipe."
MORE_KEYS = ("material",)  # what an estimate may be of beside taxon and treatment, where the rows have it


def by_treatment(rows, confidence, units, *, lowest=-np.inf, highest=None, geometric=()):
    """Estimates of each treatment and quantity, treatments in order and quantities in the order of `units`.

    rows : frame, one row a batch and quantity: taxon, treatment, batch, quantity, value; perhaps material, seeds.
    units : {quantity: UCUM code}.  lowest, highest ({quantity: end}) : ends that cannot be passed.
    geometric : quantities that are averaged on the log scale.
    Mean of the batches with a t interval between them; one batch has none.
    """
    keys = [*KEYS, *(key for key in MORE_KEYS if key in rows)]
    order = {quantity: at for at, quantity in enumerate(units)}
    known = rows.dropna(subset=["value"])
    groups = known.groupby(keys, sort=False, dropna=False).ngroup()
    known = known.assign(rank=known["quantity"].map(order), group=groups)
    found = []
    for (_, _, *named), part in known.groupby(["group", "rank", *keys], dropna=False):
        quantity = part["quantity"].iloc[0]
        values = part.groupby("batch", sort=False)["value"].mean().to_numpy(float)
        if quantity in geometric and (values > 0).all():
            ends = geometric_interval(values, confidence)
        else:
            ends = mean_interval(values, confidence, lowest=lowest, highest=(highest or {}).get(quantity, np.inf))
        of = MappingProxyType(dict(zip(keys, map(str, named), strict=True)))
        found.append(Estimate(
            quantity, of, ends.value, ends.lower, ends.upper, confidence=confidence, unit=units[quantity], df=ends.df,
            n_batches=len(values), n_seeds=round(float(part["seeds"].sum())) if "seeds" in part else 0,
            rung=str(Rung.BATCH), reason=ONE_BATCH if len(values) == 1 else "",
        ))  # fmt: skip
    return tuple(found)


def batch_units(rows):
    """The `units` of a result: one row a batch and quantity."""
    known = rows.dropna(subset=["value"])
    extra = [key for key in MORE_KEYS if key in rows]
    return known.assign(unit=known["batch"], denominator="")[[*LABELS, *extra]].reset_index(drop=True)


def stacked(rows, values, **more):
    """One row a row of `rows` and quantity of `values` ({quantity: array}); nan where it cannot be had."""
    keep = [*KEYS, *(key for key in MORE_KEYS if key in rows), "batch"]
    named = rows[keep]
    frames = [named.assign(quantity=name, value=np.asarray(v, float), **more) for name, v in values.items()]
    return pd.concat(frames, ignore_index=True)
