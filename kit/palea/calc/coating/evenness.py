"""How evenly a coat lies: spread of the mass of single units within a batch, and of batches among themselves."""

from dataclasses import dataclass

import numpy as np
from scipy import special

from palea.calc.checked import above_zero
from palea.calc.means import Interval
from palea.errors import UnfitValue


def variation(values, confidence=0.95):
    """Coefficient of variation of independent values with its interval, as shares -> Interval.

    values : (n,) > 0, n >= 2; nan are left out; fewer: nan. Interval as `variation_interval`.

    >>> [round(x, 4) for x in variation([9.0, 10.0, 11.0, 10.0])[:3]]
    [0.0816, 0.0462, 0.3109]
    """
    values = above_zero(values, "values")
    values = values[~np.isnan(values)]
    if values.size < 2:
        return Interval(np.nan)
    return variation_interval(float(values.std(ddof=1) / values.mean()), values.size, confidence)


def variation_interval(k, n, confidence=0.95):
    """Interval of a coefficient of variation k of n values -> Interval, as shares.

    Ends k / sqrt(((u + 2) / n - 1) k^2 + u / (n - 1)) with u the upper and lower chi-square quantile on n - 1 degrees
    of freedom. The upper end is inf where k is so large that the data set none. Close to exact up to k = 1/3, for
    values near normal. For k pooled within batches, n is the degrees of freedom + 1.
    Source: Vangel 1996, Am. Stat. 50:21 (modified McKay; from memory).
    """
    tail = (1 - confidence) / 2
    ends = []
    for u in (special.chdtri(n - 1, tail), special.chdtri(n - 1, 1 - tail)):
        below = ((u + 2) / n - 1) * k**2 + u / (n - 1)
        ends.append(float(k / np.sqrt(below)) if below > 0 else np.inf)
    return Interval(k, *ends, n - 1.0)


@dataclass(frozen=True)
class Components:
    """Variance between batches and within, of values nested in batches.

    between, within : variances; `between` is cut at 0.  lower, upper : interval of `between`.  mean : of batch means.
    df_between, df_within : degrees of freedom.  usual : units a batch, allowing for unequal numbers.
    """

    between: float
    within: float
    lower: float
    upper: float
    mean: float
    df_between: float
    df_within: float
    usual: float

    @property
    def share_between(self):
        """Of the variance of a single unit, the share that lies between batches."""
        both = self.between + self.within
        return self.between / both if both > 0 else np.nan


def components(batch, value, confidence=0.95):
    """Components of variance of units in batches by analysis of variance -> Components.

    batch : (n,) labels.  value : (n,); nan are left out. (MSB - MSW) / n0 between, MSW within. Interval of the former
    by modified large samples: exactly at 0 where F = MSB / MSW is at its quantile, so it agrees with the F test.
    Raises UnfitValue for fewer than 3 batches or no batch with two units.
    Source: Snedecor & Cochran 1989, ch. 13 (components); Burdick & Graybill 1992, Confidence intervals on variance
    components (interval; from memory).
    """
    value = np.asarray(value, float)
    kept = ~np.isnan(value)
    names, at = np.unique(np.asarray(batch, str)[kept], return_inverse=True)
    value = value[kept]
    n = np.bincount(at) if names.size else np.zeros(0)
    df_between, df_within = names.size - 1, value.size - names.size
    if df_between < 2 or df_within < 1:
        msg = (f"{names.size} batches with {value.size} units do not show how batches vary; "
               "3 batches or more with several units each are needed.")
        raise UnfitValue(msg)
    means = np.bincount(at, value) / n
    msb = np.sum(n * (means - value.mean()) ** 2) / df_between
    msw = np.sum((value - means[at]) ** 2) / df_within
    usual = (n.sum() - np.sum(n**2) / n.sum()) / df_between
    lower, upper = _ends(msb, msw, df_between, df_within, (1 - confidence) / 2)
    return Components(
        max(float(msb - msw), 0.0) / usual, float(msw), max(lower, 0.0) / usual, max(upper, 0.0) / usual,
        float(means.mean()), float(df_between), float(df_within), float(usual),
    )  # fmt: skip


def _ends(msb, msw, df1, df2, tail):
    """Interval of E(MSB) - E(MSW)."""
    def f(above, a, b):
        return special.fdtri(a, b, 1 - above) if np.isfinite(b) else special.chdtri(a, above) / a

    high, low = f(tail, df1, df2), f(1 - tail, df1, df2)
    g1, g2 = 1 - 1 / f(tail, df1, np.inf), 1 - 1 / f(tail, df2, np.inf)
    h1, h2 = 1 / f(1 - tail, df1, np.inf) - 1, 1 / f(1 - tail, df2, np.inf) - 1
    g12 = ((high - 1) ** 2 - g1**2 * high**2 - h2**2) / high
    h12 = ((1 - low) ** 2 - h1**2 * low**2 - g2**2) / low
    down = g1**2 * msb**2 + h2**2 * msw**2 + g12 * msb * msw
    up = h1**2 * msb**2 + g2**2 * msw**2 + h12 * msb * msw
    apart = msb - msw
    return float(apart - np.sqrt(max(down, 0))), float(apart + np.sqrt(max(up, 0)))
