"""Laws of the best-fitting curve, on made-up visits of every kind."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from palea.calc.stats.time_to_event import cells, masses, npmle, quantiles
from palea.errors import UnfitValue


@some.composite
def observed(draw):
    """(left, right, count) with ties, overlaps, watched events and lost ones."""
    size = draw(some.integers(1, 12))
    left = draw(some.lists(some.integers(0, 9), min_size=size, max_size=size))
    long = draw(some.lists(some.sampled_from([0, 1, 2, 3, 5, np.inf]), min_size=size, max_size=size))
    count = draw(some.lists(some.integers(1, 30), min_size=size, max_size=size))
    return np.array(left, float), np.array(left, float) + np.array(long), np.array(count, float)


def slow_likelihood(left, right, count, steps=3000):
    """Plain EM over every point where the curve could rise: each time, and each gap between two times."""
    times = np.unique(np.append(left, right[np.isfinite(right)]))
    low = np.concatenate([times, times])
    high = np.concatenate([times, np.append(times[1:], np.inf)])
    point = low == high
    # a point t lies in (l, r] if l < t <= r, and in a watched instant [t, t]; a gap (a, b] if it lies inside
    inside = np.where(
        point, ((left[:, None] < low) & (low <= right[:, None])) | ((left == right)[:, None] & (low == left[:, None])),
        (left[:, None] <= low) & (high <= right[:, None]),
    ).astype(float)
    mass = np.full(low.size, 1 / low.size)
    for _ in range(steps):
        mass = mass * ((count / count.sum() / (inside @ mass)) @ inside)
    return count @ np.log(inside @ mass)


@given(observed())
@settings(max_examples=60, deadline=None)
def test_no_curve_fits_better(seen):
    left, right, count = seen
    steps = npmle(left, right, count)
    slow = slow_likelihood(left, right, count)
    assert steps.loglik >= slow - 1e-9 * count.sum()
    assert steps.loglik <= slow + 0.02 * count.sum() ** 0.5, "EM is slow but not far off; far better means a wrong sum"
    assert steps.mass.sum() == pytest.approx(1, abs=1e-12)
    assert (steps.mass >= 0).all()
    assert steps.gap <= 1e-9 * count.sum() * 1.01


@given(observed(), some.randoms(use_true_random=False))
@settings(max_examples=40, deadline=None)
def test_order_and_splitting_of_rows_do_not_matter(seen, chance):
    left, right, count = seen
    order = list(range(left.size)) * 2
    chance.shuffle(order)
    whole, parts = npmle(left, right, count), npmle(left[order], right[order], count[order] / 2)
    assert parts.lower == pytest.approx(whole.lower)
    assert parts.loglik == pytest.approx(whole.loglik, abs=1e-7)
    assert _within(parts, left, right) == pytest.approx(_within(whole, left, right), abs=1e-4)


def _within(steps, left, right):
    """Masses of observed intervals are unique at the best, while those of cells need not be."""
    where = cells(left, right)
    total = np.append(0, np.cumsum(steps.mass))
    return total[where.after] - total[where.first]


@given(some.lists(some.tuples(some.integers(0, 20), some.integers(0, 5)), min_size=2, max_size=8))
def test_shared_visits_give_the_life_table(seen):
    """Law, one visit after another: of those still there, the share that came up; the lost leave after their visit."""
    came, lost = np.array(seen, float).T
    came[0] += 1
    n = came.size
    left, right = np.tile(np.arange(n, dtype=float), 2), np.append(np.arange(1.0, n + 1), np.full(n, np.inf))
    left[n:] += 1
    steps = npmle(left, right, np.append(came, lost))
    waiting, surviving, there = [], 1.0, came.sum() + lost.sum()
    for new, gone in zip(came, lost, strict=True):
        surviving *= 1 - new / there if there else 1
        there -= new + gone
        waiting.append(surviving)
    last = np.flatnonzero(came + lost)[-1]  # nothing is known after the last seed
    assert 1 - steps.seen_by(np.arange(1, last + 2)) == pytest.approx(waiting[: last + 1], abs=1e-9)


@given(observed())
@settings(max_examples=40, deadline=None)
def test_many_at_once_fit_as_well(seen):
    left, right, count = seen
    where = cells(left, right)
    counts = np.vstack([count, np.roll(count, 1), np.zeros_like(count)])
    found = masses(where, counts, tolerance=1e-8)
    total = np.hstack([np.zeros((3, 1)), np.cumsum(found, axis=1)])
    inside = total[:, where.after] - total[:, where.first]
    for row in (0, 1):
        best = npmle(left, right, counts[row]).loglik
        assert counts[row] @ np.log(inside[row]) == pytest.approx(best, abs=1e-4 * count.sum())
    assert np.isnan(found[2]).all()


def test_a_quantile_that_no_one_reached_is_infinite():
    steps = npmle([0, 2, 4], [2, 4, np.inf], [10, 10, 20])
    assert steps.quantile([0.0, 0.25, 0.5, 0.51, np.nan]).tolist()[:4] == [0, 2, 4, np.inf]
    assert np.isnan(steps.quantile(np.nan)[0])
    assert quantiles(steps, steps.mass[None], np.array([[0.125]]))[0, 0] == pytest.approx(1.0)


@pytest.mark.parametrize(("left", "right", "count", "says"), [
    ([0, 5], [2, 4], [1, 1], "Interval 2 runs from 5 to 4"),
    ([0, np.nan], [2, 4], [1, 1], "Interval 2 runs from nan to 4"),
    ([0, 2], [2, 4], [0, 0], "not all 0"),
    ([0, 2], [2, 4], [3, -1], "0 or above"),
])
def test_what_cannot_be_fitted_is_said(left, right, count, says):
    with pytest.raises(UnfitValue, match=says):
        npmle(left, right, count)
