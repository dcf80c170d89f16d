"""May replicates of one sample lie this far apart by chance? Percentages here, as on the paper sheet.

For 100-seed replicates the answer is a table of the seed-testing rules; for anything else it is computed from the
binomial distribution. Nothing here needs more than numpy and scipy.special, and what a check asks for not even that.
"""

import numpy as np

from palea.errors import UnfitValue

CHANCE = 0.025  # the rules' tables let 2.5 % of good samples fail

# Largest range allowed between four 100-seed replicates, by mean percentage from 99 down to 51; the table is symmetric
# (a mean of p and one of 101 - p share a row). Source: 7 CFR 201.55, rows 71 to 99 read; rows 51 to 70 from memory of
# the table of the international rules (after Miles 1963, Proc. Int. Seed Test. Assoc. 28:525).
OF_FOUR = (
    5, 6, 7, 8, 9, 10, 10, 11, 11, 12, 12, 13, 13, 14, 14, 14, 15, 15, 15, 16, 16, 16, 17, 17, 17, 17, 17, 18, 18,
    18, 18, 18, 18, 19, 19, 19, 19, 19, 19, 19, 19, 19, 19, 19, 20, 20, 20, 20, 20,
)  # fmt: skip
# The same between two replicates, 97 down to 71 (7 CFR 201.55).
OF_TWO = (6, 6, 7, 8, 8, 9, 9, 9, 10, 10, 11, 11, 11, 11, 12, 12, 12, 13, 13, 13, 13, 13, 14, 14, 14, 14, 14)


def tabulated_range(mean_percent, replicates=4):
    """Largest allowed range between 100-seed replicates, in points; nan where the table has no row (0, 100, ...).

    mean_percent : (samples,) means of the replicates, rounded here to whole percent (halves up).  replicates : 4 or 2.
    Source: 7 CFR 201.55 (see OF_FOUR and OF_TWO for what is from memory).

    >>> tabulated_range([99, 87, 14, 100]).tolist()
    [5.0, 13.0, 13.0, nan]
    """
    if replicates not in (2, 4):
        msg = f"replicates is {replicates}; the table is for 4 or for 2 replicates of 100 seeds."
        raise UnfitValue(msg)
    rows, top = (OF_FOUR, 99) if replicates == 4 else (OF_TWO, 97)
    mean = np.floor(np.asarray(mean_percent, float) + 0.5)
    row = top - np.where(mean > 50, mean, 101 - mean)
    known = (row >= 0) & (row < len(rows))
    return np.where(known, np.asarray(rows, float)[np.where(known, row, 0).astype(int)], np.nan)


def chance_of_range(spread, mean_percent, replicates, seeds):
    """Probability that replicates of one sample lie more than `spread` seeds apart, by chance alone.

    spread, mean_percent : (samples,) seeds between the highest and the lowest replicate, and mean of the replicates.
    replicates, seeds : how many, of how many seeds each. Exact for independent binomial replicates.
    Source: distribution of the range of a discrete sample: Burr 1955, Ann. Math. Stat. 26:530.

    >>> chance_of_range(13, 87, replicates=4, seeds=100).round(4).tolist()
    0.0232
    """
    from scipy import special

    spread, share = np.broadcast_arrays(np.asarray(spread, float), np.asarray(mean_percent, float) / 100)
    seen = np.arange(seeds + 1)
    ways = special.gammaln(seeds + 1) - special.gammaln(seen + 1) - special.gammaln(seeds - seen + 1)
    p = share[..., None]
    mass = np.exp(ways + special.xlogy(seen, p) + special.xlogy(seeds - seen, 1 - p))
    below = np.concatenate([np.zeros((*share.shape, 1)), np.cumsum(mass, axis=-1)], axis=-1)  # P(X < 0, 1, ..., n + 1)
    last = np.minimum(seen + np.floor(spread + 1e-9)[..., None].astype(int) + 1, seeds + 1)
    within = np.take_along_axis(below, last, axis=-1) - below[..., :-1]  # lowest at least `seen`, highest in reach
    above = np.take_along_axis(below, np.maximum(last, seen + 1), axis=-1) - below[..., 1:]
    return np.clip(1 - np.sum(within**replicates - np.maximum(above, 0) ** replicates, axis=-1), 0, 1)


def approximate_range(mean_percent, replicates=4, seeds=100):
    """Largest range in points by the formula behind the table: q(2.5 %; replicates, inf) sqrt(p q / n).

    A check on the table only: they differ by up to 1.05 points.
    Source: Miles 1963, Proc. Int. Seed Test. Assoc. 28:525.
    """
    from scipy.stats import studentized_range

    share = np.asarray(mean_percent, float) / 100
    return 100 * studentized_range.ppf(1 - CHANCE, replicates, np.inf) * np.sqrt(share * (1 - share) / seeds)


def out_of_tolerance(lowest, highest, mean_percent, replicates, seeds):
    """Whether replicates of one sample lie further apart than chance allows: (samples,) booleans.

    lowest, highest, mean_percent : (samples,) percentages of the replicates.  replicates, seeds : (samples,) how many,
    of how many seeds each (the smallest, where they differ: then the test is lenient). 4 or 2 times 100 seeds: the
    table; else the exact chance of a range at least as large, out of tolerance at or below 2.5 %.
    One replicate, or a missing value, is never out of tolerance.
    Source: 7 CFR 201.55; exact distribution of the range.

    >>> out_of_tolerance([80, 60], [93, 88], [87, 74], [4, 4], [100, 25]).tolist()
    [False, False]
    """
    values = (lowest, highest, mean_percent, replicates, seeds)
    low, high, mean, m, n = np.broadcast_arrays(*(np.atleast_1d(np.asarray(v, float)) for v in values))
    out = np.zeros(low.shape, bool)
    usable = np.isfinite(low + high + mean + n) & (m > 1) & (n >= 1)
    for replicate, size in set(zip(m[usable].tolist(), n[usable].tolist(), strict=True)):
        at = usable & (m == replicate) & (n == size)
        out[at] = _out(low[at], high[at], mean[at], int(replicate), int(size))
    return out


def _out(low, high, mean, replicates, seeds):
    spread = np.round((high - low) * seeds / 100)
    limit = tabulated_range(mean, replicates) if seeds == 100 and replicates in (2, 4) else np.full(mean.shape, np.nan)
    by_chance = chance_of_range(spread - 1, mean, replicates, seeds) <= CHANCE
    return np.where(np.isnan(limit), by_chance & (spread > 0), high - low > limit + 1e-9)


def chance_of_dish(count, seeds, others, of, rho):
    """Two-sided chance of a dish as far from the others of its batch as this one, or further.

    count, seeds : (dishes,) seeds that germinated in the dish, of how many.  others, of : the same, all other dishes of
    its batch together.  rho : correlation of two seeds of one dish that good practice still shows, 0 < rho < 1.
    Beta-binomial tail at the others' share, (others + 1/2) / (of + 1), doubled and at most 1; nan where a value is
    missing or there are no others.
    Source: Johnson, Kemp & Kotz 2005, Univariate Discrete Distributions, 6.2.2 (beta-binomial).

    >>> chance_of_dish([2, 20], [25, 25], [69, 51], [75, 75], 0.05).round(3).tolist()
    [0.0, 0.492]
    """
    k, n, m, w = (np.asarray(v, float) for v in np.broadcast_arrays(count, seeds, others, of))
    share = (m + 0.5) / (w + 1)
    a, b = (x * (1 - rho) / rho for x in (share, 1 - share))
    found = np.full(k.shape, np.nan)
    usable = np.isfinite(k + n + share) & (w > 0) & (k <= n)
    for size in np.unique(n[usable]):
        at = usable & (n == size)
        found[at] = _two_sided(k[at], int(size), a[at], b[at])
    return found


def _two_sided(k, n, a, b):
    """Masses of 0 .. n by the ratio of each to the one before, so that a check needs no gamma function."""
    seen, a, b = np.arange(n), a[:, None], b[:, None]
    nothing = (np.log(b + seen) - np.log(a + b + seen)).sum(axis=1, keepdims=True)
    ratios = np.log(n - seen) - np.log(seen + 1) + np.log(a + seen) - np.log(b + n - seen - 1)
    mass = np.exp(np.concatenate([nothing, nothing + np.cumsum(ratios, axis=1)], axis=1))
    seen = np.arange(n + 1)
    low = np.where(seen <= k[:, None], mass, 0).sum(axis=1)
    high = np.where(seen >= k[:, None], mass, 0).sum(axis=1)
    return np.minimum(1, 2 * np.minimum(low, high))
