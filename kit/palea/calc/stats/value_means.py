"""Treatment means of one measured value a unit (a batch, say), and differences between them, on a scale without ends.

The same questions can be put to them as to shares (palea.calc.stats.share_means): an interval is a function of its
quantile, so that t, Dunnett and two one-sided tests share the code. A ratio is a difference of logs.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import optimize

from palea.calc.stats import comparisons

POOLED, BY_PRECISION = "pooled variance", "variance by precision"
UNEVEN = 2.0  # ratio of the largest to the smallest sampling variance among the treatments
_NONE = 1e-24  # a pooled variance below it is rounding: the units agree


@dataclass(frozen=True)
class ValueMeans:
    """Means of the treatments `names`, each the plain mean of its units.

    values : (t,).  variances : (t,) of the means.  df : of the variance between units, all treatments together.
    model : POOLED or BY_PRECISION.
    """

    names: tuple[str, ...]
    values: np.ndarray
    variances: np.ndarray = field(repr=False)
    df: float
    model: str

    def interval(self, name, critical):
        """(mean, lower, upper) of one treatment."""
        at = self.names.index(name)
        return _around(self.values[at], critical * np.sqrt(self.variances[at]))

    told = interval  # what is said of one treatment by itself; shares in blocks tell the two apart

    def difference(self, a, b, critical):
        """(difference, lower, upper) of a minus b."""
        first, second = self.names.index(a), self.names.index(b)
        return _around(self.values[first] - self.values[second], critical * self._error(first, second))

    def statistic(self, a, b, shift=0.0):
        """The t statistic of a minus b against `shift`."""
        first, second = self.names.index(a), self.names.index(b)
        return (self.values[first] - self.values[second] - shift) / self._error(first, second)

    def loadings(self, treatments, control):
        """For Dunnett: how strongly each comparison with `control` leans on it."""
        at = [self.names.index(name) for name in treatments]
        return comparisons.loadings(self.variances[at], self.variances[self.names.index(control)])

    def _error(self, first, second):
        return np.sqrt(self.variances[first] + self.variances[second])


def _around(value, half):
    return float(value), float(value - half), float(value + half)


def of_values(treatment, value, sampling=None):
    """Means of units -> ValueMeans, or None where no degrees of freedom are left or all units of a treatment agree.

    treatment : (units,) labels.  value : (units,).  sampling : (units,) squared standard errors, if known.
    One variance pooled over the treatments. Where the mean sampling variance of one treatment is more than UNEVEN times
    that of another they cannot be alike: then a unit of treatment i varies by s (T + v_i), v_i its mean sampling
    variance, T >= 0 and common, so that sum (y - mean)^2 / (s (T + v_i)) equals the degrees of freedom; s is 1 unless T
    is 0. With equal v_i that is the pooled variance again. No treatment counts as known exactly.
    Source: Snedecor & Cochran 1989, Statistical Methods, ch. 12 (one variance); Paule & Mandel 1982, J. Res. Natl. Bur.
    Stand. 87:377 (T).
    """
    names, at, units = np.unique(np.asarray(treatment, str), return_inverse=True, return_counts=True)
    value = np.asarray(value, float)
    df = value.size - names.size
    if df < 1:
        return None
    means = np.bincount(at, value) / units
    squares = np.bincount(at, (value - means[at]) ** 2)
    if squares.sum() / df < _NONE:
        return None
    own = np.ones(names.size) if sampling is None else np.bincount(at, np.asarray(sampling, float)) / units
    if not own.max() > UNEVEN * own.min():
        return ValueMeans(tuple(names), means, squares.sum() / df / units, float(df), POOLED)
    return ValueMeans(tuple(names), means, _by_precision(squares, own, df) / units, float(df), BY_PRECISION)


def _by_precision(squares, own, df):
    """(t,) variances of a unit: s (T + own)."""

    def excess(between):
        return np.sum(squares / (between + own)) - df

    if excess(0.0) <= 0:
        return own * np.sum(squares / own) / df
    return own + optimize.brentq(excess, 0.0, squares.sum() / df, xtol=1e-15)
