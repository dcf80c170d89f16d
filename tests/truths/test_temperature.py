"""Thermal time against a published worked case, and lines of rate against temperature."""

import numpy as np
import pytest
from scipy.stats import norm

from palea.calc.stats.threshold_models import Thermal, optimum, thermal_time_to
from palea.calc.stats.threshold_time import Looks, fit


def test_onions_after_harrington():
    """Brewster, Onions and Other Vegetable Alliums (after Harrington 1962): base 2.5 °C, 80 °C d to half: 4 days at
    22.5 °C, 16 days at 7.5 °C."""
    assert thermal_time_to([22.5, 7.5], 80, 2.5) == pytest.approx([4, 16], rel=1e-12)
    assert thermal_time_to(2.5, 80, 2.5) == np.inf


def test_both_lines_meet_at_the_optimum():
    """Garcia-Huidobro, Monteith & Squire 1982: 1 / t = (T - Tb) / theta, past the optimum (Tm - T) / theta2."""
    to = optimum(2.5, 40.0, 80.0, 40.0)
    assert (to - 2.5) / 80 == pytest.approx((40 - to) / 40, rel=1e-12)


def test_the_fit_finds_the_onions_again():
    """Expected counts of the published case (log-normal spread .3) at four temperatures give its base and thermal time."""
    warm = np.array([7.5, 12.5, 17.5, 22.5])
    looks = np.append(np.arange(0.0, 41), np.inf)
    left, right = np.tile(looks[:-1], 4), np.tile(looks[1:], 4)
    at = np.repeat(warm, looks.size - 1)
    with np.errstate(divide="ignore"):
        reach = [norm.cdf((np.log(t) - np.log(80 / (at - 2.5))) / 0.3) for t in (left, right)]
    counts = 1000 * (reach[1] - reach[0])
    model = Thermal(at, np.zeros(at.size, bool), 7.5, 22.5)
    group = np.repeat(np.arange(4), looks.size - 1)
    found = fit(model, Looks(left, right, group), counts, [3.0, 3 * np.log(60), np.log(3.0)])
    natural = {name: value[0] for name, value in model.natural(found.shape).items()}
    assert found.settled.all()
    assert natural["base temperature"] == pytest.approx(2.5, abs=1e-3)
    assert natural["constant"] == pytest.approx(80, rel=1e-3)
    assert natural["spread"] == pytest.approx(0.3, rel=1e-3)
