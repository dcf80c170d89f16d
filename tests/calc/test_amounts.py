"""Laws of amounts: what has an inverse gives back what went in, units cancel, and limits are what they have to be."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from palea.calc.coating import dose, scale_up, thickness
from palea.calc.decision.cost import Price, break_even_price, units_for_plants
from palea.calc.field import growth
from palea.calc.germination.tolerance import chance_of_dish
from palea.calc.handling import falling, rates
from palea.calc.lots import life, live_seed
from palea.calc.solutions import strength

ABOVE = st.floats(0.05, 50)
SHARES = st.floats(0.02, 0.98)


@given(ABOVE, ABOVE, ABOVE, st.floats(0, 1000))
def test_rates_of_the_drill(delivered, width, length, build_up):
    rate = float(rates.calibrated_rate(delivered, width, length))
    assert float(rates.grams_to_catch(rate, width * length)) == pytest.approx(delivered)
    assert float(rates.calibrated_rate(2 * delivered, width, 2 * length)) == pytest.approx(rate)
    bare = float(rates.bare_rate(rate, build_up))
    assert bare == pytest.approx(rate * (1 - float(rates.coat_share(build_up))))
    assert bare <= rate


@given(ABOVE, ABOVE, SHARES, st.floats(0, 500))
def test_rate_for_live_seeds_is_the_inverse(live_m2, thousand_g, live, build_up):
    rate = rates.rate_for_live_seeds(live_m2, thousand_g, live, build_up)
    assert float(rates.live_seeds_per_m2(rate, thousand_g, live, build_up)) == pytest.approx(live_m2)


@given(ABOVE, SHARES, st.floats(1, 5000))
def test_plants_cost_what_a_hectare_does(cost, established, seeds):
    one = float(rates.cost_per_plant(cost, seeds, established))
    assert float(units_for_plants(seeds * 1e4 * established, established)) == pytest.approx(seeds * 1e4)
    assert one * seeds * 1e4 * established == pytest.approx(cost)


@given(st.tuples(ABOVE, ABOVE), st.tuples(ABOVE, ABOVE), st.tuples(ABOVE, ABOVE), ABOVE)
def test_at_the_break_even_price_both_cost_the_same(seed, beside, campaign, area):
    price = float(break_even_price(seed, beside, campaign, area))
    if np.isnan(price) or price > 1e6:
        return
    first, second = (seed[i] * price + beside[i] + campaign[i] / area for i in (0, 1))
    assert first == pytest.approx(second, rel=1e-6)


def test_nothing_that_establishes_costs_without_end_whatever_is_free():
    """A rate of 0 beside seed without end is 0, not unknown: else the worst replicates would drop out of an interval."""
    price = Price(price=100.0, received_g=2.0, clean_g=2.0)
    assert price.hectare(np.array([np.inf, 1e6])).tolist() == [np.inf, 200.0]
    assert Price(price=0.0, received_g=2.0, clean_g=2.0).hectare(np.inf) == 0


@given(ABOVE, ABOVE, st.floats(0.5, 20), st.floats(1, 100))
def test_growth_rates_know_no_unit_of_mass(first, ratio, days, factor):
    rate = growth.relative_growth_rate(first, first * ratio, 0, days)
    assert growth.relative_growth_rate(factor * first, factor * first * ratio, 3, 3 + days) == pytest.approx(rate, abs=1e-9)
    assert growth.relative_growth_rate(first, first * ratio, 0, 2 * days) == pytest.approx(rate / 2)
    plants = np.array([first, 2 * first])
    mean, error = growth.harvest_rate(plants, ratio * plants, 0, days)
    assert mean == pytest.approx(float(rate))
    assert error > 0


@given(st.floats(0.1, 3), ABOVE, st.floats(1, 1000), ABOVE)
def test_a_ball_is_a_spheroid_of_equal_axes(half, seed, build_up, coat):
    ball = thickness.on_sphere(2 * half, seed, build_up, coat)
    assert float(thickness.spheroid_volume(half, half)) == pytest.approx(4 / 3 * np.pi * half**3)
    assert float(thickness.spheroid_surface(half, half * (1 + 1e-9))) == pytest.approx(4 * np.pi * half**2, rel=1e-6)
    for way in (thickness.on_half_axes, thickness.parallel):
        assert float(way(half, half * (1 + 1e-9), seed, build_up, coat)) == pytest.approx(float(ball), rel=1e-5)
    assert float(thickness.thin(half, half * (1 + 1e-9), seed, build_up, coat)) >= float(ball), "a thin coat is the limit"
    assert float(thickness.on_sphere(2 * half, seed, 2 * build_up, coat)) > float(ball)


@given(ABOVE, ABOVE, st.floats(0.1, 1))
def test_doses(mg, kg, stayed):
    assert float(dose.by_balance(mg, kg, stayed)) == pytest.approx(stayed * float(dose.by_balance(mg, kg)))
    assert float(dose.by_uptake(0.5, strength.soak_strength(mg, 0.5))) == pytest.approx(mg)
    assert float(dose.of_hectare(dose.of_unit(mg, kg), 2e6)) == pytest.approx(2 * float(dose.of_hectare(dose.of_unit(mg, kg), 1e6)))
    assert float(scale_up.rescaled(mg, kg, 3 * kg)) == pytest.approx(3 * mg)


@given(st.floats(0.01, 5), ABOVE, st.floats(20, 500), st.floats(0.3, 1))
def test_weighing_in_gives_the_strength(molar, litres, molar_mass, pure):
    grams = float(strength.grams_for(molar, litres, molar_mass, pure))
    assert float(strength.millimolar(1000 * grams * pure / litres, molar_mass)) == pytest.approx(1000 * molar)


@given(st.floats(1e-6, 2e-5), st.floats(500, 3000))
def test_small_grains_fall_as_stokes_says(diameter, density):
    """Terminal velocity comes down to Stokes's where the grain is small; a larger grain falls faster."""
    small = float(falling.terminal_velocity(diameter, density))
    assert small == pytest.approx(float(falling.stokes_velocity(diameter, density)), rel=0.05)
    assert float(falling.terminal_velocity(3 * diameter, density)) > small


@given(st.integers(0, 25), st.integers(0, 75), st.floats(0.01, 0.3))
def test_a_dish_is_as_odd_counted_either_way(k, others, rho):
    """Seeds that did and seeds that did not; and a chance is a chance."""
    found = chance_of_dish([k], [25], [others], [75], rho)[0]
    assert 0 < found <= 1
    assert chance_of_dish([25 - k], [25], [75 - others], [75], rho)[0] == pytest.approx(found)


@given(SHARES, SHARES, ABOVE)
def test_lots_by_number_and_price(filled, viable, thousand_g):
    live = float(life.viable_of_units(filled, viable))
    assert live <= min(filled, viable)
    assert float(life.dormancy(0.5 * live, live)) == pytest.approx(0.5)
    many = float(live_seed.live_per_gram(1.0, live, thousand_g))
    assert many * thousand_g == pytest.approx(1000 * live)
    assert float(live_seed.price_of_1000(0.1, many)) * many == pytest.approx(100)
