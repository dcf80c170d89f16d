"""Hydrotime against figures of its own equation and another optimiser."""

import numpy as np
import pytest
from scipy import optimize
from scipy.special import expit
from scipy.stats import norm

from palea.calc.stats.threshold_models import Hydrotime, hydrotime_share, hydrotime_to
from palea.calc.stats.threshold_time import Looks, fit


@pytest.mark.parametrize(("psi", "share", "time"), [
    (0.0, 0.5, 1.666667), (0.0, 0.1, 1.262255), (0.0, 0.9, 2.452379), (-0.4, 0.5, 2.5),
])
def test_times_of_the_hydrotime_equation(psi, share, time):
    """Gummerson 1986, Bradford 1990 (from memory): psi_b50 -1.2, sigma .3 MPa, theta 2.0 MPa d; computed from them."""
    assert hydrotime_to(psi, share, -1.2, 0.3, 2.0) == pytest.approx(time, abs=5e-7)
    assert hydrotime_share(psi, time, -1.2, 0.3, 2.0) == pytest.approx(share, abs=1e-6)


def test_share_after_four_days_in_drought():
    """The same: at -0.4 MPa probit(g) = 1, so 0.8413447 have germinated after 4 days."""
    assert hydrotime_share(-0.4, 4.0, -1.2, 0.3, 2.0) == pytest.approx(0.8413447, abs=5e-8)


def test_half_times_of_the_demo():
    """The invented demo: 3.1 / .62 = 5.0 and 1.9 / .31 = 6.1 days in water."""
    assert hydrotime_to(0.0, 0.5, -0.62, 0.35, 3.1) == pytest.approx(5.0, abs=0.005)
    assert hydrotime_to(0.0, 0.5, -0.31, 0.20, 1.9) == pytest.approx(6.13, abs=0.005)
    assert hydrotime_to(-0.8, 0.5, -0.62, 0.35, 3.1) == np.inf


def test_the_maximum_is_that_of_another_optimiser():
    """scipy.optimize (Nelder and Mead, then BFGS) on the likelihood written out anew, here without our code."""
    visits = np.array([0.0, 3, 5, 7, 10, 14, 21, 28])
    psi = np.repeat([0.0, -0.2, -0.4, -0.6, -0.8], 8)
    left, right = np.tile(visits, 5), np.tile(np.append(visits[1:], np.inf), 5)
    counts = np.array([[3, 19, 14, 9, 4, 3, 1, 47], [1, 9, 10, 12, 7, 6, 2, 53], [0, 3, 6, 9, 8, 9, 4, 61],
                       [0, 1, 2, 4, 6, 8, 5, 74], [0, 0, 1, 1, 3, 4, 3, 88]]).ravel()

    def loss(theta):
        base, spread, constant, ever = theta[0], np.exp(theta[1]), np.exp(theta[2]), expit(theta[3])
        with np.errstate(divide="ignore"):
            low, high = (norm.cdf((psi - constant / t - base) / spread) for t in (left, right))
        inside = np.where(np.isinf(right), 1 - ever * low, ever * (high - low))
        return -counts @ np.log(np.maximum(inside, 1e-300))

    rough = optimize.minimize(loss, [-0.5, np.log(0.3), np.log(3), 0.2], method="Nelder-Mead",
                              options={"maxiter": 9000, "maxfev": 9000, "xatol": 1e-10, "fatol": 1e-12})
    best = optimize.minimize(loss, rough.x, method="BFGS")
    model = Hydrotime(psi)
    found = fit(model, Looks(left, right, np.zeros(40, int)), counts, Hydrotime.own(-0.5, 0.3, 3.0))
    natural = model.natural(found.shape)
    assert found.settled.all()
    assert found.loglik[0] == pytest.approx(-best.fun, abs=1e-6)
    assert natural["base"][0] == pytest.approx(best.x[0], abs=1e-5)
    assert natural["spread"][0] == pytest.approx(np.exp(best.x[1]), rel=1e-5)
    assert natural["constant"][0] == pytest.approx(np.exp(best.x[2]), rel=1e-5)
    assert found.share[0, 0] == pytest.approx(expit(best.x[3]), abs=1e-5)
