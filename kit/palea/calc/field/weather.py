"""Warmth and rain that plots have had by each day, from daily summaries of a logger."""

import numpy as np

from palea.calc.results import Curve, Curves, Estimate, Refusal
from palea.errors import UnfitValue

WARMTH, RAIN = "degree-days", "rain to date"
GAPS = "{place}: {missing} of {days} days have no {what} up to day {last:g}; the sum leaves them out and is at least this."
NO_DAYS = ("No day has {what}.", "Read in a logger file, or enter daily values.")


def degree_days(lowest, highest, base, most=np.inf):
    """Warmth of a day above `base` [degree-days]: (min + max) / 2 - base, not below 0.

    lowest, highest : of a day [Cel], shapes broadcast; nan gives nan.  base : below it nothing grows.  most : a daily mean
    above it counts as it. This simple method makes days that cross the base too cold.
    Raises UnfitValue where a minimum lies above its maximum, or `most` below `base`.
    Source: simple average method as extension services publish it (common practice).

    >>> degree_days([5, 2], [17, 8], base=5).tolist()
    [6.0, 0.0]
    """
    lowest, highest = np.broadcast_arrays(np.asarray(lowest, float), np.asarray(highest, float))
    wrong = np.flatnonzero((lowest > highest).ravel())
    if wrong.size:
        at = wrong[0]
        msg = f"Day {at + 1}: the minimum {lowest.ravel()[at]:g} lies above the maximum {highest.ravel()[at]:g}. Swapped?"
        raise UnfitValue(msg)
    if not most > base:
        msg = f"most is {most:g} and base {base:g}; the upper limit lies above the base."
        raise UnfitValue(msg)
    return np.maximum(np.minimum((lowest + highest) / 2, most) - base, 0.0)


def to_date(day, amount):
    """(days, sums, missing) up to each whole day from 0 to the last: what is known to have come, and days not known.

    day : (n,) whole days since sowing; several values a day are added up, days below 0 left out.  amount : (n,), nan: not
    known. A day that is absent counts as missing: a sum over gaps is a lower bound.
    Raises UnfitValue for a negative amount, or where no day is at 0 or later.

    >>> [x.tolist() for x in to_date([0, 1, 3], [2.0, 0.5, 1.0])]
    [[0, 1, 2, 3], [2.0, 2.5, 2.5, 3.5], [0, 0, 1, 1]]
    """
    day, amount = np.asarray(day, float), np.asarray(amount, float)
    if (amount < 0).any():
        msg = f"An amount is {np.nanmin(amount):g}; rain and warmth are 0 or above."
        raise UnfitValue(msg)
    kept = day >= 0
    if not kept.any():
        msg = "No day lies at or after the start. Count days from sowing."
        raise UnfitValue(msg)
    whole = np.floor(day[kept]).astype(int)
    known = ~np.isnan(amount[kept])
    size = whole.max() + 1
    sums = np.bincount(whole[known], amount[kept][known], minlength=size)
    seen = np.bincount(whole[known], minlength=size) > 0
    return np.arange(size), np.cumsum(sums), np.cumsum(~seen)


def warmth(daily, base=5.0, most=np.inf):
    """Degree-days since sowing at each environment -> Curves, or Refusal where no day has temperatures.

    daily : one row an environment and day: environment, day (since sowing), t_min, t_max [Cel].  base, most : as in
    `degree_days`.
    """
    return _curves(
        daily, lambda part: degree_days(part["t_min"].to_numpy(float, na_value=np.nan),
                                        part["t_max"].to_numpy(float, na_value=np.nan), base, most),
        WARMTH, "K.d", "temperature", f"(daily minimum + maximum) / 2 above {base:g} degrees, added up from sowing.",
    )


def rain(daily):
    """Rain since sowing at each environment [mm] -> Curves, or Refusal where no day has any.

    daily : one row an environment and day: environment, day (since sowing), rain [mm]; 0: none fell, missing: not known.
    """
    return _curves(
        daily, lambda part: part["rain"].to_numpy(float, na_value=np.nan), RAIN, "mm", "rain", "Daily rain, added up from "
        "sowing.",
    )


def _curves(daily, amount, quantity, unit, what, method):
    lines, estimates, warnings = [], [], []
    for place, part in daily.groupby("environment", sort=False):
        values = amount(part)
        if np.isnan(values).all():
            continue
        day, total, missing = to_date(part["day"].to_numpy(float, na_value=np.nan), values)
        of = {"environment": str(place)}
        nothing = np.full(day.size, np.nan)
        lines.append(Curve(of, day.astype(float), total, nothing, nothing, shape="line", n_units=1))
        estimates.append(Estimate(quantity, of, float(total[-1]), unit=unit, time=float(day[-1]), n_units=1))
        if missing[-1]:
            warnings.append(GAPS.format(place=place, missing=missing[-1], days=day.size, what=what, last=day[-1]))
    if not lines:
        return Refusal(quantity=quantity, missing=NO_DAYS[0].format(what=what), remedy=NO_DAYS[1])
    return Curves(quantity=quantity, unit=unit, curves=tuple(lines), estimates=tuple(estimates), warnings=tuple(warnings),
                  method=method)
