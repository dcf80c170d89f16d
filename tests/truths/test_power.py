"""Sample sizes and power against R, published tables and worked examples."""

import numpy as np
import pytest

from palea.calc.stats import power as p
from palea.calc.stats.proportions import design_effect


@pytest.mark.parametrize(("a", "b", "power", "n"), [
    (0.5, 0.75, 0.9, 76.706928), (0.80, 0.90, 0.8, 198.9634), (0.05, 0.10, 0.8, 434.4320), (0.10, 0.20, 0.9, 265.8560),
])
def test_two_shares_as_rs_power_prop_test(a, b, power, n):
    """R 4.2.2 power.prop.test (76.7069 in its documentation)."""
    assert p.units_for_shares(a, b, power) == pytest.approx(n, rel=1e-6)


def test_power_of_two_shares_as_rs_power_prop_test():
    """R documentation: power.prop.test(n = 50, p1 = .50, p2 = .75) gives power 0.7401659."""
    assert p.power_of_shares(0.5, 0.75, 50) == pytest.approx(0.7401659, abs=1e-7)


def test_arcsine_as_r_pwr_2p_test():
    """R pwr 1.3.0, h 0.5235988: n 76.65294 (its root is found to 1e-4)."""
    assert p.units_for_shares(0.5, 0.75, 0.9, by="arcsine") == pytest.approx(76.65294, abs=1e-4)


def test_t_test_as_rs_power_t_test():
    """R documentation: power.t.test(n = 20, delta = 1) 0.8689528; power = .90 needs n 22.02110."""
    assert p.power_of_means(1, 1, 20) == pytest.approx(0.8689528, abs=1e-7)
    assert p.units_for_means(1, 1, 0.9) == pytest.approx(22.02110, abs=5e-6)


def test_anova_as_rs_power_anova_test():
    """R documentation: power.anova.test(groups = 4, between.var = 1, within.var = 3, power = .80) n 11.92613; pwr 1.3.0
    k = 4, f = .25: n 44.59927."""
    n = 11.92613
    assert p.power_of_anova(3 * n / 3, 3, 4 * (n - 1)) == pytest.approx(0.8, abs=1e-6)
    n = 44.59927
    assert p.power_of_anova(4 * n * 0.25**2, 3, 4 * (n - 1)) == pytest.approx(0.8, abs=1e-6)


def test_complete_blocks_by_noncentral_f():
    """scipy noncentral F: tau (0, 0, 0, 10), variance 36, 4 blocks: 0.476631."""
    assert p.power_of_blocks([0, 0, 0, 10], 6, 4) == pytest.approx(0.476631, abs=1e-6)


@pytest.mark.parametrize(("alpha", "power", "n"), [(0.025, 0.9, 267.939), (0.05, 0.8, 157.655)])
def test_no_worse_by_the_published_formula(alpha, power, n):
    """Normal, unpooled, both 0.85, margin 0.10, one-sided."""
    assert p.units_for_no_worse(0.85, 0.85, 0.10, power, alpha) == pytest.approx(n, abs=5e-4)


def test_design_effect_of_kish():
    """Kish 1965: m 25, rho 0.05: 2.2; 100 seeds weigh as 45.4545."""
    assert design_effect(25, 0.05) == pytest.approx(2.2)
    assert 100 / design_effect(25, 0.05) == pytest.approx(45.4545, abs=5e-5)


@pytest.mark.parametrize(("cv", "total", "power"), [(0.30, 40, 0.815845)])
def test_two_one_sided_tests_as_powertost(cv, total, power):
    """R PowerTOST, its first example: 2 x 2 crossover, CV 0.30, true ratio 0.95, limits 0.80 to 1.25: 40, 0.815845."""
    sd = np.sqrt(np.log(1 + cv**2))
    found = p.power_of_equivalence(np.log(0.95), np.log(1.25), sd * np.sqrt(2 / total), total - 2)
    assert found == pytest.approx(power, abs=1e-6)
    short = p.power_of_equivalence(np.log(0.95), np.log(1.25), sd * np.sqrt(2 / (total - 2)), total - 4)
    assert short < 0.8


def test_equivalence_of_equal_shares_by_the_closed_form():
    """Chow, Shao & Wang 2003, ch. 4: n = (z_a + z_(b/2))^2 2 p q / m^2 where no difference is expected."""
    closed = (1.6448536 + 1.2815516) ** 2 * 2 * 0.75 * 0.25 / 0.15**2
    assert p.units_for_equivalence(0.75, 0.75, 0.15) == pytest.approx(closed, rel=1e-6)


def test_equivalence_of_unequal_shares_is_a_little_below_the_careful_formula():
    """Chow, Shao & Wang 2003: (z_a + z_(b/2))^2 (p1 q1 + p2 q2) / (m - d)^2 = 132.3 with 0.75, 0.80, margin 0.20 is
    careful; with z_b in place of z_(b/2) it is too small."""
    spread, room = 0.75 * 0.25 + 0.80 * 0.20, 0.15
    careful, bold = ((1.6448536 + z) ** 2 * spread / room**2 for z in (1.2815516, 0.8416212))
    assert careful == pytest.approx(132.3, abs=0.1)
    assert bold < p.units_for_equivalence(0.75, 0.80, 0.20) < careful


def test_deaths_for_a_hazard_ratio():
    """Schoenfeld 1983: 5 %, 80 %. Trials 2015, 16:213, table 1: ratio 2.0 takes 132 patients, 1.5 takes 384, of whom half
    die (rounded up in each arm). MRC CBU statistics wiki: survival 0.75 against 0.37 takes 20.39 events and 47 participants."""
    assert p.events_for_hazard(2.0) / 0.5 == pytest.approx(132, abs=3)
    assert p.events_for_hazard(1.5) / 0.5 == pytest.approx(384, abs=3)
    ratio = np.log(0.75) / np.log(0.37)
    assert p.events_for_hazard(ratio) == pytest.approx(20.39, abs=0.03)  # they took 1.96 + 0.84
    assert np.ceil(2 * p.plants_for_hazard(0.37, ratio)) == 47
