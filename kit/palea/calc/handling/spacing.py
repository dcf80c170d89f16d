"""How evenly seeds lie in a row: gaps between seeds against the gap that was set, and counts metre by metre."""

from dataclasses import dataclass

import numpy as np

from palea.errors import UnfitValue

LEAST, MOST = 0.5, 1.5  # of the gap that was set: at or below is a multiple, above the other is a miss


@dataclass(frozen=True)
class Spacing:
    """Uniformity of one run of the seeder, all in %.

    feed : gaps in (0.5, 1.5] of the wanted one, the singles.  multiples : gaps at or below 0.5.  misses : above 1.5.
    precision : SD of the singles over the wanted gap.  precision_of_mean : the same SD over the singles' own mean.
    variation : SD of all gaps over their mean.  gaps, singles : how many.  mean_single : in the unit of the gaps.
    nan where there are fewer than two (singles or gaps).
    """

    feed: float
    multiples: float
    misses: float
    precision: float
    precision_of_mean: float
    variation: float
    gaps: int
    singles: int
    mean_single: float


def spacing(gaps, wanted):
    """Quality of feed of one run -> Spacing.

    gaps : (n,) distances between neighbouring seeds.  wanted : the distance that was set, in the same unit.
    A gap of exactly half the wanted one is a multiple, of exactly one and a half a single. Precision has two divisors
    in use, the wanted gap and the mean of the singles: both are given and are to be named.
    Raises UnfitValue for a negative or missing gap, none at all, or a wanted gap not above 0.
    Source: ISO 7256-1:1984 as in Kachman & Smith 1995, Trans. ASAE 38:379-387 (divisor: the wanted gap, from memory);
    Bracy & Parish 1998, HortTechnology 8 (divisor: the mean).

    >>> found = spacing([10, 9, 5, 21, 11], wanted=10)
    >>> found.feed, found.multiples, found.misses
    (60.0, 20.0, 20.0)
    """
    gaps = np.asarray(gaps, float)
    if not gaps.size or not (gaps >= 0).all() or not wanted > 0:
        msg = f"Gaps must be 0 or above and the wanted gap above 0; found {gaps[:8].tolist()} and {wanted:g}."
        raise UnfitValue(msg)
    multiple, miss = gaps <= LEAST * wanted, gaps > MOST * wanted
    single = gaps[~multiple & ~miss]
    spread = single.std(ddof=1) if single.size > 1 else np.nan
    mean = single.mean() if single.size else np.nan
    share = 100 / gaps.size
    return Spacing(
        share * single.size, share * int(multiple.sum()), share * int(miss.sum()), 100 * spread / wanted, 100 * spread / mean,
        float(variation(gaps)), gaps.size, single.size, float(mean),
    )  # fmt: skip


def variation(counts):
    """Coefficient of variation along the last axis: 100 s / mean [%], divisor n - 1.

    nan with fewer than two values or a mean of 0.  Source: ISO 7256-2:1984 (abstract); Snedecor & Cochran 1989.

    >>> float(variation([102, 98, 101, 95, 104, 100, 99, 101]).round(3))
    2.726
    """
    counts = np.asarray(counts, float)
    if counts.shape[-1] < 2:
        return np.full(counts.shape[:-1], np.nan)
    mean = counts.mean(axis=-1)
    return 100 * np.divide(counts.std(axis=-1, ddof=1), mean, out=np.full(mean.shape, np.nan), where=mean > 0)


def dispersion_index(counts):
    """Variance over mean of counts along the last axis: 1 where seeds fall singly and at random, 0 in a perfect row.

    nan with fewer than two values or a mean of 0.  Source: Fisher 1925, Statistical Methods for Research Workers.

    >>> float(dispersion_index([30, 28, 33, 29]).round(3))
    0.156
    """
    counts = np.asarray(counts, float)
    return counts.mean(axis=-1) * (variation(counts) / 100) ** 2


def random_variation(mean):
    """CV that seeds falling singly and at random would have at this mean per metre: 100 / sqrt(mean) [%].

    What lies above it is the seeder's doing; below it the row is more even than chance.  Source: Poisson variance.
    """
    return 100 / np.sqrt(np.asarray(mean, float))
