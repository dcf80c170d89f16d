"""Edges of the fitted curve, and that nothing fits better."""

import numpy as np
import pytest
from scipy import optimize

from palea.calc.stats.plateau import fit, seen_by
from palea.errors import UnfitValue

VISITS = np.array([3.0, 5, 7, 10, 14, 21, 28])
LEFT, RIGHT = np.append(0, VISITS), np.append(VISITS, np.inf)


def dishes(number, seed, share=0.7, half_time=6.0, shape=3.5):
    chance = np.random.default_rng(seed)
    cut = np.append(share / (1 + (np.append(1e-9, VISITS) / half_time) ** -shape), 1)
    return chance.multinomial(50, np.diff(cut), number).astype(float)


def by_simplex(counts):
    """The likelihood written out again and climbed without derivatives."""
    def loss(theta):
        d, e, b = 1 / (1 + np.exp(-theta[0])), *np.exp(theta[1:])
        grown = np.append(d / (1 + (np.append(1e-9, VISITS) / e) ** -b), 1)
        return -counts @ np.log(np.maximum(np.diff(grown), 1e-300))
    starts = ([s, np.log(e), np.log(b)] for s in (0, 3) for e in (4, 9) for b in (2, 8))
    options = {"maxiter": 20_000, "maxfev": 20_000, "fatol": 1e-12, "xatol": 1e-8}
    return max(-optimize.minimize(loss, start, method="Nelder-Mead", options=options).fun for start in starts)


@pytest.mark.parametrize("seed", range(4))
def test_no_parameters_fit_better(seed):
    counts = dishes(3, seed, share=[0.7, 0.98, 0.3, 0.9][seed], half_time=[6, 15, 20, 4][seed])
    found = fit(LEFT, RIGHT, counts)
    assert found.settled.all()
    assert (found.loglik >= [by_simplex(row) - 1e-7 for row in counts]).all()


def test_many_fits_equal_each_alone():
    counts = dishes(40, 7)
    together = fit(LEFT, RIGHT, counts)
    alone = [fit(LEFT, RIGHT, row).half_time[0] for row in counts]
    assert together.half_time == pytest.approx(alone, rel=1e-6)


def test_merging_equal_dishes_changes_nothing_but_the_errors():
    counts = dishes(1, 8)
    one, four = fit(LEFT, RIGHT, counts), fit(LEFT, RIGHT, 4 * counts)
    assert four.half_time == pytest.approx(one.half_time, rel=1e-7)
    assert four.se_log_half_time == pytest.approx(one.se_log_half_time / 2, rel=1e-6)


@pytest.mark.parametrize(("counts", "share", "half_time", "shape"), [
    pytest.param([0, 0, 0, 0, 0, 0, 0, 50], 0, False, False, id="none germinated"),
    pytest.param([0, 0, 40, 0, 0, 0, 0, 10], 0.8, False, False, id="all in one interval"),
    pytest.param([0, 0, 20, 20, 0, 0, 0, 10], 0.8, True, False, id="all in two intervals"),
    pytest.param([0, 5, 20, 10, 5, 2, 0, 0], 1, True, True, id="none left over"),
    pytest.param([0] * 8, np.nan, False, False, id="nothing counted"),
])
def test_what_the_counts_cannot_tell_is_nan(counts, share, half_time, shape):
    found = fit(LEFT, RIGHT, counts)
    assert found.share[0] == pytest.approx(share, abs=1e-6, nan_ok=True)
    assert np.isfinite(found.half_time[0]) == half_time
    assert np.isfinite(found.shape[0]) == shape
    if half_time and not shape:
        assert found.half_time[0] == pytest.approx(7, abs=0.3), "half on either side of day 7"


def test_the_fitted_curve_passes_half_of_its_end_at_the_half_time():
    found = fit(LEFT, RIGHT, dishes(5, 9))
    at_half = np.diagonal(seen_by(found, found.half_time))
    assert at_half == pytest.approx(found.share / 2)
    assert seen_by(found, [0.0])[:, 0] == pytest.approx(0)


@pytest.mark.parametrize(("left", "right"), [([0, 3], [3, 3]), ([-1, 3], [3, 5])])
def test_intervals_without_length_or_before_the_start_are_refused(left, right):
    with pytest.raises(UnfitValue, match="a fit needs 0 <= left < right"):
        fit(left, right, [1, 1])
