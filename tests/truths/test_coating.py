"""Coats against published figures and independent computations. Each case says where it is from."""

import numpy as np
import pandas as pd
import pytest

from palea.calc.coating import balance, build_up, dose, evenness, scale_up, thickness, units


@pytest.mark.parametrize(("bare_g", "coated_g", "percent"), [
    pytest.param(1000 / 400_000, 1000 / 220_000, 81.8181818182, id="lucerne, 400 000 bare and 220 000 coated seeds a kg"),
    pytest.param(20.0, 100.0, 400.0, id="NSW DPI: coat can reach 80 % of the bagged weight"),
])
def test_build_up_agrees_with_published_seed_counts(bare_g, coated_g, percent):
    assert build_up.build_up([bare_g], [coated_g]) == pytest.approx([percent], rel=1e-9)  # counts taken as exact


def test_bag_of_lucerne_holds_ten_or_five_and_a_half_million_seeds():
    """Published: 25 kg at 400 000 bare and 220 000 coated seeds a kg; share 45 %, ratio 1.8182."""
    bare, coated = 25 * 400_000, 25 * 220_000
    assert (bare, coated) == (10_000_000, 5_500_000)
    gained = build_up.build_up(25 / bare, 25 / coated)
    assert build_up.share_of_product(gained) == pytest.approx(45)
    assert 1 + gained / 100 == pytest.approx(1.8182, abs=5e-5)


@pytest.mark.parametrize(("share", "percent"), [
    pytest.param(34, 51.515, id="alfalfa: coats of 9 to 34 % of the bag"), pytest.param(80, 400, id="NSW DPI"),
    pytest.param(9, 9.8901, id="alfalfa, low end, by hand"),
])
def test_share_of_the_bag_as_build_up(share, percent):
    assert build_up.from_share(share) == pytest.approx(percent, abs=5e-4)
    assert build_up.share_of_product(build_up.from_share(share)) == pytest.approx(share)


def test_classes_by_mass_have_common_bounds_that_can_be_moved():
    """Common practice, no source: film below 10 %, encrusting to 500 %, pellets above. One page: encrusted below 10 %."""
    assert build_up.class_by_mass([1, 9.9, 10, 499, 501]).tolist() == ["film", "film", *["encrusted"] * 2, "pellet"]
    assert build_up.class_by_mass([9, 26], film_below=0, pellet_above=25).tolist() == ["encrusted", "pellet"]


@pytest.mark.parametrize(("diameter", "seed", "percent", "coat", "thick", "outer"), [
    (2.0, 1.2, 100, 1.5, 0.216440, 2.432881), (1.0, 1.1, 10, 1.3, 0.0137225, 1.027445),
    (1.5, 1.25, 300, 1.4, 0.407767, 2.315533),
])
def test_thickness_on_a_ball(diameter, seed, percent, coat, thick, outer):
    """Computed apart in R from the volumes of balls."""
    found = thickness.on_sphere(diameter, seed, percent, coat)
    assert found == pytest.approx(thick, abs=6e-7)
    assert diameter + 2 * found == pytest.approx(outer, abs=1.1e-6)


def test_volume_and_mass_of_a_two_millimetre_ball():
    """d 2 mm, 1.2 g/cm3: 5.026548 mg; coat of equal mass at 1.5: 3.351032 mm3."""
    seed = np.pi / 6 * 2**3
    assert seed * 1.2 == pytest.approx(5.026548, abs=5e-7)
    assert thickness.coat_volume(seed, 1.2, 100, 1.5) == pytest.approx(3.351032, abs=5e-7)


def test_long_spheroid_three_ways():
    """Half-axes 0.5 and 2 mm, 1.2 g/cm3, B 150 %, coat 1.4; computed apart in R (Steiner's formula for parallel)."""
    assert thickness.spheroid_volume(0.5, 2) == pytest.approx(2.094395, abs=5e-7)
    assert thickness.spheroid_surface(0.5, 2) == pytest.approx(10.124376, abs=5e-7)
    assert thickness.mean_curvature(0.5, 2) == pytest.approx(14.240139, abs=5e-7)
    case = (0.5, 2, 1.2, 150, 1.4)
    assert thickness.on_half_axes(*case) == pytest.approx(0.217845, abs=5e-7)
    assert thickness.parallel(*case) == pytest.approx(0.203954, abs=5e-7)
    assert thickness.thin(*case) == pytest.approx(0.265971, abs=5e-7)


@pytest.mark.parametrize(("a", "c"), [(0.5, 2.0), (2.0, 0.5), (1.0, 1.0), (1.0, 1.3)])
def test_surface_and_curvature_by_quadrature(a, c):
    """scipy quadrature of revolution for the surface; the curvature from how the surface of a parallel body grows."""
    integrate = pytest.importorskip("scipy.integrate")

    def strip(t):
        return 2 * np.pi * a * np.sin(t) * np.hypot(a * np.cos(t), c * np.sin(t))

    def turned(t):  # mean curvature H dS along a meridian: (k1 + k2) / 2
        speed = np.hypot(a * np.cos(t), c * np.sin(t))
        first, second = a * c / speed**3, c / (a * speed)
        return (first + second) / 2 * strip(t)

    assert thickness.spheroid_surface(a, c) == pytest.approx(integrate.quad(strip, 0, np.pi)[0], rel=1e-10)
    assert thickness.mean_curvature(a, c) == pytest.approx(integrate.quad(turned, 0, np.pi)[0], rel=1e-9)


def test_dose_on_every_basis():
    """Units check: 1 g/kg at TSW 2.0 g is 0.002 mg a seed; a million seeds a hectare carry 2 g."""
    assert dose.of_unit(1000, 2.0) == pytest.approx(0.002)
    assert dose.of_hectare(0.002, 1e6) == pytest.approx(2)


def test_dose_of_the_invented_soak_and_coat():
    """Derived by hand: 0.50 mL/g of 400 mg/L is 200 mg/kg; of 150 mg/kg the coat keeps 92 where 61.3 % stays."""
    assert dose.by_uptake(0.50, 400) == pytest.approx(200)
    assert dose.by_balance(150, 1, 92 / 150) == pytest.approx(92)


@pytest.mark.parametrize(("first", "second", "same"), [(200, 195, True), (200, 92, False), (80, 100, True), (125, 100, True),
                                                       (79.9, 100, False), (125.1, 100, False)])  # fmt: skip
def test_routes_compare_at_doses_within_0_80_to_1_25(first, second, same):
    """Our own convention; both bounds count as equal."""
    assert bool(dose.alike(first, second)) is same


@pytest.mark.parametrize(("diameter", "rpm"), [(0.3, 77.21), (0.5, 59.81), (0.6, 54.60), (1.0, 42.291)])
def test_critical_speed(diameter, rpm):
    """42.3 / sqrt(D) of mill handbooks; to more digits computed apart with g = 9.80665."""
    assert scale_up.critical_speed(diameter) == pytest.approx(rpm, abs=0.006)
    assert scale_up.critical_speed(diameter) == pytest.approx(42.3 / np.sqrt(diameter), rel=3e-4)


def test_critical_speed_of_a_worked_mill():
    """Published worked example: R 36 mm, balls of r 5.205 mm: 2.84 rev/s, which is 170.4 a minute (not 176.4)."""
    rpm = scale_up.critical_speed(2 * 0.036, 2 * 0.005205)
    assert rpm / 60 == pytest.approx(2.84, abs=0.005)
    assert rpm == pytest.approx(170.4, abs=0.3)


def test_critical_speed_in_feet():
    """Mill handbooks: 76.6 / sqrt(D) with D in feet (never in millimetres)."""
    assert scale_up.critical_speed(3 * 0.3048) == pytest.approx(76.6 / np.sqrt(3), rel=5e-4)


def test_larger_pan_at_the_same_share_of_critical_speed():
    """Derived by hand: 40 rpm in 0.30 m is 52 %; in 0.90 m that is 40 / sqrt(3) = 23.1 rpm."""
    assert 100 * 40 / scale_up.critical_speed(0.30) == pytest.approx(52, abs=0.5)
    assert scale_up.same_share(40, 0.30, 0.90) == pytest.approx(40 / np.sqrt(3), rel=1e-12)
    assert scale_up.same_share(40, 0.30, 0.90) == pytest.approx(23.1, abs=0.05)


@pytest.mark.parametrize(("gain_g", "n", "per_100_000"), [
    pytest.param(0.75, 100_000, 0.75, id="ESTA/Euroseeds: maize, sweet corn"),
    pytest.param(0.50, 700_000, 0.0714286, id="oilseed rape, 0.50 g from 700 000"),
    pytest.param(0.25, 100_000, 0.25, id="sugar beet pellets"), pytest.param(0.40, 75_000, 0.533333, id="sunflower"),
    pytest.param(0.1, 100_000, 0.1, id="carrot, witloof"), pytest.param(0.2, 100_000, 0.2, id="onion, vegetable peas"),
    pytest.param(0.4, 100_000, 0.4, id="beans"),
])
def test_dust_reference_values_on_one_basis(gain_g, n, per_100_000):
    """ESTA/Euroseeds reference values as published; the common basis by hand."""
    assert units.dust_per_100_000(gain_g, n) == pytest.approx(per_100_000, rel=1e-5)


@pytest.mark.parametrize(("g_per_100_kg", "thousand_g", "grams"), [
    pytest.param(4, 45, 0.18, id="cereals 4 g/100 kg at TSW 45 g"), pytest.param(6, 100, 0.6, id="cotton 6 g/100 kg, by hand"),
])
def test_dust_a_mass_as_dust_a_number(g_per_100_kg, thousand_g, grams):
    assert units.dust_from_mass(g_per_100_kg, thousand_g) == pytest.approx(grams)


def test_returned_bag_lacks_88_grams_of_seed():
    """Derived by hand: 1000 g sent; a product with 37.5 % coat that holds 912 g of seed weighs 1459.2 g."""
    assert balance.seed_in_product(1459.2, 37.5) == pytest.approx(912)


def test_outsourced_pellets_hold_less_than_a_seed_each():
    """Invented contractor's coat: 6 % doubles, 9 % empty: 0.97 seeds a unit, by hand."""
    assert units.seeds_per_unit(9, 85, 6, 0) == pytest.approx(0.97)


@pytest.mark.parametrize(("cv", "n", "near"), [(0.05, 100, 1e-7), (0.12, 30, 2e-5), (0.30, 20, 2e-3)])
def test_interval_of_a_coefficient_of_variation_is_near_the_exact_one(cv, n, near):
    """Exact: sqrt(n) mean / s is noncentral t (Johnson & Welch 1940), inverted with scipy's nct."""
    stats, optimize = pytest.importorskip("scipy.stats"), pytest.importorskip("scipy.optimize")
    seen = np.sqrt(n) / cv
    exact = [
        np.sqrt(n) / optimize.brentq(lambda nc, p=p: stats.nct.cdf(seen, n - 1, nc) - p, 0.2 * seen, 2 * seen)
        for p in (0.025, 0.975)
    ]
    assert evenness.variation_interval(cv, n)[1:3] == pytest.approx(sorted(exact), abs=near)


def test_components_of_variance_are_those_of_a_mixed_model():
    """REML of statsmodels equals the analysis of variance for equal numbers a batch."""
    mixed = pytest.importorskip("statsmodels.formula.api").mixedlm
    rng = np.random.default_rng(3)
    batch = np.repeat([f"R{i}" for i in range(6)], 12)
    value = 10 + np.repeat(rng.normal(0, 1.5, 6), 12) + rng.normal(0, 1, 72)
    theirs = mixed("value ~ 1", pd.DataFrame({"batch": batch, "value": value}), groups="batch").fit(reml=True)
    ours = evenness.components(batch, value)
    assert ours.between == pytest.approx(float(theirs.cov_re.iloc[0, 0]), rel=1e-3)
    assert ours.within == pytest.approx(float(theirs.scale), rel=1e-4)


def test_interval_between_batches_touches_zero_where_the_f_test_does():
    """scipy f_oneway: the lower end is above 0 exactly where p is below half of 5 %."""
    stats = pytest.importorskip("scipy.stats")
    rng = np.random.default_rng(5)
    seen = set()
    for shift in np.linspace(0, 1.2, 25):
        groups = [shift * at + rng.normal(0, 1, 8) for at in (-1, -0.5, 0, 0.5, 1)]
        found = evenness.components(np.repeat(list("abcde"), 8), np.concatenate(groups))
        significant = stats.f_oneway(*groups).pvalue < 0.025
        assert (found.lower > 0) == significant
        seen.add(bool(significant))
    assert seen == {True, False}


@pytest.mark.parametrize(("batches", "each"), [(3, 4), (5, 8), (8, 2)])
def test_ends_are_at_zero_exactly_where_f_is_at_its_quantile(batches, each):
    """scipy's F quantiles: means moved apart until MSB / MSW is at 97.5 % (lower end 0) or 2.5 % (upper end 0)."""
    stats = pytest.importorskip("scipy.stats")
    df = batches - 1, batches * (each - 1)
    within = np.tile(np.linspace(-1, 1, each), batches)
    apart = np.repeat(np.linspace(-1, 1, batches), each)
    msw, msb = np.sum(within**2) / df[1], np.sum(apart**2) / df[0]
    ends = [
        evenness.components(np.repeat(np.arange(batches), each), within + apart * np.sqrt(stats.f.ppf(p, *df) * msw / msb))
        for p in (0.975 + 1e-6, 0.975 - 1e-6, 0.025 + 1e-6, 0.025 - 1e-6)
    ]
    assert [e.lower > 0 for e in ends] == [True, False, False, False]
    assert [e.upper > 0 for e in ends] == [True, True, True, False]
    assert ends[0].lower < 1e-3


def test_spread_of_unit_mass_in_one_batch_is_that_of_its_units():
    """scipy.stats.variation with divisor n - 1; masses lean to one side, so that mean and median differ."""
    stats = pytest.importorskip("scipy.stats")
    masses = np.array([1.0, 1.1, 1.2, 1.3, 2.4])
    nothing = pd.DataFrame(columns=["taxon", "treatment", "batch", *units.OPENED, "time_s", "gain_g", "n_units"])
    weighed = pd.DataFrame({"taxon": "A", "treatment": "T", "batch": "R1", "mass_mg": masses})
    (found,) = units.units(nothing, weighed, nothing, nothing).estimates
    assert found.value == pytest.approx(100 * stats.variation(masses, ddof=1))


def test_median_interval_covers_as_the_binomial_says():
    """Order statistics: 25 values, ends are the 8th and 18th (Conover 1999, table; P = 0.0216 a side by scipy)."""
    stats = pytest.importorskip("scipy.stats")
    found = units.median_interval(np.arange(1, 26))
    assert found[:3] == (13, 8, 18)
    assert stats.binom.cdf(7, 25, 0.5) == pytest.approx(0.0216, abs=5e-5)
    assert stats.binom.cdf(8, 25, 0.5) > 0.025
