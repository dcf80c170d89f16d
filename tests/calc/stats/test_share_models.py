"""Models of shares: laws, edges and refusals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea.calc.stats import beta_binomial, mixed_logit, quasi_binomial
from palea.errors import UnfitValue

GROUPS = np.kron(np.eye(2), np.ones((4, 1)))
BATCHES = np.repeat(np.arange(4), 2)


@given(st.lists(st.integers(1, 24), min_size=8, max_size=8))
@settings(max_examples=60)
def test_a_coefficient_a_group_fits_the_pooled_share(k):
    shares = np.repeat([sum(k[:4]) / 100, sum(k[4:]) / 100], 4)
    assert quasi_binomial.fit(GROUPS, k, np.full(8, 25)).fitted == pytest.approx(shares, abs=1e-9)


def test_dispersion_below_one_is_one_and_the_raw_one_is_kept():
    model = quasi_binomial.fit(GROUPS, [10, 10, 10, 11, 5, 5, 5, 5], np.full(8, 25))
    assert (model.dispersion, model.raw_dispersion < 1) == (1, True)


def test_turning_seeds_round_turns_the_coefficients():
    k, n = np.array([3, 9, 12, 20, 25, 22, 7, 1.0]), np.full(8, 25.0)
    for fit in (quasi_binomial.fit, beta_binomial.fit):
        assert fit(GROUPS, k, n).coefficients == pytest.approx(-fit(GROUPS, n - k, n).coefficients, abs=1e-8)


def test_a_full_group_is_penalised_and_said_so_but_an_ordinary_one_is_not():
    full = quasi_binomial.fit(GROUPS, [25, 25, 25, 25, 10, 12, 9, 11], np.full(8, 25))
    assert full.penalised
    assert "Nothing was added" in full.warnings[0]
    assert np.isfinite(full.standard_errors).all()
    assert quasi_binomial.fit(GROUPS, [25, 25, 25, 24, 10, 12, 9, 11], np.full(8, 25)).warnings == ()


def test_no_degrees_of_freedom_no_dispersion():
    assert np.isnan(quasi_binomial.fit(np.eye(2), [3, 4], [10, 10]).dispersion)


@pytest.mark.parametrize(("call", "says"), [
    (lambda: quasi_binomial.fit(np.ones((4, 2)), [1, 2, 3, 4], [9] * 4), "repeat each other"),
    (lambda: quasi_binomial.fit(np.ones((2, 1)), [1, 12], [9, 9]), r"k\[1\] is 12"),
    (lambda: beta_binomial.fit(GROUPS, [25] * 4 + [3, 4, 9, 12], np.full(8, 25)), "all 0 or all 100"),
    (lambda: mixed_logit.fit(GROUPS, [25] * 4 + [3, 4, 9, 12], np.full(8, 25), BATCHES), "all 0 or all 100"),
    (lambda: mixed_logit.fit(np.ones((3, 1)), [1, 2, 3], [9] * 3, [0, 1, 2], random_units=True), "one unit"),
])
def test_what_cannot_be_fitted_says_so(call, says):
    with pytest.raises(UnfitValue, match=says):
        call()


def test_a_column_that_follows_from_others_up_to_rounding_is_found():
    chance = np.random.default_rng(0)
    for _ in range(100):
        free = chance.normal(size=(8, 3))
        with pytest.raises(UnfitValue, match="repeat each other"):
            quasi_binomial.fit(np.c_[free, free @ chance.normal(size=3)], chance.integers(2, 23, 8), np.full(8, 25))


def test_dishes_that_differ_by_chance_only_have_rho_zero_and_binomial_errors():
    k, n = [10, 11, 9, 10, 4, 5, 6, 5], np.full(8, 25)
    model, plain = beta_binomial.fit(GROUPS, k, n), quasi_binomial.fit(GROUPS, k, n)
    assert (model.rho, plain.dispersion) == (0, 1)
    assert model.standard_errors == pytest.approx(plain.standard_errors)
    assert model.warnings


@given(st.lists(st.integers(1, 24), min_size=8, max_size=8))
@settings(max_examples=60, deadline=None)
def test_beta_binomial_is_at_its_top(k):
    """No step of any coordinate climbs."""
    k, n = np.array(k, float), np.full(8, 25.0)
    model = beta_binomial.fit(GROUPS, k, n)
    if model.rho == 0:
        return
    top = np.append(model.coefficients, np.log(model.rho / (1 - model.rho)))
    here = beta_binomial._derivatives(GROUPS, k, n, top)[0]
    steps = 1e-2 * np.vstack([np.eye(3), -np.eye(3)])
    # Where rho is all but 0 the likelihood is flat along it, to the last digits.
    assert max(beta_binomial._derivatives(GROUPS, k, n, top + step)[0] for step in steps) <= here + 1e-9


def test_random_batches_and_dishes_with_no_dishes_deviating_is_random_batches():
    """Law: at sd_unit 0 the larger model's likelihood is the smaller one's."""
    k, n = np.array([3, 9, 12, 20, 25, 22, 7, 11.0]), np.full(8, 25.0)
    starts = np.arange(0, 8, 2)
    one = mixed_logit._Likelihood(GROUPS, k, n, starts, BATCHES, 7, random_units=False)
    two = mixed_logit._Likelihood(GROUPS, k, n, starts, BATCHES, 7, random_units=True)
    with_units, without = (of.place(np.array([[0.1, 0.4, 0.8, *more]])).height for of, more in ((two, [0.0]), (one, [])))
    assert with_units == pytest.approx(without, abs=1e-10)


@pytest.mark.parametrize("points", [1, 4])
@pytest.mark.parametrize("random_units", [False, True])
@pytest.mark.parametrize("columns", [2, 4])  # groups of 1 to 3 units: the bend is taken coefficient by coefficient, or unit by unit
def test_slope_and_bend_of_the_mixed_likelihood_are_those_of_its_height(columns, random_units, points):
    at = np.array([0, 1, 1, 2, 2, 2, 3, 3, 3, 4, 5, 5])
    chance = np.random.default_rng(3)
    design = np.column_stack([np.ones(12), chance.normal(size=(12, columns - 1))])
    starts, n = np.searchsorted(at, np.arange(6)), np.full(12, 25.0)
    height = mixed_logit._Likelihood(design, chance.integers(1, 25, 12) * 1.0, n, starts, at, points, random_units)
    given = np.array([0.2, -0.5, 0.4, 0.1])[:columns]
    given = np.concatenate([given, [0.9, -0.6][: 1 + random_units]])
    place, moves = height.place(given[None]), np.eye(given.size)

    def difference(of, step):  # central, of the fourth order
        ends = [of(given + way * step * moves) for way in (1, -1, 2, -2)]
        return (8 * (ends[0] - ends[1]) - (ends[2] - ends[3])) / (12 * step)

    assert height.slope(place)[0] == pytest.approx(difference(lambda tries: height.place(tries).height, 1e-3), abs=1e-8)
    slopes = difference(lambda tries: height.slope(height.place(tries)), 1e-3)
    assert height.bend(place) == pytest.approx(slopes, abs=1e-5)


def test_a_mixed_fit_is_at_the_top():
    k, n = np.array([3, 9, 12, 20, 25, 22, 7, 11.0]), np.full(8, 25.0)
    model = mixed_logit.fit(GROUPS, k, n, BATCHES, points=5, random_units=True)
    height = mixed_logit._Likelihood(GROUPS, k, n, np.arange(0, 8, 2), BATCHES, 5, random_units=True)
    top = np.concatenate([model.coefficients, [model.sd_group, model.sd_unit]])
    steps = 1e-2 * np.vstack([np.eye(4), -np.eye(4)])
    assert height.place(top[None]).height[0] == pytest.approx(model.log_likelihood, abs=1e-12)
    assert height.place(top + steps).height.max() < model.log_likelihood
    assert np.abs(height.slope(height.place(top[None]))).max() < 1e-7


def test_counts_that_do_not_tell_the_deviation_are_said_to():
    """A group of one seed: any deviation goes with them."""
    model = mixed_logit.fit(np.ones((19, 1)), np.arange(19) % 3 > 0, np.ones(19), np.arange(19), points=5)
    assert "no clear top" in model.warnings[-1]


def test_order_of_rows_does_not_matter():
    k, n, group = np.array([3, 9, 12, 20, 24, 22, 7, 11.0]), np.full(8, 25.0), np.array([0, 1, 0, 1, 2, 3, 2, 3])
    order = np.array([5, 2, 7, 0, 1, 6, 4, 3])
    a = mixed_logit.fit(GROUPS, k, n, group)
    b = mixed_logit.fit(GROUPS[order], k[order], n[order], group[order])
    assert a.coefficients == pytest.approx(b.coefficients, abs=1e-6)
    assert a.sd_group == pytest.approx(b.sd_group, abs=1e-5)


def test_batches_that_differ_by_chance_only_are_said_to():
    model = mixed_logit.fit(np.ones((8, 1)), [10] * 8, np.full(8, 25), BATCHES)
    assert (model.sd_group, len(model.warnings)) == (0, 1)
    assert model.standard_errors == pytest.approx([np.sqrt(1 / (200 * 0.4 * 0.6))], rel=1e-3)
