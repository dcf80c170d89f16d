"""Chance that the analysis itself gives the answer, by trials made up and analysed all at once.

What is fitted is what palea.calc.stats.share_means fits to a real trial with units of one size: means with a pooled
variance, or quasi-binomial counts with score intervals, in complete blocks or without. A test holds the two equal.
Trials of different size are nested: 8 units are the first 8 of 40, so a curve over sizes is smooth and cheap.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import special

from palea.calc.stats import quasi_binomial, share_means
from palea.calc.stats.chance import stream, uniforms
from palea.calc.stats.proportions import hybrid_difference, score_interval
from palea.calc.terms import Kind
from palea.errors import UnfitValue

STEP = 0.01  # logits: chance effects are rounded to it, so that shares come from a table
REACH = 9.0
STEPS = 25
SETTLED = 1e-9
LONGEST = 5.0  # logits a step
FARTHEST = 30.0


@dataclass(frozen=True)
class Trial:
    """What is assumed of a trial of arms a and b, and of others that only help to tell the variance.

    share_a, share_b : expected shares.  others : shares of other arms.  seeds : m a dish or plot.  rho : correlation of
    two seeds of one of them.  dishes : pooled in one unit.  batch_sd, block_sd : of units (batches) and of blocks, on
    the logit scale.  blocked : complete blocks, one unit of each arm in each.  by_means : batches, whose shares are
    compared as means where nothing is near an end; else counts, quasi-binomial.
    """

    share_a: float
    share_b: float
    others: tuple[float, ...] = ()
    seeds: int = 25
    rho: float = 0.0
    dishes: int = 1
    batch_sd: float = 0.0
    block_sd: float = 0.0
    blocked: bool = False
    by_means: bool = False

    @property
    def shares(self):
        """(arms,) expected shares, a and b first."""
        return np.array([self.share_a, self.share_b, *self.others])


def draw(trial, units, trials, seed):
    """Seeds that did, (trials, arms, units), of trial.seeds x trial.dishes each.

    Dishes are beta-binomial with mean expit(logit p + batch + block). With effects of batches or blocks p is their
    middle: the mean lies a little nearer one half. units : per arm; blocks where blocked.
    Raises UnfitValue for a share outside 0 to 1, rho outside [0, 1), or fewer than 2 units.
    """
    _check(trial, units, trials)
    logit = special.logit(np.clip(trial.shares, 1e-9, 1 - 1e-9))[None, :, None]
    effect = np.zeros((trials, trial.shares.size, units))
    if trial.batch_sd:
        effect += trial.batch_sd * _normal(seed, "batch", effect.shape)
    if trial.block_sd:
        effect += trial.block_sd * _normal(seed, "block", (trials, 1, units))
    row = np.round((np.clip(logit + effect, -REACH, REACH) + REACH) / STEP).astype(np.int64)
    where, row = np.unique(row, return_inverse=True)
    row = row.reshape(effect.shape)
    shares = special.expit(where * STEP - REACH)
    if not (trial.batch_sd or trial.block_sd):
        shares = _exactly(where, trial.shares)
    ladder = _ladder(shares, trial.seeds, trial.rho)
    did = np.zeros(effect.shape, np.int64)
    for dish in range(trial.dishes):
        at = np.searchsorted(ladder, uniforms(stream(seed, "power", "dish", dish), effect.shape) + row, side="right")
        did += at - row * (trial.seeds + 1)
    return did


def _exactly(where, shares):
    """The shares as they were given, in place of their rounded steps: nothing was drawn between them."""
    own = np.round((np.clip(special.logit(np.clip(shares, 1e-9, 1 - 1e-9)), -REACH, REACH) + REACH) / STEP)
    return np.array([shares[np.flatnonzero(own == step)[0]] for step in where])


def _ladder(shares, seeds, rho):
    """Cumulative chances of 0 .. seeds - 1 seeds for each share, one after another, share i lifted by i."""
    k = np.arange(seeds + 1)
    share = shares[:, None]
    if rho > 0:
        a, b = share * (1 - rho) / rho, (1 - share) * (1 - rho) / rho
        a, b = np.maximum(a, 1e-12), np.maximum(b, 1e-12)
        log = special.betaln(k + a, seeds - k + b) - special.betaln(a, b)
    else:
        log = special.xlogy(k, share) + special.xlog1py(seeds - k, -share)
    choices = special.gammaln(seeds + 1) - special.gammaln(k + 1) - special.gammaln(seeds - k + 1)
    cumulative = np.cumsum(np.exp(log + choices), axis=1)
    cumulative[:, -1] = 1.0  # the last step ends the share's own stretch, whatever rounding left
    return (np.minimum(cumulative, 1.0) + np.arange(shares.size)[:, None]).ravel()


def _normal(seed, purpose, shape):
    return special.ndtri(uniforms(stream(seed, "power", purpose), shape) * (1 - 2e-16) + 1e-16)


@dataclass(frozen=True)
class Arms:
    """Shares and what is behind them, for every trial at once; arm 0 is a, arm 1 is b.

    shares, seeds : (trials, arms) as in share_means.ShareMeans.  variance : (trials,) of the difference, where
    `scored` is False.  scored : (trials,).  df, correlation : (trials,).
    """

    shares: np.ndarray
    seeds: np.ndarray
    variance: np.ndarray
    scored: np.ndarray
    df: np.ndarray
    correlation: np.ndarray

    def difference(self, confidence):
        """(lower, upper) of a minus b, each (trials,)."""
        critical = special.stdtrit(self.df, (1 + confidence) / 2)
        half = critical * np.sqrt(self.variance)
        value = self.shares[:, 0] - self.shares[:, 1]
        each = [self._one(arm, critical) for arm in (0, 1)]
        low, high = hybrid_difference(*each, self.correlation)
        return np.where(self.scored, low, value - half), np.where(self.scored, high, value + half)

    def _one(self, arm, critical):
        share = self.shares[:, arm]
        return share, *score_interval(share, self.seeds[:, arm], critical)


def analysed(k, n, *, blocked=False, by_means=False):
    """Fit every trial -> Arms. k : (trials, arms, units) of n seeds each."""
    if blocked:
        return _blocked(k, n)
    counts = _counts(k, n)
    if not by_means:
        return counts
    trials, arms, units = k.shape
    shares = k / n
    variance = shares.var(axis=2, ddof=1).mean(axis=1)
    did, spread = k.sum(axis=2), counts.shares * (1 - counts.shares)
    near = np.minimum(did, n * units - did).min(axis=1) < share_means.NEAR_END
    scored = near | (spread.max(axis=1) > share_means.UNEVEN * spread.min(axis=1)) | (variance < 1e-12)
    df = np.where(scored, counts.df, arms * (units - 1))
    return Arms(counts.shares, counts.seeds, 2 * variance / units, scored, df, np.zeros(trials))


def _counts(k, n):
    """Quasi-binomial, one dispersion for all arms; an arm that is all 0 or all 100 % says nothing about it."""
    trials, arms, units = k.shape
    did, seeds = k.sum(axis=2), n * units
    shares = did / seeds
    inner = (did > 0) & (did < seeds)
    df = inner.sum(axis=1) * (units - 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        parts = ((k - n * shares[:, :, None]) ** 2).sum(axis=2) / (n * shares * (1 - shares))
        dispersion = np.maximum(np.where(inner, parts, 0).sum(axis=1) / df, 1.0)
    dispersion = np.where(df > 0, dispersion, 1.0)
    return Arms(
        shares, np.broadcast_to(seeds / dispersion[:, None], shares.shape), np.zeros(trials), np.ones(trials, bool),
        np.where(df > 0, df, arms * (units - 1)).astype(float), np.zeros(trials),
    )  # fmt: skip


def _blocked(k, n):
    """Quasi-binomial logit model with blocks, shares averaged over the blocks; the block parameters are eliminated.

    An arm that is all 0 or all 100 % stays out of it. Where a block is, or no degrees of freedom are left, blocks are not
    allowed for.
    """
    plain = _counts(k, n)
    found = {name: np.array(getattr(plain, name), float) for name in ("shares", "seeds", "df", "correlation")}
    inner = (plain.shares > 0) & (plain.shares < 1)
    for pattern in np.unique(inner, axis=0):
        if (pattern.sum() - 1) * (k.shape[2] - 1) >= 1:
            at = np.flatnonzero((inner == pattern).all(axis=1))
            _allow_for_blocks(found, k, n, at, pattern)
    return Arms(variance=np.zeros(len(k)), scored=np.ones(len(k), bool), **found)


def _allow_for_blocks(found, k, n, at, inner):
    """Put the answers of the model with blocks in for the trials `at`, in which the arms `inner` are at no end."""
    part = k[np.ix_(at, inner)]
    fitted = _fitted(part, n)
    able = np.minimum(fitted, 1 - fitted).min(axis=(1, 2)) > quasi_binomial.EXTREME
    at, part, fitted = at[able], part[able], fitted[able]
    df = (part.shape[1] - 1) * (part.shape[2] - 1)
    shares, seeds, correlation, dispersion = _averaged(part, n, fitted, df)
    found["seeds"][at] = n * k.shape[2] / dispersion[:, None]
    found["shares"][np.ix_(at, inner)], found["seeds"][np.ix_(at, inner)] = shares, seeds
    found["df"][at], found["correlation"][at] = df, correlation if inner[:2].all() else 0.0


def _fitted(k, n):
    """Shares of every arm and block, (trials, arms, blocks), by Fisher scoring on the arms alone."""
    arm = np.zeros(k.shape[:2])
    block = special.logit((k.sum(axis=1) + 0.5) / (n * k.shape[1] + 1.0))
    p = special.expit(arm[:, :, None] + block[:, None, :])
    for _ in range(STEPS):
        w = n * p * (1 - p)
        of_block = w.sum(axis=1)
        core, left = _core(w, of_block), k - n * p
        gap = left.sum(axis=1)
        right = left.sum(axis=2) - np.einsum("tab,tb->ta", w, gap / of_block)
        step = np.zeros_like(arm)
        step[:, 1:] = np.linalg.solve(core, right[:, 1:, None])[:, :, 0]
        up = (gap - np.einsum("tab,ta->tb", w, step)) / of_block
        size = np.maximum(np.abs(step).max(axis=1), np.abs(up).max(axis=1))
        part = np.minimum(1.0, LONGEST / np.maximum(size, 1e-300))[:, None]
        arm, block = arm + part * step, block + part * up
        p = special.expit(arm[:, :, None] + np.clip(block, -FARTHEST, FARTHEST)[:, None, :])
        if size.max(initial=0) < SETTLED or _settled(size, p):
            break
    return p


def _settled(size, p):
    """Whether all that still move are on their way to 0 or 100 %: for them blocks are not allowed for."""
    return (np.minimum(p, 1 - p).min(axis=(1, 2))[size > SETTLED] < quasi_binomial.EXTREME).all()


def _core(w, of_block):
    """Information on the arms but the first, the blocks eliminated: (trials, arms - 1, arms - 1)."""
    own = w[:, 1:]
    core = -np.einsum("tab,tcb->tac", own / of_block[:, None, :], own)
    at = np.arange(own.shape[1])
    core[:, at, at] += own.sum(axis=2)
    return core


def _averaged(k, n, p, df):
    """Shares averaged over blocks, effective seeds, correlation of the first two, dispersion; by the delta method."""
    trials, arms, blocks = p.shape
    w = n * p * (1 - p)
    of_block = w.sum(axis=1)
    dispersion = np.maximum(((k - n * p) ** 2 / w).sum(axis=(1, 2)) / df, 1.0)
    slope = p * (1 - p) / blocks  # of the mean of an arm, by each block's parameter
    on_arm = np.zeros((trials, arms, arms))
    on_arm[:, np.arange(arms), np.arange(arms)] = slope.sum(axis=2)
    on_arm -= np.einsum("tab,tcb->tac", slope / of_block[:, None, :], w)
    core = np.linalg.inv(_core(w, of_block))
    covariance = np.einsum("tac,tcd,tbd->tab", on_arm[:, :, 1:], core, on_arm[:, :, 1:])
    covariance += np.einsum("tab,tcb->tac", slope / of_block[:, None, :], slope)
    covariance *= dispersion[:, None, None]
    shares = p.mean(axis=2)
    variances = covariance[:, np.arange(arms), np.arange(arms)]
    correlation = covariance[:, 0, 1] / np.sqrt(variances[:, 0] * variances[:, 1])
    return shares, shares * (1 - shares) / variances, correlation, dispersion


def power(trial, sizes, *, kind="superiority", margin=np.nan, wanted="higher", confidence=0.95, trials=1000, seed=1):
    """Share of made-up trials in which the analysis shows what is asked, for each number of units an arm: (sizes,).

    sizes : rising numbers of units an arm (of blocks, where blocked).  kind : superiority, the outer interval of a
    minus b excludes 0 on the side where a is expected; no worse, the inner one ends short of the margin on the worse
    side; equivalence, it lies inside the margin either way.  margin : as a share.  wanted : which way is better.
    Comes from `trials` trials, so it is good to about 1.96 sqrt(p (1 - p) / trials).
    Raises UnfitValue as `draw`, for sizes that do not rise, and for a kind that needs a margin and has none.
    Source: Monte Carlo of the models of share_means; the counting of successes is common practice, no source.
    """
    sizes = [int(size) for size in np.atleast_1d(sizes)]
    if any(a >= b for a, b in pairwise(sizes)):
        msg = f"sizes are {sizes}; allowed are numbers of units that rise, as in 4, 8, 12."
        raise UnfitValue(msg)
    if kind != Kind.SUPERIORITY and not margin > 0:
        msg = f"margin is {margin}; a question of kind “{kind}” needs a margin above 0, as in 0.1 for 10 points."
        raise UnfitValue(msg)
    did = draw(trial, sizes[-1], trials, seed)
    if did.size and sizes[0] < 2:
        msg = f"sizes begin at {sizes[0]}; with fewer than 2 units an arm nothing can be judged."
        raise UnfitValue(msg)
    up = trial.share_a >= trial.share_b if trial.share_a != trial.share_b else wanted != "lower"
    found = []
    for size in sizes:
        arms = analysed(did[:, :, :size], trial.seeds * trial.dishes, blocked=trial.blocked, by_means=trial.by_means)
        found.append(np.mean(_shown(arms, kind, margin, wanted, up, confidence)))
    return np.array(found)


def _shown(arms, kind, margin, wanted, up, confidence):
    if kind == Kind.SUPERIORITY:
        low, high = arms.difference(confidence)
        return low > 0 if up else high < 0
    low, high = arms.difference(2 * confidence - 1)
    above, below = low > -margin, high < margin
    if kind == Kind.NO_WORSE:
        return below if wanted == "lower" else above
    return above & below


def _check(trial, units, trials):
    shares = trial.shares
    if not ((shares > 0) & (shares < 1)).all():
        msg = f"A share of {shares[~((shares > 0) & (shares < 1))][0]:g} was expected; allowed is above 0 and below 1."
        raise UnfitValue(msg)
    if not 0 <= trial.rho < 1:
        msg = f"rho is {trial.rho}; allowed is 0 or above and below 1, as in 0.02."
        raise UnfitValue(msg)
    if min(units, trials, trial.seeds, trial.dishes) < 1 or units < 2:
        msg = f"{units} units of {trial.dishes} x {trial.seeds} seeds and {trials} trials: 2 units or more, the rest 1 or more."
        raise UnfitValue(msg)
