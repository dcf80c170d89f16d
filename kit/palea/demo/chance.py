"""Chance for the invented demo: one stream a purpose, the same bytes on every machine and in every version.

Only `random.Random.random` is drawn from, because Python promises that stream and no other; everything else is worked
out from its numbers here.
"""

from random import Random
from statistics import NormalDist

_NORMAL = NormalDist()
_TINY = 2.0**-53  # random() may be exactly 0, whose normal deviate would be infinite


class Chance:
    """A stream of its own for one purpose, so that what is drawn elsewhere, or in which order, changes nothing here.

    seed : the demo's seed.  purpose : what it is for, as words and numbers.
    """

    def __init__(self, seed, *purpose):
        self._next = Random("/".join(map(str, (seed, *purpose)))).random  # noqa: S311 (invented data, not a secret)

    def share(self):
        """A number in [0, 1), all alike likely."""
        return self._next()

    def happens(self, probability):
        """Whether something of this probability happens."""
        return self._next() < probability

    def normal(self, mean=0.0, sd=1.0):
        """A normal deviate, by the inverse of its distribution."""
        return mean + sd * _NORMAL.inv_cdf(max(self._next(), _TINY))

    def shuffled(self, items):
        """The items in random order, as a list."""
        return [item for _, _, item in sorted((self._next(), place, item) for place, item in enumerate(items))]

    def pick(self, items):
        """One of the items."""
        return items[int(self._next() * len(items))]


class Urn:
    """Yes or no for one seed after another of a dish: a beta-binomial, as draws from an urn.

    probability : of yes, over many dishes.  rho : correlation between two seeds of one dish, 0 < rho < 1.
    With a = p (1 - rho) / rho and b = (1 - p) (1 - rho) / rho the number of yes among n draws is beta-binomial: mean
    n p, variance n p (1 - p) (1 + (n - 1) rho). It needs no inverse of the beta distribution.
    Source: Pólya's urn, Johnson, Kotz & Kemp 1992, Univariate Discrete Distributions, ch. 6 (from memory).
    """

    def __init__(self, chance, probability, rho):
        self._chance = chance
        self._yes = probability * (1 - rho) / rho
        self._all = (1 - rho) / rho

    def draw(self):
        """Whether the next seed says yes."""
        yes = self._chance.happens(self._yes / self._all)
        self._yes += yes
        self._all += 1
        return yes
