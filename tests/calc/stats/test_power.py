"""Laws of sample sizes: more of what helps needs fewer units, and each size gives back the power it was made for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from palea.calc.stats import power

SHARES = st.floats(0.05, 0.95)


@given(SHARES, st.integers(1, 100), st.floats(0, 0.5), st.integers(1, 8), st.floats(0, 1))
def test_variance_of_a_unit(share, seeds, rho, dishes, batch_sd):
    found = float(power.share_variance(share, seeds, rho, dishes, batch_sd))
    assert found == pytest.approx(float(power.share_variance(1 - share, seeds, rho, dishes, batch_sd)))
    assert found >= float(power.share_variance(share, seeds, rho, dishes)) >= float(power.share_variance(share, seeds, 0, dishes))
    assert float(power.share_variance(share, seeds)) == pytest.approx(share * (1 - share) / seeds), "binomial without rho"
    assert float(power.share_variance(share, seeds, 1.0)) == pytest.approx(share * (1 - share)), "all alike: one seed"


@given(st.floats(0.3, 3), st.floats(0.5, 2), st.sampled_from([0.8, 0.9]))
def test_units_for_means_have_the_power_they_are_for(difference, sd, wanted):
    units = power.units_for_means(difference, sd, wanted)
    assert units > 1
    if units > 2.01:  # below, the least number of units decides
        assert float(power.power_of_means(difference, sd, units)) == pytest.approx(wanted, abs=1e-6)
    assert power.units_for_means(-difference, sd, wanted) == pytest.approx(units)
    assert power.units_for_means(10 * difference, 10 * sd, wanted) == pytest.approx(units), "no unit"


@pytest.mark.parametrize(("ratio", "log_sd"), [(1.1, 0.1), (1.5, 0.2), (3.0, 0.5)])
def test_a_ratio_and_its_inverse_need_the_same(ratio, log_sd):
    assert power.units_for_ratio(ratio, log_sd) == pytest.approx(power.units_for_ratio(1 / ratio, log_sd), rel=1e-6)
    assert power.units_for_ratio(ratio, log_sd) <= power.units_for_ratio(ratio, 1.5 * log_sd) + 1e-9


@pytest.mark.parametrize(("away", "sd"), [(0.0, 0.6), (0.5, 0.4)])
def test_units_for_equivalence(away, sd):
    """Nearer to the margin needs more; at the margin nothing is enough; and the power is what was asked."""
    units = power.units_for_means_equivalence(away, sd, 1.0)
    assert units <= power.units_for_means_equivalence(away + 0.2, sd, 1.0) + 1e-6
    assert units == pytest.approx(power.units_for_means_equivalence(-away, sd, 1.0), rel=1e-6)
    error = sd * np.sqrt(2 / units)
    assert power.power_of_equivalence(away, 1.0, error, 2 * (units - 1)) == pytest.approx(0.8, abs=1e-4)
    assert np.isinf(power.units_for_means_equivalence(1.0, sd, 1.0))


def test_level_of_equivalence_on_the_margin():
    """At the margin two one-sided tests claim at most alpha."""
    for error in (0.05, 0.2, 0.5):
        for df in (4, 20, np.inf):
            assert power.power_of_equivalence(1.0, 1.0, error, df) <= 0.05 + 1e-6


@given(SHARES, SHARES, st.sampled_from(["pooled", "arcsine"]))
def test_shares_and_their_complements_need_the_same(a, b, way):
    if abs(a - b) < 0.02:
        return
    found = power.units_for_shares(a, b, by=way)
    assert found == pytest.approx(power.units_for_shares(b, a, by=way))
    assert found == pytest.approx(power.units_for_shares(1 - a, 1 - b, by=way))
    if way == "pooled":
        assert float(power.power_of_shares(a, b, found)) == pytest.approx(0.8, abs=1e-9)


@given(st.floats(1.2, 4), st.floats(0.2, 0.9))
def test_hazards(ratio, standing):
    assert power.events_for_hazard(ratio) == pytest.approx(power.events_for_hazard(1 / ratio))
    one, eight = (power.plants_for_hazard(standing, ratio, seeds=m, rho=1.0) for m in (1, 8))
    assert one == pytest.approx(eight), "plants of a plot that are all alike count as one"
    assert power.plants_for_hazard(standing, ratio, seeds=8) == pytest.approx(one / 8)
