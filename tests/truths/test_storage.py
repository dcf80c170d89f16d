"""Ageing: the invented demo's own numbers, another program's line, and Fieller's published limits."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from palea.calc.germination import ageing
from palea.calc.germination.viability import after_adjustment, dormant_share
from palea.calc.stats import binomial_links

DATA = Path(__file__).parent / "data"


def test_half_lives_of_the_demo():
    """Journey of the invented demo: probit of 90 % less months / 18 and / 11: half viable after 23.1 and 14.1 months."""
    start = 1.2815515655  # probit of 0.9, from a table of the normal distribution
    assert ageing.half_life(start, 18) == pytest.approx(23.1, abs=0.05)
    assert ageing.half_life(start, 11) == pytest.approx(14.1, abs=0.05)
    assert ageing.viable_share(0, 1.28, 18) == pytest.approx(0.8997, abs=5e-5)
    assert ageing.viable_share(23.04, 1.28, 18) == pytest.approx(0.5, abs=1e-12)


def test_the_line_is_the_probit_line_of_another_library():
    """statsmodels 0.15 GLM, probit link: one start, a slope a store."""
    import statsmodels.api as sm

    months = np.array([0, 0, 6, 6, 12, 12, 6, 6, 12, 12], float)
    store = np.array(["", "", *["room"] * 4, *["dry"] * 4])
    viable = np.array([23, 22, 20, 21, 15, 17, 22, 23, 21, 22])
    found = ageing.fit(months, store, viable, np.full(10, 25))
    design = np.column_stack([np.ones(10), -months * (store == "room"), -months * (store == "dry")])
    family = sm.families.Binomial(link=sm.families.links.Probit())
    peer = sm.GLM(np.column_stack([viable, 25 - viable]), design, family).fit(tol=1e-14)
    assert found.stores == ("room", "dry")
    assert found.model.coefficients == pytest.approx(peer.params, rel=1e-8)
    assert found.model.standard_errors == pytest.approx(peer.bse, rel=1e-7)


def test_half_life_and_its_limits_are_those_of_a_published_probit_line():
    """Bliss's beetles (Dobson; R 4.2.2): time turned over is dose, so half-life and Fieller's limits are the LD50's."""
    table = pd.read_csv(DATA / "bliss_beetles.csv")
    months = table["ldose"].to_numpy()
    found = ageing.fit(months, np.full(8, "s"), (table["n"] - table["dead"]).to_numpy(), table["n"].to_numpy())
    start, slope = found.model.coefficients
    assert ageing.half_life(start, 1 / slope) == pytest.approx(1.770852395, abs=1e-7)
    plain = found.model.covariance
    limits = binomial_links.fieller(start, slope, plain[0, 0], plain[1, 1], plain[0, 1], 1.959963985)
    assert limits == pytest.approx((1.763114409, 1.778193787), abs=1e-7)


def test_denominators_of_the_end_of_a_test():
    """7 CFR 201.57a and arithmetic: sown 100, filled 80, viable 60, germinated 45."""
    assert after_adjustment(45, 60) == pytest.approx(75, rel=1e-12)
    assert after_adjustment(45, 80) == pytest.approx(56.25, rel=1e-12)
    assert after_adjustment(45, 100) == pytest.approx(45, rel=1e-12)
    assert dormant_share(45, 60) == pytest.approx(25, rel=1e-12)
