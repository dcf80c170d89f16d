"""Flow, falling and rates against published figures. Each test names where its numbers come from."""

import numpy as np
import pytest
from scipy import stats

from palea.calc.handling.falling import stokes_velocity, terminal_velocity
from palea.calc.handling.flow import angle_class, angle_of_repose, carr_index, flow_class, hausner_ratio
from palea.calc.handling.rates import (
    bare_rate,
    calibrated_rate,
    calibration_turns,
    coat_share,
    cost_per_plant,
    grams_to_catch,
    live_seeds_per_m2,
    rate_for_live_seeds,
    seeds_per_m2,
    sowing_rate,
)
from palea.calc.stats.exact_rates import rate_interval, rate_ratio

ACRE, FOOT, INCH, POUND = 4046.8564224, 0.3048, 0.0254, 453.59237  # international foot and avoirdupois pound
LB_PER_ACRE = POUND / 1000 / ACRE * 1e4  # in kg/ha


def test_hausner_and_carr_of_the_pharmacopoeia():
    """USP <1174>: definitions; 0.45 and 0.55 g/mL give 1.2222 and 18.1818 (computed by hand), class fair."""
    assert hausner_ratio(0.45, 0.55) == pytest.approx(1.2222, abs=5e-5)
    assert carr_index(0.45, 0.55) == pytest.approx(18.1818, abs=5e-5)
    assert flow_class(carr_index(0.45, 0.55)) == "fair"


@pytest.mark.parametrize(("carr", "hausner", "word"), [
    (10, 1.11, "excellent"), (15, 1.18, "good"), (20, 1.25, "fair"), (25, 1.34, "passable"), (31, 1.45, "poor"),
    (37, 1.59, "very poor"), (39, 1.60, "very, very poor"), (11, 1.12, "good"), (16, 1.19, "fair"),
    (21, 1.26, "passable"), (26, 1.35, "poor"), (32, 1.46, "very poor"),
])
def test_classes_of_flow_and_their_hausner_ratios(carr, hausner, word):
    """USP <1174>, table of flowability: both ends of each class; Hausner = 1 / (1 - Carr / 100) as printed there."""
    assert flow_class(carr) == word
    assert 1 / (1 - carr / 100) == pytest.approx(hausner, abs=0.045), "the printed pairs are rounded and not exact"
    bulk = 1 - carr / 100
    assert hausner_ratio(bulk, 1.0) == pytest.approx(1 / (1 - carr / 100), rel=1e-12)


@pytest.mark.parametrize(("degrees", "word"), [
    (25, "excellent"), (30, "excellent"), (31, "good"), (35, "good"), (36, "fair"), (40, "fair"), (41, "passable"),
    (45, "passable"), (46, "poor"), (55, "poor"), (56, "very poor"), (65, "very poor"), (67, "very, very poor"),
])
def test_classes_of_the_angle_of_repose(degrees, word):
    """USP <1174>, table of angles of repose: both ends of each class."""
    assert angle_class(degrees) == word


def test_angle_of_a_cone():
    """tan(angle) = height / radius (USP <1174>): 3 and 5 give 30.9638 degrees, derived by hand."""
    assert angle_of_repose(3, 5) == pytest.approx(30.9638, abs=5e-5)


@pytest.mark.parametrize(("diameter", "density", "fluid", "viscosity", "speed"), [
    pytest.param(70e-6, 2600, 1000, 1e-3, 0.004142497, id="documentation of the fluids library: sand in water"),
    pytest.param(1e-3, 1200, 1.2041, 1.825e-5, 4.4379, id="fluids 1.3.1: 1 mm in air"),
    pytest.param(2e-3, 1300, 1.2041, 1.825e-5, 7.7916, id="fluids 1.3.1: 2 mm in air"),
    pytest.param(3e-3, 1250, 1.2041, 1.825e-5, 9.9041, id="fluids 1.3.1: 3 mm in air"),
    pytest.param(0.5e-3, 900, 1.2041, 1.825e-5, 1.8610, id="fluids 1.3.1: 0.5 mm in air"),
])
def test_terminal_velocity_within_three_per_cent(diameter, density, fluid, viscosity, speed):
    """Drag correlations for a ball differ by about 3 %, so nearer agreement would say nothing."""
    assert terminal_velocity(diameter, density, fluid, viscosity) == pytest.approx(speed, rel=0.03)


def test_terminal_velocity_of_the_handbook_example():
    """GPSA Engineering Data Book, example 7-1: 0.46 ft/s published, 0.4492 computed by the fluids library."""
    pound_foot3 = 16.018463  # kg/m3 of 1 lb/ft3
    speed = terminal_velocity(150e-6, 31.2 * pound_foot3, 2.07 * pound_foot3, 1.2e-5)
    assert speed / FOOT == pytest.approx(0.4492, rel=0.03)
    assert speed / FOOT == pytest.approx(0.46, rel=0.04)


def test_slow_balls_fall_as_stokes_says():
    """Stokes' law at a Reynolds number below 0.1; 1 % is the size of the next term there."""
    assert terminal_velocity(10e-6, 2600, 1000, 1e-3) == pytest.approx(stokes_velocity(10e-6, 2600, 1000, 1e-3), rel=0.01)


def test_no_stop_in_thirty_metres_still_allows_twelve_per_hundred():
    """Exact Poisson, two-sided: -ln(0.025) / 30 m = 12.296 per 100 m, derived by hand."""
    lower, upper = rate_interval(0, 0.30)
    assert lower == 0
    assert upper == pytest.approx(12.2963, abs=5e-4)


@pytest.mark.parametrize(("events", "lower", "upper"), [(1, 0.0253, 5.5716), (5, 1.6235, 11.6683), (10, 4.7954, 18.3904)])
def test_exact_limits_of_a_count(events, lower, upper):
    """Garwood 1936, table of 95 % limits of a Poisson count (from memory, to the four digits printed)."""
    assert rate_interval(events, 1) == pytest.approx((lower, upper), abs=5e-5)


def test_ratio_of_two_rates_by_the_conditional_test():
    """11 events in 800 against 21 in 3011: at each limit of the ratio scipy's exact binomial test has 2.5 % in its tail."""
    ratio, lower, upper = rate_ratio(11, 800, 21, 3011)
    assert ratio == pytest.approx((11 / 800) / (21 / 3011), rel=1e-12)
    for limit, side in ((lower, "greater"), (upper, "less")):
        share = limit * 800 / (limit * 800 + 3011)
        assert stats.binomtest(11, 32, share, alternative=side).pvalue == pytest.approx(0.025, abs=1e-9)


@pytest.mark.parametrize(("plants", "tsw", "shares", "rate"), [
    pytest.param(300, 51.9, (0.85,), 183.176, id="Agriland: 183 kg/ha"),
    pytest.param(280, 53, (0.85,), 174.588, id="Irish Farmers Journal: 175 kg/ha"),
])
def test_sowing_rate_of_farm_advisers(plants, tsw, shares, rate):
    assert sowing_rate(plants, tsw, *shares) == pytest.approx(rate, abs=5e-4)


def test_sowing_rate_of_canola():
    """Canola Council: 9.6 x 10 plants/ft2 x 4 g / 50 % = 7.7 lb/ac; 7.6827 with exact units."""
    assert sowing_rate(10 / FOOT**2, 4, 0.5) / LB_PER_ACRE == pytest.approx(7.6827, abs=1e-4)


@pytest.mark.parametrize(("per_kg", "rate", "seeds"), [
    pytest.param(450_000, 2, 90, id="lucerne, published"), pytest.param(440_000, 5, 220, id="lucerne, inputs published"),
])
def test_seeds_on_a_square_metre(per_kg, rate, seeds):
    assert seeds_per_m2(rate, 1e6 / per_kg) == pytest.approx(seeds, rel=1e-12)


def test_a_wheel_turned_twenty_times_sows_a_hundred_square_feet():
    """Drill calibration leaflet: 8 ft x 0.625 ft x 20 turns = 100 ft2."""
    assert calibration_turns(100, 8, 0.625) == pytest.approx(20, rel=1e-12)


def test_grams_to_catch_for_a_rate():
    """The same leaflet: 25 lb/ac on 100 ft2 are 26.06 g, with 454 g to the pound; 26.0326 g with the exact pound."""
    grams = grams_to_catch(25 * LB_PER_ACRE, 100 * FOOT**2)
    assert grams == pytest.approx(26.0326, abs=1e-4)
    assert grams * 454 / POUND == pytest.approx(26.06, abs=0.005)


def test_a_shortcut_of_the_canola_council_is_four_per_cent_high():
    """Canola Council: 18.75 g over 5 runs of 100 ft at 9 in: shortcut 5.0 lb/ac, exact 4.8017."""
    rate = calibrated_rate(18.75 / 5, 9 * INCH, 100 * FOOT)
    assert rate / LB_PER_ACRE == pytest.approx(4.8017, abs=1e-4)


def test_the_coat_is_taken_off():
    """Derived by hand: at 60 % build-up 37.5 % of the product is coat; 2.0 kg/ha of product are 1.25 kg/ha of seed."""
    assert coat_share(60) == 0.375
    assert bare_rate(2.0, 60) == pytest.approx(1.25, rel=1e-12)
    assert live_seeds_per_m2(2.0, 2.5, 0.8, 60) == pytest.approx(40, rel=1e-12)  # 1.25 kg/ha, 2.5 g: 50 m-2, 80 % live
    assert rate_for_live_seeds(40, 2.5, 0.8, 60) == pytest.approx(2.0, rel=1e-12)


def test_cost_of_a_plant():
    """Arithmetic: 228 a hectare, 65.3757 seeds/m2, share .0306 established: 228 / 20 005 plants."""
    assert cost_per_plant(228, 65.3757, 0.0306) == pytest.approx(228 / (65.3757 * 0.0306 * 1e4), rel=1e-12)
    assert np.round(1 / cost_per_plant(1, 65.3757, 0.0306)) == 20005
