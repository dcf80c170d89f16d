"""A time of each treatment from inspection intervals, judged between plots: half time of emergence, time lived."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pandas as pd

from palea.calc.field.answers import effects, groups
from palea.calc.field.lifetimes import behind_all, followed, pseudo_means, pseudo_values, rungs
from palea.calc.field.questions import RATIO, Place, Scale, read
from palea.calc.results import Effects, Refusal
from palea.calc.stats.plateau import fit

FEWEST_INTERVALS = 3


class Measure(NamedTuple):
    """A time.  quantity : its word.  value : of an arm and (r, n) counts, (r,), on the scale that is judged."""

    quantity: str
    value: Callable
    scale: Scale
    method: str
    missing: str


def _log_half_time(arm, counts):
    """(r,) logs of the half time; nan where emergence was seen in too few intervals."""
    seen = np.isfinite(arm.right)
    filled = int((arm.counts[:, seen].sum(axis=0) > 0).sum())
    if filled < FEWEST_INTERVALS:
        return np.full(len(counts), np.nan)
    found = fit(arm.left, arm.right, counts)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(found.settled, np.log(found.half_time), np.nan)


HALF_TIME = Measure(
    "emergence t50",
    _log_half_time,
    RATIO._replace(group_unit="d"),
    "Half time of a log-logistic curve with a share that never emerges, fitted to the intervals between visits by maximum "
    "likelihood. Unit of replication: the plot; its part by leaving it out (jackknife), on the log scale, one variance "
    "between plots of a species and site, t intervals; effects are ratios of a to b.",
    f"Seedlings were new in fewer than {FEWEST_INTERVALS} intervals, or emergence was too sudden for a curve.",
)
ASSUMPTIONS = (
    "Plots were laid out at random within their blocks.",
    "Logs of times vary alike between plots in all treatments of a species and site.",
    "Seedlings that came and died between two visits were not seen; they would have come like the others.",
)
NO_COUNTS = ("No plot has counts of newly emerged seedlings over time.",
             "Enter new seedlings at each visit, not only how many stand; write 0 where none was new.")


def judged(intervals, asked, measure, confidence):
    """Groups and effects of a measure -> Effects, or Refusal; see emergence.time."""
    frame = followed(intervals)
    if not np.isfinite(frame["right"]).any():
        return Refusal(quantity=measure.quantity, missing=NO_COUNTS[0], remedy=NO_COUNTS[1])
    found = places(frame, measure)
    units = [
        pseudo_values(part, measure.value) for _, part in frame.groupby(["taxon", "environment"], sort=False)
    ]
    units = pd.concat(units, ignore_index=True)
    return Effects(
        units=units.assign(value=measure.scale.group(units["value"].to_numpy(float)), quantity=measure.quantity, denominator=""),
        groups=groups(found, measure.scale, confidence), method=measure.method, assumptions=ASSUMPTIONS,
        effects=effects(found, read(asked, found, {measure.quantity}), measure.scale, confidence),
    )


def places(frame, measure):
    """{key: Place} of `followed` plots: plots within blocks, and main plots where there are such."""
    return {
        (*key, measure.quantity, ""): _place((*key, measure.quantity, ""), part.reset_index(drop=True), measure)
        for key, part in frame.groupby(["taxon", "environment"], sort=False)
    }


def _place(key, frame, measure):
    found, levels = rungs(frame, lambda part: pseudo_means(part, measure.value))
    had = {name for _, means in found if means is not None for name in means.names}
    behind = behind_all(frame)
    missing = {name: f"{name}: {measure.missing}" for name in behind if name not in had}
    return Place(key, found, behind, levels, missing)
