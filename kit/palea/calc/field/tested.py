"""Shares of seed whose number is known from a test: the test looked at a sample, and its error belongs to the share."""

from dataclasses import dataclass, field

import numpy as np

from palea.calc.field.combined import statistic

KNOWN = (
    "How much of the seed sown is {denominator} ({taxon}, {place}) is known from tests of samples and may be off by "
    "{size:.0f} % of itself (95 %); intervals allow for it. Treatments whose seed rests on the same tests share that error: it "
    "can make their difference larger or smaller, but not make one."
)
NORMAL = 1.959964


@dataclass(frozen=True)
class OnTests:
    """Shares of seed, with the error of the number of seeds that they are of.

    gross : means of shares, as if the number were known.  error : {treatment: relative standard error of its number}.
    source : {treatment: the tests that it is from}; two treatments of one source are wrong by the same factor.
    """

    gross: object
    error: dict = field(repr=False)
    source: dict = field(repr=False)

    @property
    def names(self):
        """As in `gross`."""
        return self.gross.names

    @property
    def df(self):
        """As in `gross`: of the plots, which decide."""
        return self.gross.df

    @property
    def warnings(self):
        """As in `gross`."""
        return self.gross.warnings

    def interval(self, name, critical):
        """(share, lower, upper); within 0 to 1."""
        return self._of_one(self.gross.interval(name, critical), name, critical)

    def told(self, name, critical):
        """(share, lower, upper) of what was counted; within 0 to 1."""
        return self._of_one(self.gross.told(name, critical), name, critical)

    def _of_one(self, ends, name, critical):
        share, lower, upper = _wider(ends, critical * ends[0] * self.error[name])
        return share, max(lower, 0.0), min(upper, 1.0)

    def difference(self, a, b, critical):
        """(difference, lower, upper) of a minus b."""
        ends = self.gross.difference(a, b, critical)
        if self.source[a] == self.source[b]:
            return _wider(ends, critical * abs(ends[0]) * max(self.error[a], self.error[b]))
        each = [self.gross.interval(name, 0.0)[0] * self.error[name] for name in (a, b)]
        return _wider(ends, critical * np.hypot(*each))

    def statistic(self, a, b, shift=0.0):
        """See palea.calc.field.combined.statistic."""
        return statistic(lambda critical: self.difference(a, b, critical), shift)

    def loadings(self, treatments, control):
        """As in `gross`."""
        return self.gross.loadings(treatments, control)


def _wider(ends, more):
    """An interval with another, independent error: limits of a sum (Zou & Donner 2008, Stat. Med. 27:1693)."""
    value, lower, upper = map(float, ends)
    return value, value - float(np.hypot(value - lower, more)), value + float(np.hypot(upper - value, more))


def on_tests(means, plots):
    """Means of the treatments of these plots with the error of their tests; as they are where no test stands behind n.

    plots : one row a plot: treatment, tested (which tests; "" for none), tested_error (relative; 0 where n was counted).
    """
    if means is None or not plots["tested_error"].gt(0).any() or not set(means.names) <= set(plots["treatment"]):
        return means
    by = plots.groupby("treatment")
    source = by["tested"].agg(lambda names: " + ".join(sorted(set(names))))
    return OnTests(means, by["tested_error"].mean().to_dict(), source.to_dict())


def assumed(plots):
    """Yield a sentence for each species, place and denominator whose number of seeds is known from tests."""
    known = plots[plots["tested_error"] > 0]
    by = known.groupby(["taxon", "environment", "denominator"], sort=False)["tested_error"].max()
    for (taxon, place, denominator), error in by.items():
        yield KNOWN.format(denominator=denominator, taxon=taxon, place=place, size=100 * NORMAL * error)
