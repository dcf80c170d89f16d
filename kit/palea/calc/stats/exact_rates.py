"""Counts of rare events over a length or a time: exact Poisson intervals of a rate and of a ratio of two rates."""

import numpy as np
from scipy import special

from palea.calc.stats.proportions import clopper_pearson
from palea.errors import UnfitValue


def rate_interval(events, exposure, confidence=0.95):
    """Exact two-sided interval of events per unit of exposure: lower and upper, shapes as both broadcast.

    events : whole numbers >= 0.  exposure : length or time looked at, > 0.
    No event still allows a rate: the lower end is exactly 0, the upper is -log((1 - confidence) / 2) / exposure.
    Raises UnfitValue for events below 0 or not whole, or an exposure that is not above 0.
    Source: Garwood 1936, Biometrika 28:437-442.

    >>> [float((100 * end).round(1)) for end in rate_interval(0, 30)]  # stops per 100 m after 30 m without one
    [0.0, 12.3]
    """
    events, exposure = _checked(events, exposure)
    tail = (1 - confidence) / 2
    lower = np.where(events == 0, 0.0, special.gammaincinv(np.maximum(events, 1), tail))
    return lower / exposure, special.gammaincinv(events + 1, 1 - tail) / exposure


def rate_ratio(events_a, exposure_a, events_b, exposure_b, confidence=0.95):
    """Ratio of rate a to rate b with its exact interval: (ratio, lower, upper) of scalars.

    Given all events together, those of a are binomial, so the interval of their share is turned into one of the ratio.
    Without an event on either side all three are nan; with none in b the ratio and the upper end are inf.
    Raises UnfitValue as `rate_interval`.
    Source: Przyborowski & Wilenski 1940, Biometrika 31:313-323 (conditional test); Clopper & Pearson 1934.
    """
    (events_a, exposure_a), (events_b, exposure_b) = _checked(events_a, exposure_a), _checked(events_b, exposure_b)
    if events_a + events_b == 0:
        return np.nan, np.nan, np.nan
    share = events_a / (events_a + events_b)
    ends = (share, *clopper_pearson(events_a, events_a + events_b, confidence))
    with np.errstate(divide="ignore"):
        return tuple(float(np.float64(end) / (1 - end) * exposure_b / exposure_a) for end in ends)


def _checked(events, exposure):
    events, exposure = np.broadcast_arrays(np.asarray(events, float), np.asarray(exposure, float))
    wrong = ~((events >= 0) & (events == np.floor(events)))
    if wrong.any():
        msg = f"events is {events[wrong][0]:g}; allowed are whole numbers, 0 or above. Count each stop once."
        raise UnfitValue(msg)
    if not (exposure > 0).all():
        msg = f"exposure is {exposure.min():g}; allowed is a length or time above 0. Enter how far the seeder ran."
        raise UnfitValue(msg)
    return events, exposure
