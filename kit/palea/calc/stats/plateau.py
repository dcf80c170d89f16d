"""Time to germination with a share that never germinates: a log-logistic curve fitted to interval counts.

Seen by time t: d / (1 + (t / e) ** -b), that is S(t) = 1 - d + d / (1 + (t / e) ** b). d is the share that germinates
in the end, e the time by which half of those have, b the shape (large: all at once). Many count vectors over the same
intervals are fitted at once, because a bootstrap asks for thousands of fits.
"""

from copy import copy
from dataclasses import dataclass

import numpy as np
from scipy.special import expit, log_expit, logit

from palea.calc.stats.time_to_event import cells, masses, quantiles
from palea.errors import UnfitValue

SHAPE_RANGE = (0.05, 200.0)  # beyond this b makes no visible difference; a fit that ends here has no shape to speak of
_STEPS = 60
_STEEP = 1e-9  # largest gradient per seed of a finished fit, in logit d, log e, log b
_FULL = 7.0  # logit d above which "all germinate" is tried too


@dataclass(frozen=True)
class PlateauFit:
    """Fits of r count vectors, every field (r,).

    share : d in [0, 1]; exactly 1 where all germinate in the end fits best, 0 where nothing germinated.
    half_time : e, in the unit of the intervals; nan where fewer than two intervals hold germinants.
    shape : b; nan where fewer than three do, or where the best is at the end of SHAPE_RANGE.
    loglik : sum of count x log(probability of the interval).
    se_logit_share, se_log_half_time, se_log_shape : from the observed information; nan where the parameter is not
    estimated (d = 1) or the information is not positive.
    settled : whether the fit ended at a maximum.
    """

    share: np.ndarray
    half_time: np.ndarray
    shape: np.ndarray
    loglik: np.ndarray
    se_logit_share: np.ndarray
    se_log_half_time: np.ndarray
    se_log_shape: np.ndarray
    settled: np.ndarray


def fit(left, right, counts, *, never=True):
    """Maximum likelihood over (left, right] intervals for each row of counts.

    left, right : (n,) shared intervals, 0 <= left < right; right = inf, not seen to germinate by `left`.
    counts : (r, n), >= 0, whole or not.  never : False holds d at 1 (the plain log-logistic).
    Returns PlateauFit. Newton steps on (logit d, log e, log b) with analytic second derivatives, damped until the
    likelihood rises; where d runs to 1 the curve with d = 1 is fitted as well and the better one kept.
    Raises UnfitValue for an interval without length or before time 0.
    Source: log-logistic with a non-susceptible fraction, interval-censored: Farewell 1982, Biometrics 38:1041-1046.
    """
    left, right, counts = np.asarray(left, float), np.asarray(right, float), np.atleast_2d(np.asarray(counts, float))
    wrong = ~((left >= 0) & (right > left))
    if wrong.any():
        at = int(np.argmax(wrong))
        msg = f"Interval {at + 1} runs from {left[at]:g} to {right[at]:g}; a fit needs 0 <= left < right."
        raise UnfitValue(msg)
    data = _Intervals(left, right, counts)
    if not never:
        start, fixed = data.start(), np.zeros((len(counts), 3), bool)
        start[:, 0], fixed[:, 0] = np.inf, True
        return data.finish(*_climb(data, start, fixed))
    return data.finish(*_best(data))


def seen_by(fitted, time):
    """Share germinated by each time, (r, k) for (k,) times >= 0; nan rows where e or b is."""
    with np.errstate(divide="ignore"):
        z = fitted.shape[:, None] * (np.log(np.asarray(time, float)) - np.log(fitted.half_time[:, None]))
    return fitted.share[:, None] * expit(z)


class _Intervals:
    """Counts laid out for the likelihood: seen intervals apart from those without end, log times once each."""

    def __init__(self, left, right, counts):
        self.left, self.right = left, right
        self._open_end = np.isinf(right)
        with np.errstate(divide="ignore"):
            self.log_from, self.log_to = np.log(left[~self._open_end]), np.log(right[~self._open_end])
            self.log_until = np.log(left[self._open_end])
        self.lay_out(counts)
        places = _places(left[~self._open_end], right[~self._open_end])
        self.filled = ((self.seen > 0).astype(float) @ places > 0).sum(axis=1)

    def lay_out(self, counts):
        """Take these count vectors."""
        self.counts = counts
        self.seen, self.waiting = counts[:, ~self._open_end], counts[:, self._open_end]
        self.germinated, self.total = self.seen.sum(axis=1), counts.sum(axis=1)

    def start(self):
        """First guesses (r, 3): what was seen as d, its interpolated median and quartiles as e and b."""
        where = cells(self.left, self.right)
        mass = masses(where, self.counts, tolerance=1e-3)
        share = np.clip(self.germinated / np.maximum(self.total, 1), 0.02, 0.98)
        end = np.where(np.isinf(where.upper), 0, mass).sum(axis=1)
        quarter = quantiles(where, mass, end[:, None] * np.array([[0.25, 0.5, 0.75]]))
        with np.errstate(all="ignore"):
            log_quarter = np.log(quarter)
            wide = log_quarter[:, 2] - log_quarter[:, 0]
            shape = np.clip(2 * np.log(3) / wide, 0.5, 30)
        return np.nan_to_num(np.column_stack([logit(share), log_quarter[:, 1], np.log(shape)]), posinf=3.0, neginf=0.0)

    def rows(self, which):
        """The same intervals with only some of the count vectors."""
        part = copy(self)
        part.lay_out(self.counts[which])
        part.filled = self.filled[which]
        return part

    def loglik(self, theta):
        """(r,) log-likelihood at (r, 3) of logit d, log e, log b."""
        return _loglik(self, theta)

    def finish(self, theta, settled):
        """PlateauFit of (r, 3) final parameters."""
        _, curvature = _slopes(self, theta)
        se = _standard_errors(curvature, np.isinf(theta[:, 0]))
        none, poor, some = self.germinated == 0, self.filled < 2, self.filled < 3
        bound = ~((theta[:, 2] > np.log(SHAPE_RANGE[0]) + 1e-6) & (theta[:, 2] < np.log(SHAPE_RANGE[1]) - 1e-6))
        blank = self.total == 0
        share = np.where(blank, np.nan, np.where(none, 0.0, expit(theta[:, 0])))
        se[some | bound] = np.nan
        return PlateauFit(
            share, np.where(poor, np.nan, np.exp(theta[:, 1])),
            np.where(some | bound, np.nan, np.exp(theta[:, 2])),
            np.where(blank, np.nan, np.where(none, 0.0, self.loglik(theta))), *se.T, settled & ~poor,
        )


def _places(left, right):
    """(n, k) innermost place of each seen interval, so that overlapping looks at one moment do not count twice."""
    if not left.size:
        return np.zeros((0, 1))
    where = cells(left, right)
    place = np.zeros((left.size, where.lower.size))
    place[np.arange(left.size), where.first] = 1
    return place


def _best(data):
    """Free fit and, where d runs to 1 or nothing was left over, the fit with d = 1; the better of the two."""
    start, fixed = data.start(), np.zeros((len(data.counts), 3), bool)
    full = data.total <= data.germinated
    start[full, 0], fixed[full, 0] = np.inf, True
    theta, settled = _climb(data, start, fixed)
    doubt = np.flatnonzero(~full & ((theta[:, 0] > _FULL) | ~settled))
    if doubt.size:
        part = data.rows(doubt)
        all_come = theta[doubt].copy()
        all_come[:, 0], held = np.inf, np.zeros((doubt.size, 3), bool)
        held[:, 0] = True
        other, fine = _climb(part, all_come, held)
        better = part.loglik(other) >= part.loglik(theta[doubt]) - 1e-9
        theta[doubt[better]], settled[doubt[better]] = other[better], fine[better]
    return theta, settled


def _climb(data, theta, fixed):
    """Damped Newton steps for all rows at once; rows that have settled drop out. Returns theta (r, 3), settled (r,)."""
    theta, settled = theta.copy(), np.zeros(len(theta), bool)
    settled[(data.germinated == 0) | (data.filled < 2)] = True  # nothing to climb; blanked when finished
    damp = np.full(len(theta), 1e-3)
    rows = np.flatnonzero(~settled)
    part = data.rows(rows)
    now = part.loglik(theta[rows])
    for _ in range(_STEPS):
        if not rows.size:
            break
        slope, curvature = _slopes(part, theta[rows])
        held = fixed[rows] | _outward(theta[rows], slope)
        slope = np.where(held, 0, slope)
        done = np.abs(slope).max(axis=1) <= _STEEP * part.total
        step = _step(slope, curvature, held, damp[rows])
        ahead = theta[rows] + step
        ahead[:, 2] = np.clip(ahead[:, 2], *np.log(SHAPE_RANGE))
        reached = part.loglik(ahead)
        rose = reached >= now - 1e-12 * np.abs(now)
        theta[rows] = np.where((rose & ~done)[:, None], ahead, theta[rows])
        damp[rows] = np.where(rose, damp[rows] / 10, damp[rows] * 10)
        now = np.where(rose, reached, now)
        settled[rows[done]] = True
        if done.any():
            rows, part, now = rows[~done], part.rows(~done), now[~done]
    return theta, settled


def _outward(theta, slope):
    """Shape at an end of its range and pulled further out."""
    low, high = np.log(SHAPE_RANGE)
    out = np.zeros(theta.shape, bool)
    out[:, 2] = ((theta[:, 2] >= high) & (slope[:, 2] > 0)) | ((theta[:, 2] <= low) & (slope[:, 2] < 0))
    return out


def _step(slope, curvature, held, damp):
    """Newton step on -curvature made positive: eigenvalues by size, plus damping; at most 2 in any direction."""
    bent = -curvature
    bent[held[:, :, None] | held[:, None, :]] = 0
    bent[:, [0, 1, 2], [0, 1, 2]] += held
    value, axes = np.linalg.eigh(bent)
    value = np.abs(value)
    value += damp[:, None] * value.max(axis=1, keepdims=True) * 1e-3 + 1e-12
    step = np.einsum("rij,rj->ri", axes, np.einsum("rji,rj->ri", axes, slope) / value)
    return step * np.minimum(1, 2 / np.maximum(np.abs(step).max(axis=1, keepdims=True), 1e-300))


def _standard_errors(curvature, full):
    bent = -curvature
    bent[full, 0, :] = bent[full, :, 0] = 0
    bent[full, 0, 0] = 1
    fit_for_it = np.isfinite(bent).all(axis=(1, 2))
    bent[~fit_for_it] = np.eye(3)
    firm = fit_for_it & (np.linalg.eigvalsh(bent).min(axis=1) > 1e-10)
    bent[~firm] = np.eye(3)
    se = np.sqrt(np.diagonal(np.linalg.inv(bent), axis1=1, axis2=2))
    se = np.where(firm[:, None], se, np.nan)
    se[full, 0] = np.nan
    return se


def _loglik(data, theta):
    """Seen: log d + log(G(to) - G(from)), the difference as a product that does not cancel; waiting: log(1 - d G)."""
    d, log_e, b = theta[:, :1], theta[:, 1:2], np.exp(theta[:, 2:])
    z_from, z_to = b * (data.log_from - log_e), b * (data.log_to - log_e)
    inside = log_expit(z_to) + log_expit(-z_from) + np.log(-np.expm1(np.minimum(z_from - z_to, -1e-300)))
    left_over = np.log(np.maximum(expit(-d) + expit(d) * expit(-b * (data.log_until - log_e)), 1e-300))
    return data.germinated * log_expit(theta[:, 0]) + (
        np.where(data.seen > 0, data.seen * inside, 0).sum(axis=1) + (data.waiting * left_over).sum(axis=1)
    )


def _slopes(data, theta):
    """Gradient (r, 3) and second derivatives (r, 3, 3) of the log-likelihood in logit d, log e, log b."""
    d, rest, b = expit(theta[:, :1]), expit(-theta[:, :1]), np.exp(theta[:, 2:])
    z_from, z_to, z = (b * (log_time - theta[:, 1:2]) for log_time in (data.log_from, data.log_to, data.log_until))
    grown_from, grown_to = _grown(z_from), _grown(z_to)
    rise = grown_to[0] * grown_from[1] * -np.expm1(z_from - z_to)  # G(to) - G(from) without cancellation
    inside = np.maximum(rise, 1e-300)
    first, second = _curve(z_from, b, *grown_from), _curve(z_to, b, *grown_to)
    by_e, by_b, ee, eb, bb = ((two - one) / inside for one, two in zip(first, second, strict=True))
    seen = data.seen
    slope_e, slope_b = (seen * by_e).sum(axis=1), (seen * by_b).sum(axis=1)
    curve_ee, curve_eb, curve_bb = (
        (seen * part).sum(axis=1) for part in (ee - by_e**2, eb - by_e * by_b, bb - by_b**2)
    )
    grown = expit(z)
    left = np.maximum(rest + d * expit(-z), 1e-300)
    g_e, g_b, g_ee, g_eb, g_bb = (part / left for part in _curve(z, b, *_grown(z)))
    g_d, spread = grown / left, d * rest
    w = data.waiting
    parts = {
        (0, 0): -spread * (1 - 2 * d) * g_d - (spread * g_d) ** 2, (0, 1): -spread * g_e - spread * d * g_d * g_e,
        (0, 2): -spread * g_b - spread * d * g_d * g_b, (1, 1): -d * g_ee - (d * g_e) ** 2,
        (1, 2): -d * g_eb - d * d * g_e * g_b, (2, 2): -d * g_bb - (d * g_b) ** 2,
    }
    curvature = np.empty((len(theta), 3, 3))
    for (i, j), part in parts.items():
        curvature[:, i, j] = curvature[:, j, i] = (w * part).sum(axis=1)
    curvature[:, 0, 0] -= data.germinated * spread[:, 0]
    curvature[:, 1, 1] += curve_ee
    curvature[:, 2, 2] += curve_bb
    curvature[:, 1, 2] += curve_eb
    curvature[:, 2, 1] += curve_eb
    slope = np.column_stack([
        data.germinated * rest[:, 0] - (w * spread * g_d).sum(axis=1),
        slope_e - (w * d * g_e).sum(axis=1), slope_b - (w * d * g_b).sum(axis=1),
    ])
    return slope, curvature


def _grown(z):
    """G = expit(z) and 1 - G; z as low as can be told from -inf at t = 0."""
    z = np.maximum(z, -700)
    return expit(z), expit(-z)


def _curve(z, b, grown, left):
    """Derivatives of G = expit(z), z = b (log t - log e): by log e, log b, then both twice; 0 at t = 0."""
    z = np.maximum(z, -700)
    g = grown * left
    bend = g * (left - grown)
    by_b = z * g
    return -b * g, by_b, b * b * bend, -b * (g + z * bend), by_b + z * z * bend
