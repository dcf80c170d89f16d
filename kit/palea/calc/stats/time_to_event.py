"""Time to an event that was only looked for now and then: the curve that fits best without a formula (NPMLE).

An event seen at t2 but not at t1 lies in (t1, t2], open on the left and closed on the right, everywhere. right = inf
says that it was not seen by `left`; left = right says that it was watched happening at that instant. Everything starts
from counts of equal intervals, never from one row a seed.
"""

from dataclasses import dataclass

import numpy as np
from scipy.optimize import nnls

from palea.errors import UnfitValue

_EM_STEPS = 20
_NEWTON_STEPS = 200
_SLACK = 1e-12  # a quantile that falls on a step up to rounding is reached by that step


@dataclass(frozen=True)
class Cells:
    """The innermost intervals, the only places where a best-fitting curve can rise.

    lower, upper : (m,) their ends, rising; upper = inf for what was never seen.
    first, after : (n,) cells that observed interval i covers: first[i] up to, not including, after[i].
    """

    lower: np.ndarray
    upper: np.ndarray
    first: np.ndarray
    after: np.ndarray

    @property
    def closed_form(self):
        """Whether each observed interval is one cell or runs to the end: then the life table is the answer."""
        return bool(np.all((self.after - self.first == 1) | (self.after == self.lower.size)))


@dataclass(frozen=True)
class Steps:
    """A fitted curve: `mass` of the events in each cell (lower, upper]; the masses add up to 1.

    loglik : sum of count x log(mass within the observed interval).  gap : how far, at most, loglik lies below the best.
    """

    lower: np.ndarray
    upper: np.ndarray
    mass: np.ndarray
    loglik: float
    gap: float

    def seen_by(self, time):
        """Share whose event is certain to lie at or before `time`, for any shape of `time`."""
        total = np.append(0.0, np.cumsum(self.mass))
        return total[np.searchsorted(self.upper, time, side="right")]

    def quantile(self, share):
        """Time by which `share` of all have had the event; see `quantiles`."""
        return quantiles(self, self.mass[None], np.atleast_1d(share).astype(float)[None])[0]


def cells(left, right):
    """Innermost intervals of (n,) observed intervals (left, right].

    Raises UnfitValue, naming the position, where left > right or an end is missing.
    Source: Turnbull 1976, J. R. Stat. Soc. B 38:290-295; ends open on the left as in Ng 2002, Biometrics 58:439-442.
    """
    left, right = np.asarray(left, float), np.asarray(right, float)
    wrong = ~(left <= right) | np.isinf(left)
    if wrong.any():
        at = int(np.argmax(wrong))
        msg = f"Interval {at + 1} runs from {left[at]:g} to {right[at]:g}; the first look cannot come after the second."
        raise UnfitValue(msg)
    times = np.unique(np.concatenate([left, right]))
    begin = 2 * np.searchsorted(times, left) + (left < right)  # just after an open end, at the instant itself otherwise
    end = 2 * np.searchsorted(times, right)
    ends = np.concatenate([begin, end])
    closing = np.repeat([0, 1], left.size)
    order = np.lexsort([closing, ends])  # an opening before a closing at the same instant: that instant is a cell
    ends, closing = ends[order], closing[order]
    here = np.flatnonzero((closing[:-1] == 0) & (closing[1:] == 1))
    low, high = ends[here], ends[here + 1]
    return Cells(
        times[low // 2], times[high // 2], np.searchsorted(low, begin), np.searchsorted(high, end, side="right")
    )


def npmle(left, right, count, tolerance=1e-9):
    """Best-fitting curve of interval-censored counts.

    left, right : (n,) ends of (left, right]; right = inf, not seen; left = right, seen at that instant.
    count : (n,) how many events each interval holds, >= 0, whole or not; intervals of count 0 are left out.
    tolerance : how far above 1 the average gain of any cell may be (the Karush-Kuhn-Tucker conditions); loglik then
    lies within tolerance x sum(count) of the best.
    Returns Steps. The life table in closed form where every interval is a single cell or runs to the end (shared
    visits, and Kaplan-Meier); otherwise steps of expectation-maximisation, then constrained Newton steps.
    Raises UnfitValue where nothing was counted, a count is negative or missing, or the tolerance cannot be reached.
    Source: Turnbull 1976, J. R. Stat. Soc. B 38:290-295; Newton steps: Wang 2008, Comput. Stat. Data Anal.
    52:2388-2402.

    >>> npmle([0, 1, 2], [1, 2, 3], [10, 30, 10]).mass
    array([0.2, 0.6, 0.2])
    """
    left, right, count = (np.asarray(v, float) for v in (left, right, count))
    if not (count >= 0).all() or not count.sum() > 0:
        msg = f"Counts of intervals must be 0 or above and not all 0; found {count[:8].tolist()}."
        raise UnfitValue(msg)
    seen = count > 0
    where, count = cells(left[seen], right[seen]), count[seen]
    mass = life_table(where, count[None])[0] if where.closed_form else _best(where, count, tolerance)
    return Steps(where.lower, where.upper, mass, _loglik(where, count, mass), _gap(where, count, mass))


def masses(where, counts, tolerance=1e-6):
    """Masses of many count vectors over the same intervals: a resample, or each dish by itself.

    where : Cells of all intervals together.  counts : (r, n), >= 0.
    Returns (r, m), rows adding to 1; nan rows where nothing was counted. Exact in closed form; otherwise by accelerated
    expectation-maximisation until no mass moves by more than `tolerance`, which is ample for an interval.
    Source: as `npmle`; acceleration: Varadhan & Roland 2008, Scand. J. Stat. 35:335-353.
    """
    counts = np.asarray(counts, float)
    return life_table(where, counts) if where.closed_form else _many(where, counts, tolerance)


def life_table(where, counts):
    """Masses (r, m) in closed form: of those known to reach a cell, the share that had the event in it.

    One that was lost after a cell is known to have passed it, and says nothing of the next.
    """
    single = where.after - where.first == 1
    had = _by_cell(where, counts, single)  # cells by rows from here on: sums along the short side are slow
    hidden = _by_cell(where, counts, ~single) if not single.all() else 0.0
    reach = np.cumsum((had + hidden)[::-1], axis=0)[::-1]
    total = reach[0]
    reach = reach - hidden
    mass = np.empty_like(had)
    left = np.where(total > 0, 1.0, np.nan)
    for cell in range(len(mass) - 1):
        mass[cell] = left * had[cell] / np.maximum(reach[cell], _SLACK)
        left = left - mass[cell]
    mass[-1] = left  # what is left lies in the last cell, also where no one was followed that far
    return np.maximum(mass, 0).T


def quantiles(where, mass, share):
    """Times by which shares of all had the event, evenly spread within a cell (linear interpolation).

    where : anything with lower and upper (m,).  mass : (r, m).  share : (r, k) or (1, k), of all, in [0, 1].
    Returns (r, k): lower + (share - reached before) / mass x (upper - lower) in the first cell that reaches the share;
    inf where it lies in a cell without end; nan where mass or share is. A share of 0 gives the start of the first cell
    that holds any mass. With adjoining visits and share = 0.5 x final this is the t50 of Farooq et al. 2005.
    Source: common practice (interpolation within an inspection interval); named in what is reported.
    """
    total = np.cumsum(mass, axis=1)
    reached = total[:, None, :] >= np.maximum(share, _SLACK)[..., None] - _SLACK / 2
    at = np.where(reached.any(axis=2), reached.argmax(axis=2), mass.shape[1] - 1)
    row = np.arange(len(mass))[:, None]
    within = mass[row, at]
    part = np.divide(share - (total[row, at] - within), within, out=np.zeros(at.shape), where=within > 0)
    lower, upper = where.lower[at], where.upper[at]
    with np.errstate(invalid="ignore"):
        time = np.where(np.isinf(upper), np.inf, lower + np.clip(part, 0, 1) * (upper - lower))
    return np.where(np.isnan(share) | np.isnan(total[:, -1:]), np.nan, time)


def _by_cell(where, counts, which):
    """Counts of the chosen intervals added up by their first cell: (m, r)."""
    hit = (where.first[which] == np.arange(where.lower.size)[:, None]).astype(float)
    return hit @ counts[:, which].T


def _within(where, mass):
    """Mass inside each observed interval, (n,) of (m,) or (r, n) of (r, m)."""
    total = np.cumsum(mass, axis=-1)
    total = np.concatenate([np.zeros((*mass.shape[:-1], 1)), total], axis=-1)
    return total[..., where.after] - total[..., where.first]


def _cover(where):
    """(n, m) 1 where interval i covers cell j."""
    j = np.arange(where.lower.size)
    return ((j >= where.first[:, None]) & (j < where.after[:, None])).astype(float)


def _loglik(where, count, mass):
    return float(count @ np.log(np.maximum(_within(where, mass), np.finfo(float).tiny)))


def _gain(cover, share, within):
    """Average gain of each cell: derivative of loglik / n by its mass; 1 where a cell is used, below 1 where not."""
    return (share / within) @ cover


def _gap(where, count, mass):
    gain = _gain(_cover(where), count / count.sum(), _within(where, mass))
    return float(count.sum() * max(gain.max() - 1, 0.0))


def _best(where, count, tolerance):
    """Masses by a few steps of EM from even masses, then Newton steps with masses kept >= 0."""
    cover, share = _cover(where), count / count.sum()
    mass = np.full(where.lower.size, 1 / where.lower.size)
    for _ in range(_EM_STEPS):
        mass = mass * _gain(cover, share, cover @ mass)
    for _ in range(_NEWTON_STEPS):
        within = cover @ mass
        gain = _gain(cover, share, within)
        if gain.max() - 1 <= tolerance and mass @ np.abs(gain - 1) <= tolerance:
            return mass
        mass = _newton_step(cover, share, mass, within, gain)
    msg = f"The curve did not settle to {tolerance:g} in {_NEWTON_STEPS} steps; ask for a coarser tolerance."
    raise UnfitValue(msg)


def _newton_step(cover, share, mass, within, gain):
    """Best masses of the quadratic that touches loglik here, then as far towards them as loglik keeps rising.

    The quadratic is || W (cover p / within - 2) ||^2 with W = sqrt(share) (Wang 2008). With p >= 0 adding to 1 the 2
    can be written as 2 sum(p), and one more row, sum(p) = 1, gives non-negative least squares whose answer points the
    right way (Dax 1990, as used there). Cells that are empty and not worth filling stay out of it.
    """
    use = np.flatnonzero((mass > 0) | (gain > 1))
    root = np.sqrt(share)
    rows = np.vstack([cover[:, use] * (root / within)[:, None] - 2 * root[:, None], np.ones(use.size)])
    found = np.zeros_like(mass)
    found[use] = nnls(rows, np.append(np.zeros(root.size), 1.0))[0]
    step = found / found.sum() - mass
    now, slope = share @ np.log(within), gain @ step
    for size in 0.5 ** np.arange(40):
        ahead = np.maximum(cover @ (mass + size * step), np.finfo(float).tiny)
        if share @ np.log(ahead) >= now + 1e-4 * size * slope - 1e-15:
            break
    moved = np.maximum(mass + size * step, 0)
    return moved / moved.sum()


def _many(where, counts, tolerance, rounds=500):
    """EM with squared steps for all rows at once; rows that have settled drop out."""
    cover = _cover(where)
    totals = counts.sum(axis=1)
    mass = np.full((len(counts), where.lower.size), np.nan)
    open_rows = np.flatnonzero(totals > 0)
    mass[open_rows] = 1 / where.lower.size
    share = counts / np.where(totals > 0, totals, 1)[:, None]
    for _ in range(rounds):
        now, part = mass[open_rows], share[open_rows]
        one = _em(cover, part, now)
        two = _em(cover, part, one)
        mass[open_rows] = _em(cover, part, _squared(now, one, two))
        open_rows = open_rows[np.abs(mass[open_rows] - now).max(axis=1) > tolerance]
        if not open_rows.size:
            break
    return mass


def _em(cover, share, mass):
    within = mass @ cover.T
    return mass * (np.divide(share, within, out=np.zeros_like(share), where=share > 0) @ cover)


def _squared(now, one, two):
    """Extrapolate two EM steps (scheme S3); where that leaves the simplex, the second step stands."""
    step, bend = one - now, two - 2 * one + now
    length = np.sqrt((step**2).sum(axis=1) / np.maximum((bend**2).sum(axis=1), 1e-300))[:, None]
    length = np.clip(length, 1, 64)
    ahead = now + 2 * length * step + length**2 * bend
    inside = (ahead >= 0).all(axis=1, keepdims=True)
    return np.where(inside, ahead, two)
