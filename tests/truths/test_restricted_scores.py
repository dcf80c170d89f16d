"""Score test and score intervals for a difference of proportions.

Sources: Newcombe 1998, Statist. Med. 17:873 (56/70 against 48/80: Mee 0.0533 to 0.3377, Miettinen-Nurminen 0.0528 to
0.3382); 83/100 against 88/100 with a margin of 0.10: z 0.994765, p 0.159925, restricted estimates 0.798110 and 0.898110,
by direct maximisation of the binomial likelihood.
"""

import numpy as np
import pytest
from scipy import optimize

from palea.calc.stats.restricted_scores import restricted, score_interval, score_z, upper_tail


def test_no_worse_by_more_than_ten_points():
    z = score_z(83, 100, 88, 100, -0.10)
    assert z == pytest.approx(0.994765, abs=1e-6)
    assert upper_tail(z) == pytest.approx(0.159925, abs=1e-6)
    assert restricted(83, 100, 88, 100, -0.10) == pytest.approx((0.798110, 0.898110), abs=1e-6)


@pytest.mark.parametrize(("corrected", "interval"), [(False, (0.0533, 0.3377)), (True, (0.0528, 0.3382))])
def test_newcombes_example(corrected, interval):
    assert score_interval(56, 70, 48, 80, bias_corrected=corrected) == pytest.approx(interval, abs=6e-5)


def test_with_no_margin_it_is_the_pooled_z():
    pooled = (56 + 48) / 150
    wanted = (56 / 70 - 48 / 80) / np.sqrt(pooled * (1 - pooled) * (1 / 70 + 1 / 80))
    assert score_z(56, 70, 48, 80) == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize(("k1", "k2", "delta"), [(0, 5, 0.1), (10, 3, -0.2), (7, 0, 0.3), (10, 10, 0.05)])
def test_the_restricted_estimate_maximises_the_likelihood(k1, k2, delta):
    def against(p2):
        p1 = p2 + delta
        return -(k1 * np.log(p1) + (10 - k1) * np.log(1 - p1) + k2 * np.log(p2) + (10 - k2) * np.log(1 - p2))

    low, high = max(0, -delta) + 1e-9, min(1, 1 - delta) - 1e-9
    best = optimize.minimize_scalar(against, bounds=(low, high), method="bounded", options={"xatol": 1e-12})
    assert restricted(k1, 10, k2, 10, delta)[1] == pytest.approx(best.x, abs=1e-5)


def test_an_interval_holds_the_differences_that_are_not_refused():
    low, high = score_interval(9, 10, 3, 10)
    assert score_z(9, 10, 3, 10, low) == pytest.approx(1.959964, abs=1e-5)
    assert score_z(9, 10, 3, 10, high) == pytest.approx(-1.959964, abs=1e-5)
