"""Treatment means of shares on one rung of replication, and differences between them. Shares are 0 to 1.

Two ways, chosen from the data alone and for all treatments of a comparison together:

* means of the units' shares with one variance pooled over the treatments, t intervals (batches, nothing near an end);
* counts with one dispersion (or rho) pooled over the treatments, score intervals with n / dispersion seeds (dishes; and
  batches where a share is near 0 or 100 % or the treatments' variances cannot be alike).

Either way an interval is a function of its quantile, so the same code serves t, Dunnett and two one-sided tests.
"""

from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from scipy import optimize, special

from palea.calc.stats import beta_binomial, comparisons, quasi_binomial
from palea.calc.stats.proportions import hybrid_difference, score_interval
from palea.errors import UnfitValue

NEAR_END = 10  # seeds: with fewer that did, or did not, a symmetric interval is no longer good
UNEVEN = 2.0  # ratio of the largest to the smallest p (1 - p) among the treatments
DISHES_FOR_BETA = 6
FARTHEST = 60.0  # a statistic beyond it has p = 0 to all digits

POOLED = "pooled variance"
QUASI = "quasi-binomial"
BETA = "beta-binomial"
BLOCK_AT_END = (
    "A block is all 0 or all 100 %, so blocks cannot be allowed for: shares are as counted, and blocks count towards how "
    "much units vary."
)
CAREFUL = (
    "Score intervals are careful where units differ by no more than chance, and where few seeds lie near 0 or 100 %: there "
    "they hold the true value more often than they say."
)
ALL_AT_ENDS = "All units are 0 or 100 %, so how much units vary cannot be seen: seeds were taken as independent."


@dataclass(frozen=True)
class ShareMeans:
    """Means of the treatments `names`, from units of one rung.

    shares : (t,) 0 to 1, over all blocks alike where blocks were allowed for: what differences are made of.
    covariance : (t, t) of the shares.  seeds : (t,) independent seeds that weigh as much; used where `scored`.
    df : of the pooled variance or dispersion.  model : POOLED, QUASI or BETA.  spread : pooled variance of a unit's
    share, dispersion, or rho.  blocked : whether blocks were allowed for.
    counted : (t,) shares of the treatments' own units, which are the same where every block holds every treatment; None:
    they are `shares`.
    """

    names: tuple[str, ...]
    shares: np.ndarray
    covariance: np.ndarray = field(repr=False)
    seeds: np.ndarray
    df: float
    model: str
    spread: float
    blocked: bool = False
    warnings: tuple[str, ...] = ()
    counted: np.ndarray | None = None

    @property
    def scored(self):
        """Whether intervals are score intervals from counts."""
        return self.model != POOLED

    def interval(self, name, critical):
        """(share, lower, upper) of one treatment, as differences are made of it; the ends lie in 0 to 1."""
        return self._about(self.shares, name, critical)

    def told(self, name, critical):
        """(share, lower, upper) of one treatment by itself: what was counted of it, whatever its blocks were like."""
        return self._about(self.shares if self.counted is None else self.counted, name, critical)

    def _about(self, shares, name, critical):
        at = self.names.index(name)
        share = shares[at]
        if self.scored:
            return share, *(float(end) for end in score_interval(share, self.seeds[at], critical))
        half = critical * np.sqrt(self.covariance[at, at])
        return share, max(share - half, 0.0), min(share + half, 1.0)

    def difference(self, a, b, critical):
        """(difference, lower, upper) of a minus b."""
        first, second = self.names.index(a), self.names.index(b)
        value = self.shares[first] - self.shares[second]
        if self.scored:
            correlation = self._correlation(first, second)
            ends = hybrid_difference(self.interval(a, critical), self.interval(b, critical), correlation)
            return value, *(float(end) for end in ends)
        half = critical * self._error(first, second)
        return value, value - half, value + half

    def _error(self, first, second):
        variances = self.covariance
        return np.sqrt(variances[first, first] + variances[second, second] - 2 * variances[first, second])

    def _correlation(self, first, second):
        scale = np.sqrt(self.covariance[first, first] * self.covariance[second, second])
        return self.covariance[first, second] / scale if scale > 0 else 0.0

    def statistic(self, a, b, shift=0.0):
        """How many quantiles a minus b lies above `shift`: the quantile at which its interval just reaches it.

        For a t interval this is the t statistic. inf where no interval is wide enough to reach.
        """
        value = self.difference(a, b, 0.0)[0]
        if not self.scored:
            return (value - shift) / self._error(self.names.index(a), self.names.index(b))
        if value == shift:
            return 0.0
        end, sign = (1, 1) if value > shift else (2, -1)

        def short_of(critical):
            return sign * (self.difference(a, b, critical)[end] - shift)

        return sign * (np.inf if short_of(FARTHEST) > 0 else optimize.brentq(short_of, 0.0, FARTHEST, xtol=1e-10))

    def loadings(self, treatments, control):
        """For Dunnett: how strongly each comparison with `control` leans on it."""
        half = {name: np.diff(self.interval(name, 2.0)[1:])[0] for name in (*treatments, control)}
        variances = {name: half[name] ** 2 if self.scored else self.covariance[self._both(name)] for name in half}
        return comparisons.loadings([variances[name] for name in treatments], variances[control])

    def _both(self, name):
        return (self.names.index(name),) * 2


def of_batches(treatment, k, n, block=None):
    """Means from batches: k of n seeds, dishes pooled within the batch -> ShareMeans, or None where no df are left.

    treatment, block : (batches,) labels; block is allowed for where its levels are crossed with the treatments.
    The way is chosen for all treatments together. Counts: a treatment has fewer than NEAR_END seeds that did (or did
    not), the largest p (1 - p) exceeds UNEVEN times the smallest, or batches agree to the last seed. Else means.
    True coverage of nominal 95 %, simulated (tests/coverage, final-batches): 93 to 98 %, but 86 to 90 % of a treatment far
    above all others, which lie near 0, where the odds of batches differ by a factor of 1.5: it does not vary as they do.
    Source: means, one pooled variance, t: Snedecor & Cochran 1989, Statistical Methods, ch. 12; counts: see of_counts.
    """
    names, at = np.unique(np.asarray(treatment, str), return_inverse=True)
    k, n = np.asarray(k, float), np.asarray(n, float)
    did, seeds = np.bincount(at, k), np.bincount(at, n)
    spread = did / seeds * (1 - did / seeds)
    if min(did.min(), (seeds - did).min()) < NEAR_END or spread.max() > UNEVEN * spread.min():
        return of_counts(treatment, k, n, block)
    design, blocked = _design(at, names.size, block)
    df = k.size - design.shape[1]
    if df < 1:
        return None
    shares = k / n
    inverse = np.linalg.inv(design.T @ design)
    coefficients = inverse @ (design.T @ shares)
    variance = float(np.sum((shares - design @ coefficients) ** 2)) / df
    if variance < 1e-12:
        return of_counts(treatment, k, n, block)
    means = _averaging(design, names.size)
    covariance = variance * means @ inverse @ means.T
    own = np.bincount(at, shares) / np.bincount(at)
    return ShareMeans(
        tuple(names), means @ coefficients, covariance, seeds, df, POOLED, variance, blocked, counted=own
    )  # fmt: skip


def of_counts(treatment, k, n, block=None, *, beta=False):
    """Means from counts of units, quasi- or (where `beta`) beta-binomial -> ShareMeans, or None where no df are left.

    Score intervals with n / dispersion seeds, dispersion pooled over the treatments and never below 1. A treatment that
    is all 0 or all 100 % says nothing about the dispersion and takes that of the others. With blocks: shares averaged
    over the blocks, standard errors by the delta method, the same score intervals; a treatment that is all 0 or all
    100 % stays what it is. Where a block is all 0 or all 100 %, blocks are not allowed for, and a warning says so.
    True coverage of nominal 95 % (tests/coverage, final-dishes): 93 to 98 %, up to 100 % where dishes differ by no more
    than chance or few seeds lie near an end (CAREFUL).
    Source: dispersion: McCullagh & Nelder 1989, ch. 4.5; effective number: Kish 1965; intervals: Newcombe 1998.
    """
    names, at = np.unique(np.asarray(treatment, str), return_inverse=True)
    k, n = np.asarray(k, float), np.asarray(n, float)
    if k.size - names.size < 1:
        return None
    plain = partial(_plain_counts, tuple(names), at, k, n, beta)
    did, seeds = np.bincount(at, k), np.bincount(at, n)
    inner = (did > 0) & (did < seeds)
    design, blocked = _design(*_only(inner, at, block)) if block is not None and inner.any() else (None, False)
    if not blocked:
        return plain()
    fitted = _model(design, k[inner[at]], n[inner[at]], beta and np.bincount(at)[inner].min() >= DISHES_FOR_BETA)
    if fitted is None:
        means = plain()
        return replace(means, warnings=(*means.warnings, BLOCK_AT_END))
    return _blocked_counts(tuple(names), at, k, n, inner, design, fitted)


def _only(inner, at, block):
    """Treatment numbers, how many, and blocks of the units of the treatments that are at no end."""
    kept, where = np.unique(at[inner[at]], return_inverse=True)
    return where, kept.size, np.asarray(block)[inner[at]]


def _plain_counts(names, at, k, n, beta):
    did, seeds, units = np.bincount(at, k), np.bincount(at, n), np.bincount(at)
    inner = ((did > 0) & (did < seeds))[at]
    df = int(inner.sum() - np.unique(at[inner]).size)
    if df < 1:
        return _from_counts(names, did / seeds, seeds, k.size - len(names), QUASI, 1.0, (ALL_AT_ENDS,))
    if beta and units.min() >= DISHES_FOR_BETA:
        return _beta_counts(names, at, k, n, inner, df)
    expected = (did / seeds)[at] * n
    pearson = np.sum((k - expected)[inner] ** 2 / (expected * (n - expected) / n)[inner])
    dispersion = max(pearson / df, 1.0)
    return _from_counts(names, did / seeds, seeds / dispersion, df, QUASI, dispersion)


def _beta_counts(names, at, k, n, inner, df):
    """Maximum likelihood knows no degrees of freedom: Pearson's X2 over them mends what it takes too small."""
    kept, where = np.unique(at[inner], return_inverse=True)
    model = beta_binomial.fit(np.eye(kept.size)[where], k[inner], n[inner])
    shares = np.bincount(at, k) / np.bincount(at, n)
    shares[kept] = special.expit(model.coefficients)
    seeds = np.bincount(at, n / (1 + (n - 1) * model.rho)) / max(model.pearson / df, 1.0)
    return _from_counts(names, shares, seeds, df, BETA, model.rho, model.warnings)


def _from_counts(names, shares, seeds, df, model, spread, warnings=()):
    covariance = np.diag(shares * (1 - shares) / seeds)
    return ShareMeans(names, shares, covariance, seeds, df, model, spread, warnings=warnings)


def _blocked_counts(names, at, k, n, inner, design, fitted):
    """Means over the blocks of the treatments that are at no end; the others stand as they were counted."""
    model, (way, spread) = fitted
    linear = _in_each_block(design, int(inner.sum()))  # (blocks, t, p), weights beside
    by_block = special.expit(linear @ model.coefficients)
    weights = _block_weights(design, int(inner.sum()))
    slopes = np.einsum("b,bt,btp->tp", weights, by_block * (1 - by_block), linear)
    means = weights @ by_block
    scale = max(model.pearson / model.df_residual, 1.0)
    own = (scale if way == BETA else 1.0) * slopes @ model.covariance @ slopes.T
    counted = np.bincount(at, k) / np.bincount(at, n)
    shares, covariance = counted.copy(), np.zeros((len(names), len(names)))
    shares[inner] = means
    covariance[np.ix_(inner, inner)] = own
    seeds = np.bincount(at, n / (1 + (n - 1) * spread)) / scale if way == BETA else np.bincount(at, n) / spread
    seeds[inner] = means * (1 - means) / np.diag(own)
    return ShareMeans(
        names, shares, covariance, seeds, model.df_residual, way, spread, blocked=True, warnings=model.warnings,
        counted=counted,
    )  # fmt: skip


def _model(design, k, n, beta):
    """(model, (its way, its spread)); None where a block is all 0 or all 100 %."""
    if beta:
        try:
            model = beta_binomial.fit(design, k, n)
        except UnfitValue:
            return None
        return model, (BETA, model.rho)
    model = quasi_binomial.fit(design, k, n)
    return None if model.penalised else (model, (QUASI, model.dispersion))


def _design(at, treatments, block):
    """Treatment columns, then a column a block but the first where blocks can be told from treatments."""
    plain = np.eye(treatments)[at]
    levels, where = np.unique(np.asarray(block, str), return_inverse=True) if block is not None else ([""], None)
    if len(levels) < 2:
        return plain, False
    both = np.hstack([plain, np.eye(len(levels))[where][:, 1:]])
    crossed = np.linalg.matrix_rank(both) == both.shape[1] < at.size
    return (both, True) if crossed else (plain, False)


def _block_weights(design, treatments):
    later = design[:, treatments:].mean(0)
    return np.concatenate([[1 - later.sum()], later])


def _in_each_block(design, treatments):
    blocks = design.shape[1] - treatments
    columns = np.vstack([np.zeros(blocks), np.eye(blocks)])
    return np.stack([np.hstack([np.eye(treatments), np.tile(column, (treatments, 1))]) for column in columns])


def _averaging(design, treatments):
    """Rows that turn coefficients into means over the blocks."""
    later = design[:, treatments:].mean(0)
    return np.hstack([np.eye(treatments), np.tile(later, (treatments, 1))])
