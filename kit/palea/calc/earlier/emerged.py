"""Version 1 of final emergence in the field, and of what stands in rows."""

import numpy as np

from palea.calc.earlier import block_means
from palea.calc.field import emergence, rows


def final_1(shares, asked, unsown=None, quantity=None, denominator=None, confidence=0.95, *, pooled=False):
    """Version 1 of field.emergence.final, with its arguments and shapes.

    Changed since: the number of live seeds sown, which is known from tests of samples, was taken as known; means in blocks
    were those of block_means; and a primary question was not adjusted for primaries that other recipes answer. The later is
    better because what a test does not know about the seed sown cannot be known about the share that came up.
    Source: as field.emergence.final.
    """
    known = _known(shares)
    mine = asked[asked["quantity"].isin(shares["quantity"].dropna().unique())]
    return emergence.final(known, mine, unsown, quantity, denominator, confidence, pooled=pooled, means=block_means)


def compare_1(visits, asked, at=np.nan, since=np.nan, denominator=None, confidence=0.95, *, pooled=False):
    """Version 1 of field.rows.compare, with its arguments and shapes. Changed since, and why: as in final_1.

    Source: as field.rows.compare.
    """
    ways = {"pooled": pooled, "means": block_means, "alone": True}
    return rows.compare(_known(visits), asked, at, since, denominator, confidence, **ways)


def _known(plots):
    """Plots as if their seeds had been counted."""
    return plots.drop(columns=["tested", "tested_error"], errors="ignore")
