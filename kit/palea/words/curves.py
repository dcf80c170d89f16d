"""Sentences for Curves: where each group stands when the last count was made."""

import numpy as np

from palea.calc.results import Estimate
from palea.words import naming, numbers, prose, values


def say(result, names):
    """A sentence a curve."""
    return [sentence for _, sentence in lines(result, names)]


def lines(result, names):
    """(taxon, sentence) of each curve, in the order of the result."""
    ends = ends_of(result)
    several = values.several_environments(ends)
    told = zip(ends, result.curves, strict=True)
    return [(end.of.get("taxon", ""), _sentence(end, curve, names, several)) for end, curve in told]


def ends_of(result):
    """An estimate a curve at its last time: that of the result where it holds one of the same group, else read off."""
    held = {tuple(sorted(e.of.items())): e for e in result.estimates}
    return tuple(held.get(tuple(sorted(c.of.items()))) or _last(c, result) for c in result.curves)


def half_way(curve):
    """The first time at which a curve stands at half of its end or above; nan where it ends at zero."""
    if not curve.value[-1] > 0:
        return float("nan")
    return float(curve.time[np.argmax(curve.value >= curve.value[-1] / 2)])


def _sentence(end, curve, names, several):
    """How many by the last time, and by when half of them."""
    half = half_way(curve)
    halfway = f", half of them by day {numbers.short(half)}" if numbers.known(half) else ""
    share = f"{values.amount(end, end.value)} {naming.of_what(end.denominator)}".strip()
    who = f"{values.subject(end, names, several)}, {naming.title(end.quantity)}"
    told = f"{who}: {share}{values.by_day(end)}{halfway}{values.brackets(end)}"
    return prose.together(told, values.one_batch([end]), values.other_reason(end))


def _last(curve, result):
    return Estimate(
        result.quantity, curve.of, *(float(line[-1]) for line in (curve.value, curve.lower, curve.upper)),
        unit=result.unit, denominator=result.denominator, time=float(curve.time[-1]),
        n_batches=curve.n_batches, n_units=curve.n_units, n_seeds=curve.n_seeds,
    )
