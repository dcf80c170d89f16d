"""Designs of which simulation has shown that their intervals hold what is true less often than they say.

An estimate of such a design carries its Caution as data; palea.words says it with the figure. The studies lie in
tests/coverage, where a test holds the figures here against what is stored.
"""

from typing import NamedTuple

import numpy as np

FAR = 3.0  # ratio of p (1 - p) from which one spread for all does not fit a treatment
FEW_A_PLOT = 4.0  # plants: 2.2 a plot were short and 5.5 were not
MANY_PLOTS = 16  # with so many the interval is right again
WIDE_RHO = 0.1  # correlation of seeds of a dish from which dishes differ widely
NEAR_END, UNEVEN_SD, SAMPLES = 5.0, 0.75, 3  # points from 0 or 100 %; points between samples; from so many on a t interval is short
LITTLE = 0.4  # response to a dose, as a share: 25 points were short and 55 were not


class Caution(NamedTuple):
    """That 95 % intervals of such a design held the truth too seldom.

    study : name of the stored simulation.  least : data sets of 100 in which the interval held the truth, at the worst.
    because : what it is about the design, as the end of "its interval may be too narrow: ...".  design : what was simulated.
    """

    study: str
    least: float
    because: str
    design: str


FAR_BATCHES = Caution(
    "final-batches", 86.4, "a treatment far from the others, which lie near 0 or 100 %, is judged by one dispersion for all",
    "one treatment at 25 % beside five at 5 %, four batches each, odds of batches apart by a factor of 1.5",
)
FEW_UP = Caution(
    "emergence", 88.7, "with fewer than 4 plants a plot, in fewer than 16 plots, how much plots differ can hardly be seen",
    "2 % of 110 seeds in each of 8 plots that differ widely, or beside a treatment that does far better",
)  # fmt: skip
LEANING = Caution(
    "purity", 91.3, "near 0 or 100 % in an uneven lot shares lean to one side, which a t interval of a few samples does not know",
    "97 % pure seed in four working samples with a standard deviation of 2 points",
)
LITTLE_RESPONSE = Caution(
    "dose", 80.5, "the response changes by little against how much dishes differ",
    "25 points of response, seeds of a dish alike by rho 0.2",
)

# What is said of intervals that hold the truth more often than they say: that costs power, and tells nothing wrong.
CAREFUL_SURVIVAL = (
    "With four plots a treatment, or where next to all plants lived, intervals are careful: they hold the true value in 99 or 100 "
    "of 100 simulated data sets (tests/coverage, survival)."
)
CAREFUL_GROWTH = (
    "With four plots a treatment that differ by little, intervals are careful: they hold the true ratio in 99 or 100 of 100 "
    "simulated data sets (tests/coverage, growth)."
)
CAREFUL_STOPS = (
    "Exact intervals hold at least what they say, and more where few stops were seen: ratios of stops up to 100 of 100 simulated "
    "data sets (tests/coverage, stops)."
)
CAREFUL_LIVE = (
    "With two samples for purity, or little dead seed, intervals are careful: they hold the true value in up to 100 of 100 "
    "simulated lots (tests/coverage, pure-live-seed)."
)
CAREFUL_LIFE = (
    "Near 0 or 100 % intervals are careful where seeds of a replicate are hardly alike: they hold the true share in up to 100 of "
    "100 simulated tests (tests/coverage, viability)."
)
CAREFUL_EVIDENCE = (
    "With few trials, or trials that scatter by little beyond sampling, the interval is careful: it holds the true mean in up to "
    "100 of 100 simulated sets of trials (tests/coverage, evidence)."
)


def spread(shares):
    """What the variance of a count goes with, p (1 - p), of shares."""
    shares = np.asarray(shares, float)
    return shares * (1 - shares)


def far_above(names, shares):
    """Names of the treatments whose p (1 - p) exceeds FAR times the median of all: they lie far from the others.

    names : (t,).  shares : (t,) 0 to 1. Of two treatments neither is far: the median lies half-way.
    True coverage of nominal 95 % (tests/coverage, final-batches): 86 to 95 % of a treatment at 25 % beside five at 5 %, the
    less the more batches differ; 92 to 98 % elsewhere.

    >>> far_above(["a", "b", "c", "d"], [0.25, 0.05, 0.05, 0.04])
    {'a'}
    >>> far_above(["a", "b"], [0.25, 0.05])
    set()
    """
    found = spread(shares)
    return {name for name, own in zip(names, found, strict=True) if own > FAR * np.median(found)}


def hardly_up(names, plots, plants):
    """Names of the treatments that came up with fewer than FEW_A_PLOT plants a plot, on fewer than MANY_PLOTS plots.

    names : (t,).  plots, plants : (t,) how many plots, and plants counted in them together.
    How much the plots seem to differ is not asked: where they differ most, a few plots often do not show it, and those are
    the intervals that fail. True coverage of nominal 95 % (tests/coverage, emergence): from 89 % up for 2 % of 110 seeds in 8
    plots, at the worst beside a treatment that does far better or with rho 0.2; 92 to 99 % with 5 % of them, or 16 plots.

    >>> hardly_up(["a", "b"], [8, 8], [106, 18]), hardly_up(["a", "b"], [16, 16], [212, 36])
    ({'b'}, set())
    """
    plots, plants = np.asarray(plots, float), np.asarray(plants, float)
    few = (plants < FEW_A_PLOT * plots) & (plots < MANY_PLOTS)
    return {name for name, one in zip(names, few, strict=True) if one}


def leaning(values):
    """Whether shares [%] of a lot's samples lie near 0 or 100 % and far apart, so that a t interval of them is short.

    values : (samples,) nan where one is missing. A standard deviation of UNEVEN_SD is asked for, which samples of an uneven lot
    mostly reach and those of an even one seldom. True coverage of nominal 95 % (tests/coverage, purity): 91 % for four samples
    of 97 % with a standard deviation of 2 points; 94 to 95 % for 0.5 points, for 85 %, and for two samples.

    >>> leaning([99.0, 95.0, 98.5, 94.0]), leaning([87.0, 83.0, 86.5, 82.0]), leaning([97.0, 97.4, 97.2, 96.8])
    (True, False, False)
    """
    known = np.asarray(values, float)
    known = known[np.isfinite(known)]
    if known.size < SAMPLES:
        return False
    return bool(min(known.mean(), 100 - known.mean()) <= NEAR_END and known.std(ddof=1) >= UNEVEN_SD)


def little_response(change, dispersion, seeds):
    """Whether a response to a dose changes by little against how much dishes differ.

    change : response without the active less that at a high dose, as a share.  dispersion : of the dishes, 1 for chance alone.
    seeds : of a dish, on average; their correlation rho is (dispersion - 1) / (seeds - 1). True coverage of nominal 95 %
    (tests/coverage, dose): 81 to 86 % of the dose for half the effect with 25 points and rho 0.2; 91 to 96 % else.

    >>> little_response(0.25, 5.8, 25), little_response(0.55, 5.8, 25), little_response(0.25, 1.2, 25)
    (True, False, False)
    """
    return bool(abs(change) < LITTLE and dispersion - 1 >= WIDE_RHO * max(seeds - 1, 1))
