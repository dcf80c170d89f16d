"""Difference of two proportions judged by the score at the restricted estimate: exact at its null, whatever the margin.

The two proportions are estimated under the constraint that they differ by exactly delta; the difference is then compared
with its standard error there. With delta = 0 this is the pooled z test.
"""

import numpy as np
from scipy import optimize, special

from palea.calc.stats.proportions import checked_counts, normal_quantile

NEAREST = 1e-12  # to the ends of what a difference can be


def restricted(k1, n1, k2, n2, delta):
    """Maximum-likelihood proportions (p1, p2) under p1 - p2 = delta.

    k1, k2 : seeds that did, of n1, n2.  delta : between -1 and 1.  Found by root finding on the score, which falls from
    +infinity to -infinity over what p2 may be, so that there is exactly one root.
    Source: Farrington & Manning 1990, Statist. Med. 9:1447 (the constraint); own root finding.
    """
    low, high = max(0.0, -delta), min(1.0, 1.0 - delta)

    def score(p2):
        p1 = p2 + delta
        return _slope(k1, n1, p1) + _slope(k2, n2, p2)

    edge = NEAREST * (high - low)
    ends = low + edge, high - edge
    if score(ends[0]) <= 0:
        return ends[0] + delta, ends[0]
    if score(ends[1]) >= 0:
        return ends[1] + delta, ends[1]
    p2 = optimize.brentq(score, *ends, xtol=1e-14)
    return p2 + delta, p2


def _slope(k, n, p):
    with np.errstate(divide="ignore"):
        return np.divide(k, p) - np.divide(n - k, 1 - p)


def score_z(k1, n1, k2, n2, delta=0.0, *, bias_corrected=False):
    """Test statistic z of p1 - p2 against delta: (k1/n1 - k2/n2 - delta) / standard error at the restricted estimate.

    To judge "no worse by more than m" take delta = -m and look at the upper tail.  bias_corrected : the variance times
    N / (N - 1), as Miettinen & Nurminen have it; without it the test is Farrington & Manning's, its interval Mee's.
    Raises UnfitValue for counts that cannot be.
    Source: Farrington & Manning 1990, Statist. Med. 9:1447; Miettinen & Nurminen 1985, Statist. Med. 4:213.

    >>> round(score_z(83, 100, 88, 100, -0.10), 6)
    0.994765
    """
    (first, second), (m, n) = checked_counts([k1, k2], [n1, n2])
    p1, p2 = restricted(first, m, second, n, delta)
    variance = p1 * (1 - p1) / m + p2 * (1 - p2) / n
    if bias_corrected:
        variance *= (m + n) / (m + n - 1)
    return float((first / m - second / n - delta) / np.sqrt(variance))


def upper_tail(z):
    """One-sided p of a z that should be large."""
    return float(special.ndtr(-z))


def score_interval(k1, n1, k2, n2, confidence=0.95, *, bias_corrected=False):
    """(lower, upper) of p1 - p2: the differences that the score test does not refuse.

    Source: Mee 1984, Biometrics 40:1175; Miettinen & Nurminen 1985 with `bias_corrected`; Newcombe 1998 compares them.
    """
    critical = normal_quantile(confidence)

    def beyond(delta, limit):
        return score_z(k1, n1, k2, n2, delta, bias_corrected=bias_corrected) - limit

    found = k1 / n1 - k2 / n2
    lower = optimize.brentq(beyond, -1 + 1e-9, found, args=(critical,)) if found > -1 + 1e-9 else -1.0
    upper = optimize.brentq(beyond, found, 1 - 1e-9, args=(-critical,)) if found < 1 - 1e-9 else 1.0
    return lower, upper
