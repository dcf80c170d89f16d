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
    tell = _from_end_to_end if result.along else _over_days
    told = zip(ends, result.curves, strict=True)
    return [(end.of.get("taxon", ""), tell(end, curve, names, several, result)) for end, curve in told]


def ends_of(result):
    """An estimate a curve at its last time: that of the result where it holds one of the same group, else read off."""
    held = {tuple(sorted(e.of.items())): e for e in result.estimates}
    return tuple(held.get(tuple(sorted(c.of.items()))) or _last(c, result) for c in result.curves)


def half_way(curve):
    """The first time at which a curve stands at half of its end or above; nan where it ends at zero or falls."""
    if not curve.value[-1] > 0 or curve.value[0] > curve.value[-1]:
        return float("nan")
    return float(curve.time[np.argmax(curve.value >= curve.value[-1] / 2)])


def axis(result):
    """What the curves of a result run over, as an axis names it: "days", "Sown area, ha"."""
    if not result.along:
        return "days"
    return ", ".join(part for part in (result.along, numbers.unit_word(result.along_unit)) if part)


def _from_end_to_end(end, curve, names, several, result):
    """What it is where the curve begins and where it ends: "cost of an established plant 0.21 EUR at 0.5 ha, ..."."""
    at = [numbers.with_unit(numbers.short(round(time, 3)), result.along_unit) for time in (curve.time[0], curve.time[-1])]
    values_there = [values.amount(end, float(number)) for number in (curve.value[0], curve.value[-1])]
    span = ""
    if numbers.known(end.lower):
        bounds = numbers.interval(end.lower, end.upper, values.decimals(end))
        span = f" ({numbers.percent_of(end.confidence)} interval {bounds})"
    ends = [f"{value} at {place}" for value, place in zip(values_there, at, strict=True)]
    over = f"{prose.inside(result.along)}: {ends[0]}, {ends[1]}{span}"
    return prose.together(f"{_who(end, names, several)} over {over}")


def _who(end, names, several):
    """Of whom and of what: "Brushed (T03), germinated"."""
    return ", ".join(part for part in (values.subject(end, names, several), naming.title(end.quantity)) if part)


def _over_days(end, curve, names, several, _result):
    """How many by the last time, and by when half of them."""
    half = half_way(curve)
    halfway = f", half of them by day {numbers.short(half)}" if numbers.known(half) else ""
    share = f"{values.amount(end, end.value)} {naming.of_what(end.denominator)}".strip()
    who = _who(end, names, several)
    told = f"{who}: {share}{values.by_day(end)}{halfway}{values.brackets(end)}"
    return prose.together(told, values.one_batch([end]), values.other_reason(end))


def _last(curve, result):
    return Estimate(
        result.quantity, curve.of, *(float(line[-1]) for line in (curve.value, curve.lower, curve.upper)),
        unit=result.unit, denominator=result.denominator, time=float(curve.time[-1]),
        n_batches=curve.n_batches, n_units=curve.n_units, n_seeds=curve.n_seeds,
    )
