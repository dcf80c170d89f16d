"""Shares of seeds, their intervals, and how alike seeds of one dish are. Shares are 0 to 1 here, never percent.

Seeds of one dish share its water and its place, so m of them say less than m independent seeds: everything here can be
told the design effect DE = 1 + (m - 1) rho, and then works with n / DE seeds in place of n.
"""

import numpy as np
from scipy import special

from palea.errors import UnfitValue


def checked_counts(k, n):
    """Both as float arrays of one shape; k of n seeds each, n > 0, 0 <= k <= n.

    Raises UnfitValue, naming the argument and the position, for a missing value, n <= 0, k < 0 or k > n.
    """
    k, n = np.broadcast_arrays(np.asarray(k, float), np.asarray(n, float))
    _refuse(n, ~(n > 0), "n", "a number of seeds above 0")
    _refuse(k, ~((k >= 0) & (k <= n)), "k", "0 to n, as many seeds as there were")
    return k, n


def _refuse(values, bad, name, allowed):
    if np.any(bad):
        at = int(np.flatnonzero(bad)[0])
        msg = f"{name}[{at}] is {values.flat[at]:g}; allowed is {allowed}. Correct the count or leave it out."
        raise UnfitValue(msg)


def normal_quantile(confidence):
    """Two-sided normal quantile: 1.96 for 0.95. Raises UnfitValue outside (0, 1)."""
    if not 0 < confidence < 1:
        msg = f"confidence is {confidence}; allowed is above 0 and below 1, as in 0.95."
        raise UnfitValue(msg)
    return special.ndtri((1 + confidence) / 2)


def t_quantile(confidence, df):
    """Two-sided t quantile on df degrees of freedom; df may be inf. Raises UnfitValue for df <= 0."""
    if not df > 0:
        msg = f"df is {df}; allowed is a number above 0. There must be more units than groups."
        raise UnfitValue(msg)
    return normal_quantile(confidence) if np.isinf(df) else special.stdtrit(df, (1 + confidence) / 2)


def design_effect(dish_size, rho):
    """How many times more variable a share is than with independent seeds: 1 + (m - 1) rho.

    dish_size : m, seeds a dish.  rho : correlation of two seeds of one dish, 0 (independent) to 1 (all alike).
    Raises UnfitValue for rho outside [0, 1]. Source: Kish 1965, Survey Sampling.

    >>> float(design_effect(25, 0.05))
    2.2
    """
    rho = np.asarray(rho, float)
    _refuse(rho, ~((rho >= 0) & (rho <= 1)), "rho", "0 to 1")
    return 1 + (np.asarray(dish_size, float) - 1) * rho


def wilson(k, n, confidence=0.95, design_effect=1.0, critical=None):
    """Score interval of a share: lower and upper, shapes as k and n broadcast.

    k, n : seeds that did, of seeds.  design_effect : n / design_effect seeds are counted as independent.
    critical : quantile to use in place of the normal one (a t quantile where the design effect was estimated).
    At k = 0 the lower end is exactly 0, at k = n the upper end is exactly 1. Raises UnfitValue as checked_counts.
    Source: Wilson 1927, J. Am. Stat. Assoc. 22:209; Newcombe 1998, Stat. Med. 17:857.
    """
    k, n = checked_counts(k, n)
    return score_interval(k / n, n / design_effect, normal_quantile(confidence) if critical is None else critical)


def score_interval(share, effective_n, critical):
    """The interval of `wilson` from a share, the number of independent seeds behind it, and the quantile."""
    share, squared = np.asarray(share, float), critical**2 / np.asarray(effective_n, float)
    centre = (share + squared / 2) / (1 + squared)
    half = np.sqrt(squared * share * (1 - share) + squared**2 / 4) / (1 + squared)
    # at 0 and 1 the two terms cancel only up to rounding
    lower, upper = np.clip(centre - half, 0, 1), np.clip(centre + half, 0, 1)
    return np.where(share == 0, 0.0, lower), np.where(share == 1, 1.0, upper)


def clopper_pearson(k, n, confidence=0.95, design_effect=1.0):
    """Exact interval of a share, from the beta distribution; never too short, usually too long.

    Arguments and ends as in `wilson`. Source: Clopper & Pearson 1934, Biometrika 26:404.

    >>> float((100 * clopper_pearson(0, 200)[1]).round(1))  # nothing seen in 200 seeds
    1.8
    """
    k, n = checked_counts(k, n)
    k, n, tail = k / design_effect, n / design_effect, (1 - confidence) / 2
    lower = np.where(k == 0, 0.0, special.betaincinv(np.maximum(k, 1e-300), n - k + 1, tail))
    upper = np.where(k == n, 1.0, special.betaincinv(k + 1, np.maximum(n - k, 1e-300), 1 - tail))
    return lower, upper


def hybrid_difference(first, second, correlation=0.0):
    """Interval of a difference of two shares from their own intervals: each given as (share, lower, upper).

    correlation : of the two estimates; 0 where the arms share no block. Stays within -1 to 1.
    Source: Newcombe 1998, Stat. Med. 17:873 (method 10); with correlation Zou & Donner 2008, Stat. Med. 27:1693.
    """
    (p1, l1, u1), (p2, l2, u2) = first, second
    return p1 - p2 - _hypotenuse(p1 - l1, u2 - p2, correlation), p1 - p2 + _hypotenuse(u1 - p1, p2 - l2, correlation)


def _hypotenuse(a, b, correlation):
    return np.sqrt(np.maximum(a**2 + b**2 - 2 * correlation * a * b, 0))


def newcombe(k1, n1, k2, n2, confidence=0.95, design_effect1=1.0, design_effect2=1.0, critical=None):
    """Hybrid score interval of share 1 minus share 2: lower and upper.

    Behaves at 0 and 100 %, where the usual interval has no width. Arguments as in `wilson`.
    Source: Newcombe 1998, Stat. Med. 17:873 (method 10).

    >>> [float(x.round(4)) for x in newcombe(56, 70, 48, 80)]
    [0.0524, 0.3339]
    """
    (k1, n1), (k2, n2) = checked_counts(k1, n1), checked_counts(k2, n2)
    first = (k1 / n1, *wilson(k1, n1, confidence, design_effect1, critical))
    second = (k2 / n2, *wilson(k2, n2, confidence, design_effect2, critical))
    return hybrid_difference(first, second)


def intraclass_correlation(k, n, group=None):
    """How alike seeds of one dish are (rho), by analysis of variance, pooled over groups; at least 0.

    k, n : (dishes,) seeds that did, of seeds.  group : (dishes,) label of the treatment of each dish; None: one group.
    A group with one dish says nothing. nan where no group has two dishes, or all dishes are 0 or all are 100 %.
    Source: Ridout, Demetrio & Firth 1999, Biometrics 55:137 (analysis of variance estimator).
    """
    k, n = checked_counts(k, n)
    labels = np.zeros(k.size, int) if group is None else np.unique(np.asarray(group), return_inverse=True)[1]
    total = [np.bincount(labels, w, labels.max() + 1) for w in (k, n, n**2, k**2 / n, np.ones(k.size))]
    seeds_did, seeds, squares, by_dish, dishes = total
    between = np.sum(by_dish - seeds_did**2 / seeds) / max(np.sum(dishes - 1), 1)
    within = np.sum(seeds_did - by_dish) / max(np.sum(seeds - dishes), 1)
    usual = np.sum(seeds - squares / seeds) / max(np.sum(dishes - 1), 1)  # mean dish size, allowing for unequal dishes
    below = between + (usual - 1) * within
    return max((between - within) / below, 0.0) if below > 0 and np.any(dishes > 1) else np.nan
