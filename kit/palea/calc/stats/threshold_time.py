"""Time to an event that a threshold governs (water potential, temperature): fitted to counts of inspection intervals.

Seen by time t in condition i: d F(u_i(t)), F the normal distribution, u a model's own function of time and condition,
d the share of the condition's group that ever would. Seeds seen between two looks count with d (F(u2) - F(u1)), those
not seen by the last look with 1 - d F(u). Many count vectors over the same intervals are fitted at once, because a
resampling of dishes asks for a thousand fits.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy.special import expit, logit, ndtr

STEPS = 200
STEEP = 1e-8  # largest gradient per seed of a finished fit
MOST_LOGIT = 14.0  # beyond it "all would" and "nearly all would" cannot be told apart
NEAR = 0.5  # of MOST_LOGIT: there already
TINY = 1e-300
_ROOT = np.sqrt(2 * np.pi)


@dataclass(frozen=True)
class Looks:
    """Inspection intervals (left, right] and the group of each, all (n,); right = inf: not seen by `left`.

    group : which share d holds for it, 0 to g - 1.
    """

    left: np.ndarray
    right: np.ndarray
    group: np.ndarray

    @property
    def groups(self):
        """How many shares there are."""
        return int(self.group.max()) + 1 if self.group.size else 0


@dataclass(frozen=True)
class ThresholdFit:
    """Fits of r count vectors.

    shape : (r, k) the model's own parameters, on its own scale.  share : (r, g) that ever would, by group.
    loglik : (r,) sum of count x log(probability).  settled : (r,) whether the fit ended at a maximum.
    covariance : (r, k, k) of `shape`, from the curvature, the shares estimated too; for independent seeds.
    """

    shape: np.ndarray
    share: np.ndarray
    loglik: np.ndarray
    settled: np.ndarray
    covariance: np.ndarray = field(repr=False)


def fit(model, looks, counts, start):
    """Maximum likelihood for each row of counts -> ThresholdFit.

    model : has `reach(shape, time)`: (r, k) parameters and (n,) times > 0 to u (r, n) and du/dshape (r, n, k).
    looks : Looks, n of them.  counts : (r, n), >= 0, whole or not.  start : (k,) or (r, k) first guess of `shape`.
    Steps of Newton's kind on (shape, logit d) with curvature from first derivatives of u, damped until the likelihood
    rises. A share runs to at most expit(14). Rows without a seed are nan and not settled.
    Source: likelihood of grouped data: McCullagh & Nelder 1989; damping: Marquardt 1963, J. SIAM 11:431-441.
    """
    data = _Data(model, looks, np.atleast_2d(np.asarray(counts, float)))
    theta = data.start(np.asarray(start, float))
    theta, settled = _climb(data, theta)
    value, _, curvature = data.slopes(theta)
    k = theta.shape[1] - looks.groups
    blank = data.total == 0
    theta[blank] = np.nan
    return ThresholdFit(
        theta[:, :k], expit(theta[:, k:]), np.where(blank, np.nan, value), settled & ~blank, _inverse(curvature)[:, :k, :k]
    )  # fmt: skip


def _inverse(curvature):
    """Of the information; nan where it is not positive."""
    bent = -curvature
    bent += 1e-10 * np.eye(bent.shape[1]) * np.abs(bent).max(axis=(1, 2), keepdims=True, initial=1e-12)
    good = np.isfinite(bent).all(axis=(1, 2))
    bent[~good] = np.eye(bent.shape[1])
    inverse = np.linalg.inv(bent)
    good &= (np.diagonal(inverse, axis1=1, axis2=2) > 0).all(axis=1)
    return np.where(good[:, None, None], inverse, np.nan)


class _Data:
    """Counts laid out for the likelihood."""

    def __init__(self, model, looks, counts):
        self.model, self.looks, self.counts = model, looks, counts
        self.waiting = np.isinf(looks.right)
        self.from_start = looks.left <= 0
        self.left = np.where(self.from_start, 1.0, looks.left)  # any time above 0: what is seen by 0 is set to none
        self.right = np.where(self.waiting, 1.0, looks.right)
        self.of_group = np.eye(looks.groups)[looks.group]
        self.total = counts.sum(axis=1)

    def rows(self, which):
        return _Data(self.model, self.looks, self.counts[which])

    def start(self, shape):
        """First guess: shares as seen, a little above."""
        seen = np.where(self.waiting, 0, self.counts) @ self.of_group
        share = np.clip(1.02 * seen / np.maximum(self.counts @ self.of_group, 1e-12), 0.01, 0.99)
        return np.hstack([np.broadcast_to(shape, (len(self.counts), shape.shape[-1])), logit(share)])

    def _seen_by(self, shape, time, nobody):
        """F(u), its density and du; 0 where nobody can have been seen."""
        u, du = self.model.reach(shape, time)
        u = np.clip(u, -37, 37)
        density = np.exp(-(u**2) / 2) / _ROOT
        return np.where(nobody, -37.0, u), np.where(nobody, 0.0, density), np.where(nobody[:, None], 0.0, du)

    def _parts(self, theta):
        k = theta.shape[1] - self.looks.groups
        shape, share = theta[:, :k], expit(theta[:, k:])[:, self.looks.group]
        low, f_low, du_low = self._seen_by(shape, self.left, self.from_start)
        high, f_high, du_high = self._seen_by(shape, self.right, np.zeros(self.waiting.shape, bool))
        flip = low > 0  # in the upper tail the difference of the complements does not cancel
        rise = np.where(flip, ndtr(-low) - ndtr(-high), ndtr(high) - ndtr(low))
        return share, (low, f_low, du_low), (high, f_high, du_high), rise

    def loglik(self, theta):
        """(r,) log-likelihood."""
        share, (low, *_), _, rise = self._parts(theta)
        inside = np.where(self.waiting, 1 - share * ndtr(low), share * rise)
        return np.where(self.counts > 0, self.counts * np.log(np.maximum(inside, TINY)), 0).sum(axis=1)

    def slopes(self, theta):
        """Log-likelihood (r,), gradient (r, p) and curvature (r, p, p); u's own bend is left out of the curvature."""
        share, low, high, rise = self._parts(theta)
        sign, waiting = np.where(self.waiting, -1.0, 1.0), self.waiting
        inside = np.maximum(np.where(waiting, 1 - share * ndtr(low[0]), share * rise), TINY)
        grown = np.where(waiting, ndtr(low[0]), rise)  # d x this is what the share moves
        by_high = np.where(waiting, 0.0, share * high[1])
        by_low = -share * low[1]
        spread = share * (1 - share)
        of_share = self.of_group[None] * (sign * spread * grown)[..., None]
        first = np.concatenate([by_high[..., None] * high[2] + by_low[..., None] * low[2], of_share], axis=2)
        first /= inside[..., None]
        weight = np.where(self.counts > 0, self.counts, 0.0)
        gradient = np.einsum("rn,rnp->rp", weight, first)
        curvature = -np.einsum("rn,rnp,rnq->rpq", weight, first, first)
        curvature += self._second(weight / inside, share, spread, low, high, grown, sign, by_low, by_high)
        return self.loglik(theta), gradient, curvature

    def _second(self, weight, share, spread, low, high, grown, sign, by_low, by_high):
        """Second derivatives of the probabilities, weighted and added up: (r, p, p)."""
        k, g = low[2].shape[2], self.looks.groups
        out = np.zeros((len(weight), k + g, k + g))
        for by, (u, _, du) in ((by_high, high), (by_low, low)):  # the density falls by u times itself
            out[:, :k, :k] += np.einsum("rn,rnp,rnq->rpq", weight * by * -u, du, du)
            cross = np.einsum("rn,rnp,ng->rpg", weight * by * (1 - share), du, self.of_group)
            out[:, :k, k:] += cross
            out[:, k:, :k] += cross.transpose(0, 2, 1)
        bend = (weight * sign * spread * (1 - 2 * share) * grown) @ self.of_group
        out[:, np.arange(k, k + g), np.arange(k, k + g)] += bend
        return out


def _climb(data, theta):
    """Damped steps for all rows at once; rows that have settled drop out."""
    theta, settled = theta.copy(), data.total == 0
    shares = data.looks.groups
    damp = np.full(len(theta), 1e-3)
    rows = np.flatnonzero(~settled)
    part = data.rows(rows)
    for _ in range(STEPS):
        if not rows.size:
            break
        now, slope, curvature = part.slopes(theta[rows])
        held = _outward(theta[rows], slope, shares)
        slope = np.where(held, 0, slope)
        done = np.abs(slope).max(axis=1) <= STEEP * part.total
        ahead = theta[rows] + _step(slope, curvature, held, damp[rows])
        ahead[:, -shares:] = np.clip(ahead[:, -shares:], -MOST_LOGIT, MOST_LOGIT)
        value = part.loglik(ahead)
        rose = value >= now - 1e-12 * np.abs(now)
        theta[rows] = np.where((rose & ~done)[:, None], ahead, theta[rows])
        damp[rows] = np.clip(np.where(rose, damp[rows] / 10, damp[rows] * 10), 1e-9, 1e9)
        stuck = damp[rows] >= 1e9
        settled[rows[done]] = True
        if (done | stuck).any():
            rows, part = rows[~(done | stuck)], part.rows(~(done | stuck))
    return theta, settled


def _outward(theta, slope, shares):
    """Shares at an end of their range and pulled further out."""
    out = np.zeros(theta.shape, bool)
    logits, pull = theta[:, -shares:], slope[:, -shares:]
    out[:, -shares:] = ((logits >= MOST_LOGIT - NEAR) & (pull > 0)) | ((logits <= NEAR - MOST_LOGIT) & (pull < 0))
    return out


def _step(slope, curvature, held, damp):
    """Newton step on -curvature scaled to a unit diagonal and made positive, damped; none of what is held."""
    scale = np.sqrt(np.maximum(np.abs(np.diagonal(curvature, axis1=1, axis2=2)), 1e-12))
    bent = -curvature / (scale[:, :, None] * scale[:, None, :])
    bent[held[:, :, None] | held[:, None, :]] = 0
    bent += held[:, :, None] * np.eye(held.shape[1])
    value, axes = np.linalg.eigh(np.where(np.isfinite(bent), bent, 0))
    value = np.abs(value) + damp[:, None] + 1e-9
    return np.einsum("rij,rj->ri", axes, np.einsum("rji,rj->ri", axes, slope / scale) / value) / scale
