"""What each trial of a package found on each declared question, side by side."""

import numpy as np
import pandas as pd

from palea.calc.germination.final import differences
from palea.derived import contrasts, counting
from palea.derived.view import view

COLUMNS = [
    "trial", "contrast", "taxon", "environment", "a", "b", "quantity", "denominator", "unit", "scale", "value", "lower",
    "upper", "confidence", "df", "n_batches", "n_units",
]  # fmt: skip


@view(counting.shares, counting.dishes, contrasts.asked)
def effects(shares, dishes, asked):
    """One row a declared question about a share of dishes and trial that could judge it: COLUMNS, as
    calc.decision.evidence reads it.

    Worked out from the counts of each trial by itself, as germination.final does, so that it rests on counts and not on
    answers that may have grown old. The same question asked twice in a trial (of another outcome, say) is there once a
    quantity and denominator.
    """
    trial = dishes.drop_duplicates("unit").set_index("unit")["trial"]
    rows = shares.assign(trial=shares["unit"].map(trial))
    found = []
    for name, mine in rows.groupby("trial", sort=False):
        declared = asked[asked["trial"].eq(name)]
        judged = mine[mine["quantity"].isin(declared["quantity"])]
        found += [_row(name, e) for e in differences(judged, declared) if _is_asked(e)]
    told = pd.DataFrame(found, columns=COLUMNS)
    return told.drop_duplicates(["trial", "taxon", "environment", "a", "b", "quantity", "denominator"]).reset_index(drop=True)


def _is_asked(effect):
    """Differences that were declared: neither companions on another denominator nor odds ratios beside them."""
    return effect.scale == "difference" and bool(effect.kind) and np.isfinite(effect.value)


def _row(trial, effect):
    of = {name: effect.of.get(name, "") for name in ("contrast", "taxon", "environment", "a", "b")}
    same = {name: getattr(effect, name) for name in COLUMNS if hasattr(effect, name)}
    return of | same | {"trial": trial}
