"""Treatment means: the way is chosen as said, intervals and statistics belong together."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea.calc.stats.share_means import BETA, POOLED, QUASI, of_batches, of_counts

ARMS = np.repeat(["a", "b"], 4)
FIRST, SECOND = np.array([60, 66, 58, 63.0]), np.array([70, 77, 69, 75.0])
N = np.full(8, 100.0)


def both(first, second):
    return np.concatenate([first, second])


@pytest.mark.parametrize(("second", "model"), [
    (SECOND, POOLED),
    (SECOND + 22, QUASI),  # variances too unlike
    (np.array([100, 99, 98, 99.0]), QUASI),
])
def test_the_way_follows_from_the_data(second, model):
    assert of_batches(ARMS, both(FIRST, np.minimum(second, 100)), N).model == model


def test_a_few_seeds_from_the_end_counts_are_taken_even_where_variances_are_alike():
    near, farther = np.array([97, 99, 98, 99.0]), np.array([95, 97, 96, 97.0])
    assert of_batches(ARMS, both(near, near - 1), N).model == QUASI
    assert of_batches(ARMS, both(farther, farther - 1), N).model == POOLED


def test_symmetric_intervals_of_a_share_end_at_0_and_100_percent():
    means = of_batches(ARMS, both(FIRST, SECOND), N)
    assert means.model == POOLED
    assert means.interval("a", 60.0)[1:] == (0, 1)


def test_identical_batches_do_not_give_an_interval_without_width():
    means = of_batches(ARMS, both(np.full(4, 60.0), np.full(4, 70.0)), N)
    assert means.model == QUASI
    assert np.ptp(means.difference("a", "b", 2.0)[1:]) > 0.05


def test_six_dishes_are_enough_for_a_beta_binomial():
    k, arms = np.array([10, 14, 9, 20, 12, 17, 20, 22, 15, 25, 18, 21.0]), np.repeat(["a", "b"], 6)
    assert of_counts(arms, k, np.full(12, 25.0), beta=True).model == BETA
    assert of_counts(arms[1:], k[1:], np.full(11, 25.0), beta=True).model == QUASI


def test_a_full_arm_takes_the_spread_of_the_others():
    k = np.array([10, 20, 14, 19, 8, 22, 25, 25, 25, 25, 25, 25.0])
    arms = np.repeat(["a", "b"], 6)
    quasi, beta = (of_counts(arms, k, np.full(12, 25.0), beta=beta) for beta in (False, True))
    for means in (quasi, beta):
        assert means.df == 5  # of the arm that can show spread
        assert means.shares[1] == 1
        assert means.seeds[1] < 150 / 1.5
    assert quasi.spread > 1.5
    assert beta.spread > 0.02


def test_one_unit_an_arm_leaves_nothing():
    assert of_batches(["a", "b"], [60.0, 70], [100, 100]) is None
    assert of_counts(["a", "b"], [60.0, 70], [100, 100]) is None


def test_independent_seeds_of_a_beta_binomial_are_those_of_its_rho():
    """Many dishes, so that degrees of freedom mend next to nothing: n / (1 + (m - 1) rho)."""
    chance = np.random.default_rng(8)
    k = chance.binomial(25, chance.beta(6, 4, 160)).astype(float)
    means = of_counts(np.repeat(["a", "b"], 80), k, np.full(160, 25.0), beta=True)
    assert means.spread == pytest.approx(1 / 11, abs=0.03)  # rho of a beta with a + b = 10
    assert means.seeds == pytest.approx(2000 / (1 + 24 * means.spread), rel=0.05)


@given(st.lists(st.integers(0, 100), min_size=8, max_size=8), st.floats(-0.4, 0.4))
@settings(max_examples=80, deadline=None)
def test_the_statistic_is_the_quantile_at_which_the_interval_ends_there(k, shift):
    means = of_batches(ARMS, k, N)
    statistic = means.statistic("a", "b", shift)
    value, lower, upper = means.difference("a", "b", abs(statistic) if np.isfinite(statistic) else 60.0)
    assert (value > shift) == (statistic > 0)
    if np.isinf(statistic):
        assert (lower > shift) or (upper < shift)  # not even the widest interval gets there
    else:
        assert (lower if value > shift else upper) == pytest.approx(shift, abs=1e-7)


@given(st.lists(st.integers(0, 100), min_size=8, max_size=8))
@settings(max_examples=80, deadline=None)
def test_intervals_hold_their_estimate_and_widen(k):
    means = of_batches(ARMS, k, N)
    for narrow, wide in ((means.interval("a", 1.5), means.interval("a", 3.0)),
                         (means.difference("a", "b", 1.5), means.difference("a", "b", 3.0))):
        assert wide[1] <= narrow[1] <= narrow[0] <= narrow[2] <= wide[2]


@pytest.mark.parametrize("make", [of_batches, of_counts])
def test_a_block_effect_alone_is_no_treatment_effect(make):
    """Both arms have the same counts in each block, in another order of rows."""
    k, block = np.array([30, 50, 70, 80, 70, 80, 30, 50.0]), np.array(list("pqrsrspq"))
    means = make(ARMS, k + np.array([0, 1, 0, 1, 1, 0, 1, 0]), N, block)
    assert means.blocked
    assert means.difference("a", "b", 2.0)[0] == pytest.approx(0, abs=0.02)
    assert np.ptp(means.difference("a", "b", 2.0)[1:]) < np.ptp(make(ARMS, k, N).difference("a", "b", 2.0)[1:])


TRAYS = np.array(list("aabbccdd")), np.array(list("pqpqqrpr"))  # trays of three treatments at most in a block


def test_none_of_a_few_seeds_is_told_as_none_whatever_the_blocks():
    """0 of 6 seeds in two trays; a penalised fit of the blocks called it 7 %, of 0 of 3 seeds 16 %."""
    arms, block = TRAYS
    means = of_counts(arms, np.array([0, 0, 2, 1, 3, 1, 1, 2.0]), np.full(8, 3.0), block)
    assert means.blocked
    share, lower, upper = means.told("a", 2.0)
    assert (share, lower) == (0, 0)
    assert upper > 0.4
    assert means.shares[0] == 0
    few = of_counts(arms[:4], np.array([0, 0, 2, 1.0]), np.array([1, 2, 3, 3.0]), block[:4])
    assert few.told("a", 2.0)[0] == 0


def test_a_block_at_an_end_is_said_and_not_allowed_for():
    arms, block = np.array(list("aabb")), np.array(list("pqpq"))
    means = of_counts(arms, np.array([0, 2, 0, 1.0]), np.full(4, 3.0), block)
    assert not means.blocked
    assert means.shares.tolist() == pytest.approx([2 / 6, 1 / 6])
    assert "A block is all 0 or all 100 %" in means.warnings[-1]


def test_differences_are_of_the_same_blocks_where_a_treatment_is_missing_from_one():
    """b stands in the two better blocks only: its own share is as counted, the difference is within blocks."""
    arms, block = np.array(list("aaaabb")), np.array(list("pqrsrs"))
    means = of_counts(arms, np.array([20, 22, 60, 62, 61, 60.0]), np.full(6, 100.0), block)
    assert means.told("b", 2.0)[0] == pytest.approx(0.605)
    assert means.told("a", 2.0)[0] == pytest.approx(0.41)
    assert means.difference("b", "a", 2.0)[0] == pytest.approx(0, abs=0.03)


@given(st.lists(st.integers(0, 3), min_size=8, max_size=8), st.booleans())
@settings(max_examples=80, deadline=None)
def test_a_share_is_told_as_it_was_counted(k, beta):
    arms, block = TRAYS
    k = np.array(k, float)
    means = of_counts(arms, k, np.full(8, 3.0), block, beta=beta)
    for name in "abcd":
        share, lower, upper = means.told(name, 2.0)
        assert share == pytest.approx(k[arms == name].sum() / 6)
        assert lower <= share <= upper
