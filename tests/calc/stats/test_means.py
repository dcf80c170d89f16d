"""Laws of means and their differences: what shifting, scaling, turning round and reordering must leave or change."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea.calc.field.combined import combine
from palea.calc.germination.interaction import PLAIN, STRESSED, Changes
from palea.calc.stats import linear_means, pooling, quasi_poisson, share_means, value_means

LABELS = np.repeat(["a", "b", "c"], 4)
VALUES = st.lists(st.floats(-50, 50), min_size=12, max_size=12).filter(lambda v: np.std(v) > 0.1)
COUNTS = st.lists(st.integers(0, 25), min_size=12, max_size=12)


def ends(means, a="a", b="b", critical=2.0):
    return np.array(means.difference(a, b, critical))


@given(VALUES, st.floats(-100, 100), st.floats(0.1, 10))
def test_values_shifted_and_scaled(values, shift, factor):
    """Differences do not feel a shift and grow with the unit."""
    values = np.array(values)
    for of in (value_means.of_values, linear_means.of_plots):
        plain, moved = of(LABELS, values), of(LABELS, shift + factor * values)
        assert ends(moved) == pytest.approx(factor * ends(plain), rel=1e-6, abs=1e-6 * factor)
        assert moved.df == plain.df


@given(VALUES, st.permutations(range(12)))
def test_order_of_rows_and_sides_changes_nothing_else(values, order):
    values, order = np.array(values), np.array(order)
    for of in (value_means.of_values, linear_means.of_plots):
        plain, other = of(LABELS, values), of(LABELS[order], values[order])
        assert ends(other) == pytest.approx(ends(plain), abs=1e-9)
        assert ends(plain, "b", "a") == pytest.approx(-ends(plain)[[0, 2, 1]], abs=1e-9)


@given(VALUES)
def test_blocks_take_out_what_blocks_add(values):
    block, values = np.tile(["p", "q", "r", "s"], 3), np.array(values)
    plain = linear_means.of_plots(LABELS, values, [block])
    added = linear_means.of_plots(LABELS, values + np.tile([0.0, 30, -7, 100], 3), [block])
    assert ends(added) == pytest.approx(ends(plain), abs=1e-7)


@given(COUNTS)
@settings(max_examples=40)
def test_shares_counted_the_other_way_round(k):
    """Seeds that did not, in place of those that did: differences change their sign and nothing else."""
    k, n = np.array(k, float), np.full(12, 25.0)
    for beta in (False, True):
        did, not_ = (share_means.of_counts(LABELS, x, n, beta=beta) for x in (k, n - k))
        assert ends(not_) == pytest.approx(-ends(did)[[0, 2, 1]], abs=1e-5)
        low, high = did.interval("a", 2.0)[1:]
        assert not_.interval("a", 2.0)[1:] == pytest.approx((1 - high, 1 - low), abs=1e-5)


@given(COUNTS, st.floats(0.1, 5), st.floats(0.1, 5))
@settings(max_examples=40)
def test_a_larger_quantile_is_a_wider_interval_inside_minus_one_to_one(k, first, more):
    means = share_means.of_counts(LABELS, np.array(k, float), np.full(12, 25.0))
    inner, outer = ends(means, critical=first), ends(means, critical=first + more)
    assert -1 - 1e-9 <= outer[1] <= inner[1] + 1e-9
    assert inner[2] - 1e-9 <= outer[2] <= 1 + 1e-9


def test_changes_under_stress_turn_with_the_sides_and_the_settings():
    labels = np.repeat(["a" + STRESSED, "a" + PLAIN, "b" + STRESSED, "b" + PLAIN], 5)
    k = np.random.default_rng(2).binomial(25, np.repeat([0.3, 0.7, 0.5, 0.7], 5)).astype(float)
    means = Changes(share_means.of_counts(labels, k, np.full(20, 25.0)))
    assert ends(means, "b", "a") == pytest.approx(-ends(means)[[0, 2, 1]])
    swapped = Changes(share_means.of_counts(np.roll(labels.reshape(4, 5), 0)[[1, 0, 3, 2]].ravel(), k, np.full(20, 25.0)))
    assert ends(swapped) == pytest.approx(-ends(means)[[0, 2, 1]])


INTERVALS = st.tuples(st.floats(-5, 5), st.floats(0, 3), st.floats(0, 3)).map(lambda x: (x[0], x[0] - x[1], x[0] + x[2]))


@given(INTERVALS, INTERVALS, st.floats(0.1, 5))
def test_sums_of_intervals(first, second, factor):
    """Turned round, scaled, and with a part known exactly."""
    plain = np.array(combine([first, second], [1, -1]))
    assert np.array(combine([second, first], [1, -1])) == pytest.approx(-plain[[0, 2, 1]])
    assert np.array(combine([first, second], [factor, -factor])) == pytest.approx(factor * plain)
    exact = (second[0],) * 3
    assert combine([first, exact], [1, -1]) == pytest.approx([x - second[0] for x in first])


@given(st.lists(st.floats(-3, 3), min_size=3, max_size=8), st.floats(-10, 10))
def test_scatter_between_trials_knows_no_place(effects, shift):
    effects = np.array(effects)
    variances = np.linspace(0.5, 1.5, effects.size)
    found = pooling.heterogeneity(effects, variances)
    assert found >= 0
    assert pooling.heterogeneity(effects + shift, variances) == pytest.approx(found, abs=1e-8)
    assert pooling.heterogeneity(np.full(4, shift), np.ones(4)) == pytest.approx(0, abs=1e-9)


@given(st.integers(0, 200), st.integers(1, 40), st.floats(1, 10))
def test_mean_count_of_a_plot(total, plots, dispersion):
    """The mean lies inside, the interval widens with dispersion, and dispersion counts as fewer plots."""
    low, high = quasi_poisson.mean_interval(total, plots, 1.96)
    assert 0 <= low <= total / plots <= high
    wider = quasi_poisson.mean_interval(total, plots, 1.96, dispersion)
    assert wider[0] <= low + 1e-12
    assert wider[1] >= high - 1e-12
    fewer = quasi_poisson.mean_interval(total / dispersion, plots / dispersion, 1.96)
    assert wider == pytest.approx(fewer)
