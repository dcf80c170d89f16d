"""Several comparisons at once: Dunnett against one control, Tukey for all pairs, Holm for any list of p values.

Dunnett's distribution is integrated by quadrature, not by random lattice: comparisons with one control share it, so
given the control and the standard deviation they are independent, and two integrals are enough for any number of arms.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import optimize, special

from palea.errors import UnfitValue

NODES = 96  # Gauss-Legendre nodes a dimension: critical values agree to 1e-9 with twice as many
REACH = 8.5  # standard normal deviates; what lies beyond weighs less than 1e-16


@dataclass(frozen=True)
class Comparisons:
    """Differences with simultaneous intervals. Each array has one value a comparison; `pairs` names them by position.

    statistic : difference / its standard error.  p_value : adjusted.  critical : quantile behind the intervals.
    """

    pairs: tuple[tuple[int, int], ...]
    difference: np.ndarray
    statistic: np.ndarray
    p_value: np.ndarray
    lower: np.ndarray
    upper: np.ndarray
    critical: float


def holm(p_values):
    """Adjusted p values of a list of tests, in the order given; at most 1, never below the raw ones.

    Source: Holm 1979, Scand. J. Stat. 6:65.

    >>> holm([0.01, 0.04, 0.03]).round(4).tolist()
    [0.03, 0.06, 0.06]
    """
    p = np.asarray(p_values, float)
    order = np.argsort(p, kind="stable")
    adjusted = np.empty_like(p)
    adjusted[order] = np.minimum(np.maximum.accumulate(p[order] * np.arange(p.size, 0, -1)), 1)
    return adjusted


def holm_divisors(p_values, alpha=0.05):
    """By what alpha is divided for each test when they are stepped through from the smallest p up.

    An interval at 1 - alpha / divisor then excludes the null exactly where Holm rejects. After the first test that
    fails, the rest keep its divisor: they fail as well. Source: Holm 1979, Scand. J. Stat. 6:65.
    """
    p = np.asarray(p_values, float)
    order = np.argsort(p, kind="stable")
    steps = np.arange(p.size, 0, -1)
    failed = p[order] * steps > alpha
    if failed.any():
        steps[np.argmax(failed) :] = steps[np.argmax(failed)]
    divisors = np.empty(p.size, int)
    divisors[order] = steps
    return divisors


def loadings(variances, control_variance):
    """How strongly each comparison leans on the shared control: sqrt(v0 / (v0 + vi)).

    variances : (arms,) of the arm means, as 1 / n_i or s2 / n_i; control_variance : of the control's mean, likewise.
    """
    return np.sqrt(control_variance / (control_variance + np.atleast_1d(np.asarray(variances, float))))


@lru_cache(maxsize=8)
def _legendre():
    return np.polynomial.legendre.leggauss(NODES)


def _normal_grid():
    nodes, weights = _legendre()
    at = REACH * nodes
    weight = weights * REACH * np.exp(-(at**2) / 2) / np.sqrt(2 * np.pi)
    return at, weight / weight.sum()


@lru_cache(maxsize=64)
def _sd_grid(df):
    """Nodes and weights over the estimated standard deviation as a share of the true one."""
    if np.isinf(df):
        return np.ones(1), np.ones(1)
    ends = np.sqrt(2 * special.gammaincinv(df / 2, [1e-15, 1 - 1e-15]) / df)
    nodes, weights = _legendre()
    at = ends.mean() + np.diff(ends)[0] / 2 * nodes
    log_density = (df - 1) * np.log(at) - df * at**2 / 2
    weight = weights * np.exp(log_density - log_density.max())
    return at, weight / weight.sum()


def dunnett_probability(critical, loads, df, *, two_sided=True):
    """Probability that no comparison with the control exceeds `critical`, when none differs.

    loads : (arms,) from `loadings`, each in [0, 1).  df : degrees of freedom of the variance; inf: known.
    One-sided: that no statistic lies above `critical`. Raises UnfitValue for df <= 0.
    Source: Dunnett 1955, J. Am. Stat. Assoc. 50:1096; unequal numbers as in Dunnett 1964, Biometrics 20:482.
    """
    if not df > 0:
        msg = f"df is {df}; allowed is a number above 0. There must be more units than groups."
        raise UnfitValue(msg)
    control, control_weight = _normal_grid()
    sd, sd_weight = _sd_grid(float(df))
    inside = np.ones((sd.size, control.size))
    for load, arms in zip(*np.unique(loads, return_counts=True), strict=True):
        own = np.sqrt(1 - load**2)
        edge = critical * sd[:, None] / own
        shift = load * control[None, :] / own
        inside *= (special.ndtr(edge - shift) - (special.ndtr(-edge - shift) if two_sided else 0)) ** arms
    return float(sd_weight @ inside @ control_weight)


def dunnett_critical(loads, df, confidence=0.95, *, two_sided=True):
    """Quantile for simultaneous intervals against one control. Arguments as in `dunnett_probability`.

    >>> round(dunnett_critical(loadings([1, 1], 1), df=12), 3)  # Dunnett's table: 2.50
    2.502
    """
    return _critical(tuple(np.round(np.sort(np.atleast_1d(loads)), 12).tolist()), float(df), confidence, two_sided)


@lru_cache(maxsize=256)
def _critical(loads, df, confidence, two_sided):
    """Kept, because every member of a family asks for the same one."""

    def excess(c):
        return dunnett_probability(c, loads, df, two_sided=two_sided) - confidence

    high = 4.0
    while excess(high) < 0:
        high *= 2
    return optimize.brentq(excess, 0 if two_sided else -high, high, xtol=1e-10)


def dunnett_p(statistics, loads, df, *, two_sided=True):
    """Adjusted p of each comparison. statistics : (m,) t values; the family is `loads`, one an arm."""
    at = np.abs(statistics) if two_sided else np.asarray(statistics, float)
    return np.array([max(1 - dunnett_probability(c, loads, df, two_sided=two_sided), 0.0) for c in np.atleast_1d(at)])


def dunnett(means, numbers, variance, df, confidence=0.95, *, two_sided=True):
    """Every arm against the first one (the control), with simultaneous intervals -> Comparisons.

    means, numbers : (1 + arms,) mean and number of units of control and arms.  variance : pooled, of one unit.
    One-sided: alternative "arm above control"; upper ends are inf. Source: Dunnett 1955, J. Am. Stat. Assoc. 50:1096.
    """
    means, numbers = np.asarray(means, float), np.asarray(numbers, float)
    difference = means[1:] - means[0]
    error = np.sqrt(variance * (1 / numbers[1:] + 1 / numbers[0]))
    loads = loadings(1 / numbers[1:], 1 / numbers[0])
    critical = dunnett_critical(loads, df, confidence, two_sided=two_sided)
    statistic = difference / error
    upper = difference + critical * error if two_sided else np.full(difference.size, np.inf)
    p_value = dunnett_p(statistic, loads, df, two_sided=two_sided)
    pairs = tuple((i, 0) for i in range(1, means.size))
    return Comparisons(pairs, difference, statistic, p_value, difference - critical * error, upper, critical)


def tukey(means, numbers, variance, df, confidence=0.95):
    """All pairs, later minus earlier, with simultaneous intervals (Tukey and Kramer) -> Comparisons.

    Arguments as in `dunnett`. Source: Tukey 1953; Kramer 1956, Biometrics 12:307.
    """
    from scipy.stats import studentized_range

    means, numbers = np.asarray(means, float), np.asarray(numbers, float)
    first, second = np.triu_indices(means.size, 1)
    difference = means[second] - means[first]
    error = np.sqrt(variance * (1 / numbers[first] + 1 / numbers[second]))
    critical = studentized_range.ppf(confidence, means.size, df) / np.sqrt(2)
    statistic = difference / error
    p_value = studentized_range.sf(np.abs(statistic) * np.sqrt(2), means.size, df)
    pairs = tuple(zip(second.tolist(), first.tolist(), strict=True))
    lower, upper = difference - critical * error, difference + critical * error
    return Comparisons(pairs, difference, statistic, p_value, lower, upper, critical)
