"""Means put together from other means: what differs between sites, what they have in common, and net of a background.

All answer to the same questions as palea.calc.stats.share_means and linear_means: an interval is a function of its
quantile. Intervals of sums are built from the parts' own intervals, so that their skewness near 0 and 100 % stays.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import optimize

from palea.calc.stats.quasi_poisson import mean_interval

FARTHEST = 60.0  # a statistic beyond it has p = 0 to all digits
UNIT = 1.0  # quantile at which a standard error is read off an interval


def combine(parts, factors):
    """(value, lower, upper) of a sum of independent estimates times factors, each part (value, lower, upper).

    Source: Zou & Donner 2008, Stat. Med. 27:1693 (from the limits of the parts: MOVER).

    >>> combine([(5.0, 4.0, 6.0), (3.0, 2.0, 4.0)], [1, -1])[0]
    2.0
    """
    value = below = above = 0.0
    for (middle, lower, upper), factor in zip(parts, factors, strict=True):
        down, up = factor * (middle - lower), factor * (upper - middle)
        down, up = (down, up) if factor > 0 else (-up, -down)
        value, below, above = value + factor * middle, below + down**2, above + up**2
    return float(value), float(value - np.sqrt(below)), float(value + np.sqrt(above))


def statistic(difference, shift=0.0):
    """How many quantiles a difference lies above `shift`: the quantile at which its interval just reaches it.

    difference : function from a quantile to (value, lower, upper).
    """
    value = difference(0.0)[0]
    if value == shift:
        return 0.0
    end, sign = (1, 1) if value > shift else (2, -1)

    def short_of(critical):
        return sign * (difference(critical)[end] - shift)

    return sign * (np.inf if short_of(FARTHEST) > 0 else optimize.brentq(short_of, 0.0, FARTHEST, xtol=1e-10))


def _variance(ends):
    return ((ends[2] - ends[1]) / 2) ** 2


def _satterthwaite(variances, dfs):
    """Source: Satterthwaite 1946, Biometrics Bull. 2:110."""
    variances, dfs = np.asarray(variances), np.asarray(dfs)
    return float(variances.sum() ** 2 / np.sum(variances**2 / dfs)) if variances.sum() > 0 else float(dfs.min())


@dataclass(frozen=True)
class Across:
    """A difference a minus b in several places at once: factors (1, -1) say how it differs, (1/2, 1/2) its mean.

    parts : means in each place, independent of one another.  a, b : what is compared in all of them.
    places : what they are called, where it is how the difference changes between two of them.
    """

    parts: tuple
    factors: tuple[float, ...]
    a: str
    b: str
    places: tuple[str, ...] = ()

    @property
    def df(self):
        """Degrees of freedom, by Satterthwaite."""
        errors = [_variance(part.difference(self.a, self.b, UNIT)) for part in self.parts]
        weighted = [factor**2 * error for factor, error in zip(self.factors, errors, strict=True)]
        return _satterthwaite(weighted, [part.df for part in self.parts])

    def difference(self, a, b, critical):
        """(value, lower, upper)."""
        return combine([part.difference(a, b, critical) for part in self.parts], self.factors)

    def statistic(self, a, b, shift=0.0):
        """See `statistic`."""
        return statistic(lambda critical: self.difference(a, b, critical), shift)


@dataclass(frozen=True)
class Net:
    """Shares less what came up unsown.

    gross : means of the plots' shares.  total : seedlings in the unsown plots together.  plots : how many of those.
    dispersion : of their counts, not below 1.  per : {treatment: unsown seedlings a plot count as this many shares}.
    The background is the same for all: in a difference it goes out but for unequal numbers of seed a plot.
    """

    gross: object
    total: float
    plots: int
    dispersion: float
    per: dict = field(repr=False)

    @property
    def names(self):
        """As in `gross`."""
        return self.gross.names

    @property
    def df(self):
        """Of the sown plots, which decide."""
        return self.gross.df

    @property
    def warnings(self):
        """As in `gross`."""
        return self.gross.warnings

    def background(self, critical):
        """(mean, lower, upper) of seedlings in an unsown plot."""
        return self.total / self.plots, *mean_interval(self.total, self.plots, critical, self.dispersion)

    def interval(self, name, critical):
        """(share, lower, upper); not below 0."""
        return self._above(self.gross.interval(name, critical), name, critical)

    def told(self, name, critical):
        """(share, lower, upper) of what was counted, not below 0."""
        return self._above(self.gross.told(name, critical), name, critical)

    def _above(self, gross, name, critical):
        return tuple(max(end, 0.0) for end in combine((gross, self.background(critical)), (1.0, -self.per[name])))

    def difference(self, a, b, critical):
        """(difference, lower, upper) of a minus b."""
        unequal = self.per[a] - self.per[b]
        return combine((self.gross.difference(a, b, critical), self.background(critical)), (1.0, -unequal))

    def statistic(self, a, b, shift=0.0):
        """See `statistic`."""
        return statistic(lambda critical: self.difference(a, b, critical), shift)

    def loadings(self, treatments, control):
        """As in `gross`."""
        return self.gross.loadings(treatments, control)
