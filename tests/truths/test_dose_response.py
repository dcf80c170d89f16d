"""Dose-response curves and lines against published estimates and fits of other programs."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.special import fdtrc

from palea.calc.stats import binomial_links
from palea.calc.stats.dose_response import FOUR, HORMESIS, THREE, fit
from palea.calc.stats.effective_doses import effective_dose, limit_dose, peak_dose, peak_response

DATA = Path(__file__).parent / "data"
FITTED_LOGIT = [3.4575, 9.8417, 22.4514, 33.8976, 50.0958, 53.2909, 59.2222, 58.7430]


@pytest.fixture(scope="module")
def beetles():
    table = pd.read_csv(DATA / "bliss_beetles.csv")
    return np.column_stack([np.ones(8), table["ldose"]]), table["dead"].to_numpy(), table["n"].to_numpy()


@pytest.fixture(scope="module")
def ryegrass():
    table = pd.read_csv(DATA / "ryegrass_ferulic.csv")
    return table["conc"].to_numpy(), table["rootl"].to_numpy()


@pytest.fixture(scope="module")
def lettuce():
    table = pd.read_csv(DATA / "lettuce_isobutylalcohol.csv")
    return table["conc"].to_numpy(), table["weight"].to_numpy()


@pytest.mark.parametrize(("link", "line", "errors", "goodness", "half", "ends", "dose"), [
    ("logit", (-60.717455, 34.270326), (5.180701, 2.912134), (11.232231, 41.430269, 10.026818),
     (1.771720964, 0.003858052), (1.763858179, 1.779200469), 59.118),
    ("probit", (-34.935266, 19.727938), (2.647879, 1.487213), (10.119758, 40.317796, 9.513430),
     (1.770852395, 0.003803312), (1.763114409, 1.778193787), 59.000),
    ("cloglog", (-39.572309, 22.041169), (3.240290, 1.799365), (3.446439, 33.644477, 3.294694),
     (1.778753033, 0.004006540), (1.770212856, 1.786163264), 60.083),
])
def test_bliss_beetles(beetles, link, line, errors, goodness, half, ends, dose):
    """Bliss 1935; estimates as in Dobson, recomputed with R 4.2.2 glm: line, deviance, AIC, X2, log10 LD50, Fieller."""
    model = binomial_links.fit(*beetles, link)
    assert model.coefficients == pytest.approx(line, rel=5e-7)
    assert model.standard_errors == pytest.approx(errors, rel=2e-5), "R stops with weights a step old"
    assert (model.deviance, model.aic, model.pearson) == pytest.approx(goodness, abs=5e-6)
    assert model.df == 6
    found = binomial_links.level(model, 0.5)
    assert (found.value, found.standard_error) == pytest.approx(half, abs=1e-7)
    assert (found.lower, found.upper) == pytest.approx(ends, abs=1e-7)
    assert 10**found.value == pytest.approx(dose, abs=5e-4)


@pytest.mark.parametrize("link", ["logit", "probit", "cloglog"])
def test_standard_errors_at_the_maximum(beetles, link):
    """statsmodels 0.15 GLM, iterated to 1e-14 where R stops at 1e-8."""
    import statsmodels.api as sm

    links = {"logit": sm.families.links.Logit, "probit": sm.families.links.Probit, "cloglog": sm.families.links.CLogLog}
    design, dead, n = beetles
    family = sm.families.Binomial(link=links[link]())
    peer = sm.GLM(np.column_stack([dead, n - dead]), design, family).fit(tol=1e-14, maxiter=200)
    model = binomial_links.fit(*beetles, link)
    assert model.coefficients == pytest.approx(peer.params, rel=1e-8)
    assert model.standard_errors == pytest.approx(peer.bse, rel=1e-7)


def test_fitted_deaths_and_delta_interval(beetles):
    """Dobson, logit: fitted deaths; delta 95 % interval of log10 LD50 1.764159321 to 1.779282608 (R)."""
    model = binomial_links.fit(*beetles, "logit")
    assert model.fitted * beetles[2] == pytest.approx(FITTED_LOGIT, abs=5e-5)
    found = binomial_links.level(model, 0.5)
    ends = found.value + 1.959963985 * found.standard_error * np.array([-1, 1])
    assert ends == pytest.approx((1.764159321, 1.779282608), abs=3e-8)


def test_budworm():
    """Venables & Ripley, Modern Applied Statistics, budworm (Collett 1991): coefficients, LD25, LD50, LD75 of females."""
    dead = np.array([1, 4, 9, 13, 18, 20, 0, 2, 6, 10, 12, 16])
    dose = np.tile(np.arange(6.0), 2)
    male = np.repeat([1.0, 0.0], 6)
    model = binomial_links.fit(np.column_stack([1 - male, male, dose]), dead, np.full(12, 20), "logit")
    assert model.coefficients == pytest.approx((-3.4731553, -2.3724119, 1.0642140), abs=5e-7)
    for share, value, error in ((0.25, 2.2312647, 0.2499089), (0.5, 3.2635874, 0.2297539), (0.75, 4.2959102, 0.2746874)):
        found = binomial_links.level(model, share, at=(0, 2))
        assert (found.value, found.standard_error) == pytest.approx((value, error), abs=5e-7)


def test_ryegrass_with_four_parameters(ryegrass):
    """Published documentation of a general dose-response program, v3.0.6 (5 digits); R nls to 7 digits."""
    found = fit(*ryegrass, model=FOUR)
    assert list(found.parameters.values()) == pytest.approx((2.9822287, 0.4814099, 7.7929623, 3.0579552), abs=2e-6)
    assert found.loss == pytest.approx(5.400214628, abs=1e-8)
    assert (np.sqrt(found.variance), found.df) == pytest.approx((0.5196256, 20), abs=5e-8)
    published = (0.46506, 0.21219, 0.18857, 0.18573)
    assert list(found.standard_errors.values()) == pytest.approx(published, abs=1e-5), "observed curvature"
    nls = (0.4584288, 0.2095060, 0.1897333, 0.1858289)
    assert np.sqrt(np.diag(found.expected_covariance)) == pytest.approx(nls, abs=2e-6), "Gauss and Newton"


@pytest.mark.parametrize(("share", "value", "error", "lower", "upper"), [
    (0.1, 1.46371, 0.18677, 1.07411, 1.85330), (0.5, 3.05795, 0.18573, 2.67053, 3.44538),
    (0.9, 6.38864, 0.84510, 4.62580, 8.15148),
])
def test_effective_doses_of_ryegrass(ryegrass, share, value, error, lower, upper):
    """The same documentation: ED10, ED50, ED90 with delta intervals."""
    found = effective_dose(fit(*ryegrass), share)
    assert (found.value, found.standard_error) == pytest.approx((value, error), abs=2e-5)
    assert (found.lower, found.upper) == pytest.approx((lower, upper), abs=3e-5)


def test_ryegrass_with_three_parameters(ryegrass):
    """R nls: b 2.4703243, d 7.8554276, e 3.2633557, RSS 6.622820.  ED20 of the four-parameter curve 1.921094."""
    found = fit(*ryegrass, model=THREE)
    assert list(found.parameters.values()) == pytest.approx((2.4703243, 7.8554276, 3.2633557), abs=2e-6)
    assert found.loss == pytest.approx(6.622820, abs=5e-7)
    assert effective_dose(fit(*ryegrass), 0.2).value == pytest.approx(1.921094, abs=2e-6)


def test_hormesis_of_lettuce(lettuce):
    """R nls at its optimum; the published fit (b 1.282812, d .967302, e .847633, f 1.620703, s .1117922) stops within .5 %."""
    found = fit(*lettuce, model=HORMESIS)
    assert list(found.parameters.values()) == pytest.approx((1.2827176, 0.9671768, 0.8459341, 1.6245286), rel=2e-5)
    assert found.loss == pytest.approx(0.1249748, abs=5e-8)
    assert list(found.parameters.values()) == pytest.approx((1.282812, 0.967302, 0.847633, 1.620703), rel=0.005)
    assert np.sqrt(found.variance) == pytest.approx(0.1117922, rel=0.005)


def test_doses_of_a_curve_with_hormesis(lettuce):
    """R on the nls optimum: EC50 35.052 (published 35.023), peak 1.181466 at .598497, back at control 2.930551, EC10."""
    found = fit(*lettuce, model=HORMESIS)
    assert effective_dose(found, 0.5).value == pytest.approx(35.052, abs=2e-3)
    assert effective_dose(found, 0.5).value == pytest.approx(35.023, rel=0.005)
    assert effective_dose(found, 0.1).value == pytest.approx(4.458364, rel=1e-5)
    assert peak_response(found).value == pytest.approx(1.181466, abs=2e-6)
    assert peak_dose(found).value == pytest.approx(0.598497, rel=1e-4)
    assert limit_dose(found).value == pytest.approx(2.930551, rel=2e-5)


def test_hormesis_is_shown_against_the_curve_without_it(lettuce):
    """R: three parameters RSS .2422228; F 9.381733 on 1 and 10, p .011984. Pure error .088237 on 7 df (published)."""
    without, with_it = fit(*lettuce, model=THREE), fit(*lettuce, model=HORMESIS)
    assert without.loss == pytest.approx(0.2422228, abs=5e-8)
    f = (without.loss - with_it.loss) / with_it.variance
    assert f == pytest.approx(9.381733, abs=1e-5)
    assert fdtrc(1, 10, f) == pytest.approx(0.011984, abs=5e-7)
    table = pd.DataFrame({"dose": lettuce[0], "weight": lettuce[1]})
    pure = table.groupby("dose")["weight"].apply(lambda w: np.sum((w - w.mean()) ** 2)).sum()
    assert pure == pytest.approx(0.088237, abs=6e-7)
    assert pure < with_it.loss
