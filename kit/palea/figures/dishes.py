"""The dishes behind estimates: found for a whole figure at once, and laid beside each other in the rows of its panels.

The units of a result are read once, however many panels show some of them.
"""

import math
from collections import Counter, defaultdict
from typing import NamedTuple

import numpy as np
import pandas as pd

from palea.figures import theme

LANES = 0.62  # share of a row's height that the lanes of its batches take
TIE = 0.07  # of a row's height: how far dishes of the same value are moved apart
HALF_BAR = 0.13  # of a row's height: half of the bar of a batch mean
MEASURE = ("quantity", "denominator")
NEEDED = {"batch", "value", "unit"}


class Dish(NamedTuple):
    """One dish. place : its row among the units.  batch : the place of its batch among all, by name; -1 for none."""

    place: int
    value: float
    unit: str
    batch: int
    called: str | None


def key(group):
    """What an estimate is of and what was measured: by this its dishes are found."""
    return group.quantity, group.denominator, tuple(sorted((k, str(v)) for k, v in group.of.items()))


def of_groups(groups, units):
    """{key of a group: its dishes that have a value}. Units without the columns by which groups are told apart are of none.

    units : one row a dish: batch, value, unit, what groups are of; quantity and denominator where there are several.
    """
    alike = defaultdict(list)
    for group in groups:
        alike[tuple(sorted(group.of))].append(group)
    found = {}
    for names, mine in alike.items():
        if {*names, *NEEDED} <= set(units.columns):
            measure = [column for column in MEASURE if column in units]
            there = _by(units, measure, names)
            wanted = ((g, tuple(getattr(g, c) for c in measure) + tuple(str(g.of[n]) for n in names)) for g in mine)
            found |= {key(g): there.get(of, ()) for g, of in wanted}
    return found


def _by(units, measure, names):
    """{(measure, what it is of): dishes}."""
    found = defaultdict(list)
    value = units["value"].to_numpy(dtype=float, na_value=np.nan)
    batch, batches = pd.factorize(units["batch"], sort=True)
    called = [*map(str, batches), None]  # the last, at place -1, is of dishes without a batch
    of = [units[column].tolist() for column in measure] + [map(str, units[name].tolist()) for name in names]
    of = zip(*of, strict=True) if of else [()] * len(units)
    rows = zip(of, value.tolist(), map(str, units["unit"].tolist()), batch.tolist(), strict=True)
    for place, (mine, number, unit, of_batch) in enumerate(rows):
        if not math.isnan(number):
            found[mine].append(Dish(place, number, unit, of_batch, called[of_batch]))
    return found


def values_of(groups, found):
    """All values of the dishes of some groups, as they are drawn."""
    return theme.rounded([dish.value for mine in {key(g): found.get(key(g), ()) for g in groups}.values() for dish in mine])


def laid(groups, found):
    """Columns row, lane, value, unit, batch of the dishes of groups that lie in rows 0, 1, 2 ..., in the order of the units.

    Dishes of a batch lie in one lane, ties side by side. found : from `of_groups`.
    """
    rows = {key(group): row for row, group in enumerate(groups)}
    shown = sorted((dish.place, row, lane, dish) for of, row in rows.items() for dish, lane in _in_lanes(found.get(of, ())))
    return {
        "row": [float(row) for _, row, _, _ in shown],
        "lane": theme.rounded([row + lane for _, row, lane, _ in shown], 3),
        "value": theme.rounded([dish.value for *_, dish in shown]),
        "unit": [dish.unit for *_, dish in shown],
        "batch": [dish.called for *_, dish in shown],
    }


def _in_lanes(mine):
    """(dish, how far from the middle of its row) of the dishes of one group."""
    lane_of = {batch: lane for lane, batch in enumerate(sorted({dish.batch for dish in mine}))}
    many, tied, seen = len(lane_of), Counter((dish.batch, dish.value) for dish in mine), Counter()
    for dish in mine:
        at = dish.batch, dish.value
        lane = (lane_of[dish.batch] - (many - 1) / 2) / many * LANES
        yield dish, lane + (seen[at] - (tied[at] - 1) / 2) * TIE
        seen[at] += 1


def batch_means(shown):
    """Columns row, batch, value, lane, top, foot of the mean of each batch, from what `laid` gave."""
    batches = defaultdict(list)
    for row, batch, value, lane in zip(*(shown[name] for name in ("row", "batch", "value", "lane")), strict=True):
        batches[row, batch or ""].append((value, lane))
    of = sorted(batches)
    value, lane = (theme.rounded([_mean(batches[at], place) for at in of]) for place in (0, 1))
    return {
        "row": [row for row, _ in of], "batch": [batch for _, batch in of], "value": value, "lane": lane,
        "top": [at - HALF_BAR for at in lane], "foot": [at + HALF_BAR for at in lane],
    }


def _mean(pairs, place):
    """Mean of one of each pair, of the exact sum: values of so many decimals often lie at a half."""
    return math.fsum(pair[place] for pair in pairs) / len(pairs)
