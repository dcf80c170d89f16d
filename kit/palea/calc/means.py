"""A few independent numbers as a mean with its interval, and intervals carried through products and quotients."""

from typing import NamedTuple

import numpy as np

from palea.calc.stats.proportions import t_quantile


class Interval(NamedTuple):
    """A number with its interval; df of its spread (nan: not from a spread)."""

    value: float
    lower: float = np.nan
    upper: float = np.nan
    df: float = np.nan

    def times(self, factor):
        """Scaled by an exact number; ends stay in order."""
        low, high = sorted((self.lower * factor, self.upper * factor)) if factor < 0 else (
            self.lower * factor, self.upper * factor)
        return Interval(self.value * factor, low, high, self.df)

    def inverse(self):
        """One over it, for a positive number."""
        with np.errstate(divide="ignore"):
            value, low, high = (float(1 / np.float64(x)) for x in (self.value, self.upper, self.lower))
        return Interval(value, low, high, self.df)


def mean_interval(values, confidence=0.95, *, lowest=-np.inf, highest=np.inf):
    """Mean of independent numbers with its t interval on n - 1 degrees of freedom -> Interval.

    values : (n,); nan are left out. One number: no interval. None: nan.  lowest, highest : ends that cannot be passed.
    Source: Student 1908; common practice.

    >>> [round(x, 2) for x in mean_interval([1.0, 2.0, 3.0])]
    [2.0, -0.48, 4.48, 2.0]
    """
    values = np.asarray(values, float)
    values = values[~np.isnan(values)]
    if values.size < 2:
        return Interval(float(values[0]) if values.size else np.nan)
    mean, half = values.mean(), t_quantile(confidence, values.size - 1) * values.std(ddof=1) / np.sqrt(values.size)
    return Interval(float(mean), float(max(mean - half, lowest)), float(min(mean + half, highest)), values.size - 1.0)


def geometric_interval(values, confidence=0.95):
    """As `mean_interval` on the log scale: geometric mean with an interval in ratio. All values must be above 0."""
    value, lower, upper, df = mean_interval(np.log(np.asarray(values, float)), confidence)
    return Interval(float(np.exp(value)), float(np.exp(lower)), float(np.exp(upper)), df)


def product(*factors):
    """Product of independent positive numbers, each with its interval -> Interval.

    factors : Intervals. One without an interval counts as exact, and the answer is then too narrow by its share: say
    so. Each end lies, on the log scale, as far from the product as the root of the summed squares of the factors'
    distances, so intervals need not be symmetric and never pass 0. A factor of 0 gives 0 up to the product of the
    upper ends. df is nan.
    Source: Zou & Donner 2008, Stat. Med. 27:1693 (variance recovered from intervals), on the log scale.

    >>> [round(x, 4) for x in product(Interval(0.8, 0.7, 0.9), Interval(0.5, 0.4, 0.6))[:3]]
    [0.4, 0.3084, 0.497]
    """
    value = float(np.prod([f.value for f in factors]))
    known = [f for f in factors if not np.isnan(f.lower)]
    if not known or np.isnan(value):
        return Interval(value)
    exact = np.prod([f.value for f in factors if np.isnan(f.lower)])
    if value == 0:
        return Interval(0.0, 0.0, float(exact * np.prod([f.upper for f in known])))
    with np.errstate(divide="ignore"):
        down = np.sqrt(np.sum([np.log(f.value / np.float64(f.lower)) ** 2 for f in known]))
        up = np.sqrt(np.sum([np.log(f.upper / np.float64(f.value)) ** 2 for f in known]))
    return Interval(value, float(value * np.exp(-down)), float(value * np.exp(up)))
