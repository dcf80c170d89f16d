"""Treatment means of one value a plot, blocks allowed for, with their covariance; and means from fitted models.

The same questions can be put to them as to palea.calc.stats.value_means and share_means: an interval is a function of
its quantile, so that t, Dunnett and two one-sided tests share the code. A ratio is a difference of logs.
"""

from dataclasses import dataclass, field

import numpy as np

from palea.calc.stats import comparisons, nested_linear
from palea.errors import UnfitValue

_NONE = 1e-24  # a variance below it is rounding: the plots agree


@dataclass(frozen=True)
class LinearMeans:
    """Means of the treatments `names`.

    values : (t,).  covariance : (t, t).  df : of the variance between plots.  model : in a word or two.
    variance : of a plot within its block; nan where the model has several.
    """

    names: tuple[str, ...]
    values: np.ndarray
    covariance: np.ndarray = field(repr=False)
    df: float
    model: str = ""
    variance: float = np.nan
    blocked: bool = False
    warnings: tuple[str, ...] = ()

    def interval(self, name, critical):
        """(mean, lower, upper) of one treatment."""
        at = self.names.index(name)
        return _around(self.values[at], critical * np.sqrt(self.covariance[at, at]))

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
        """For Dunnett: how strongly each comparison with `control` leans on it (blocks cancel)."""
        shared = self._shared()
        own = [self._variance(name) - shared for name in treatments]
        return comparisons.loadings(own, self._variance(control) - shared)

    def _variance(self, name):
        at = self.names.index(name)
        return self.covariance[at, at]

    def _shared(self):
        """What all means have in common, as when blocks are random: it goes out of every difference."""
        apart = self.covariance[~np.eye(len(self.names), dtype=bool)]
        return max(min(apart.min(), np.diag(self.covariance).min() * (1 - 1e-9)), 0.0) if apart.size else 0.0

    def _error(self, first, second):
        v = self.covariance
        return np.sqrt(max(v[first, first] + v[second, second] - 2 * v[first, second], 0.0))


def _around(value, half):
    return float(value), float(value - half), float(value + half)


def of_plots(treatment, value, blocks=()):
    """Means of one value a plot, by least squares -> LinearMeans, or None where no degrees of freedom are left.

    treatment : (plots,) labels.  value : (plots,).  blocks : label arrays (plots,), such as rows and columns of a Latin
    square; each is allowed for as additive, unless it cannot be told from the treatments.
    Means are those over all blocks alike; one variance of a plot, pooled.
    Source: Cochran & Cox 1957, Experimental Designs, ch. 4.

    >>> of_plots(["a", "b", "a", "b"], [1, 2, 3, 5], [["i", "i", "ii", "ii"]]).values.tolist()
    [2.0, 3.5]
    """
    names, at = np.unique(np.asarray(treatment, str), return_inverse=True)
    value = np.asarray(value, float)
    design, used = np.eye(names.size)[at], False
    for block in blocks:
        labels, where = np.unique(np.asarray(block, str), return_inverse=True)
        columns = np.eye(labels.size)[where]
        wider = np.hstack([design, (columns - columns.mean(axis=0))[:, 1:]])  # centred: coefficients stay means
        if np.linalg.matrix_rank(wider) == wider.shape[1] < value.size:
            design, used = wider, True
    df = value.size - design.shape[1]
    if df < 1:
        return None
    inverse = np.linalg.inv(design.T @ design)
    coefficients = inverse @ (design.T @ value)
    variance = float(np.sum((value - design @ coefficients) ** 2)) / df
    if variance < _NONE:
        return None
    inner = slice(names.size)
    return LinearMeans(
        tuple(map(str, names)), coefficients[inner], variance * inverse[inner, inner], float(df), "plot values", variance,
        used,
    )  # fmt: skip


def of_plants(treatment, value, plot, block=None, plants=None):
    """Means of plants' values, plants within plots within random blocks, by REML -> LinearMeans, or None.

    treatment, value, plot, block, plants : (n,); see nested_linear.fit. None where plots cannot show how they vary.
    t on the degrees of freedom between plots (containment), which a treatment given to plots has.
    Source: nested_linear.fit; degrees of freedom: Pinheiro & Bates 2000, Mixed-Effects Models, ch. 2.4.
    """
    names, at = np.unique(np.asarray(treatment, str), return_inverse=True)
    try:
        fitted = nested_linear.fit(np.eye(names.size)[at], value, plot, block, plants)
    except UnfitValue:
        return None
    labels = tuple(map(str, names))
    return LinearMeans(
        labels, fitted.coefficients, fitted.covariance, float(fitted.df), "plants in plots", blocked=block is not None
    )


def of_contrasts(names, coefficients, covariance, df, model):
    """Means from coefficients against the first of `names`, which is 0 itself -> LinearMeans.

    coefficients : (t - 1,), covariance : (t - 1, t - 1), such as log hazard ratios. Only differences mean something.
    """
    size = len(names)
    wide = np.zeros((size, size))
    wide[1:, 1:] = covariance
    return LinearMeans(tuple(names), np.concatenate([[0.0], coefficients]), wide, float(df), model)


def f_of_treatments(means):
    """(F, df, df residual) that treatments do not differ at all, from their means and covariance.

    Source: Cochran & Cox 1957, Experimental Designs, ch. 4.
    """
    steps = np.hstack([np.eye(len(means.names) - 1), -np.ones((len(means.names) - 1, 1))])
    gap = steps @ means.values
    between = steps @ means.covariance @ steps.T
    return float(gap @ np.linalg.solve(between, gap)) / len(gap), len(gap), means.df
