"""Survival against R, a published worked example each, another statistics library, and sums by hand.

Data: Freireich et al. 1963 (weeks of remission), lung of R survival, Bliss 1935. Numbers of R are of version 4.2.2,
survival 3.5.3, unless said otherwise.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import integrate, stats

from palea.calc.field.combined import combine
from palea.calc.field.rows import lives
from palea.calc.stats import accelerated, frail_hazards, interval_hazards, kaplan_meier
from palea.calc.stats.proportions import wilson

HERE = Path(__file__).parent / "data"
WEEKS = pd.read_csv(HERE / "freireich_6mp.csv")
LUNG = pd.read_csv(HERE / "lung.csv")


@pytest.fixture(scope="module")
def mercaptopurine():
    """The treated arm."""
    arm = WEEKS[WEEKS["treat"] == "6-MP"]
    return kaplan_meier.fit(arm["time"], arm["cens"])


@pytest.fixture(scope="module")
def lung():
    """All patients in one curve."""
    return kaplan_meier.fit(LUNG["time"], LUNG["status"] == 2)


def test_curve_and_greenwood_errors_of_the_treated_arm(mercaptopurine):
    """R survfit; the curve is also printed in many textbooks."""
    assert mercaptopurine.time.tolist() == [6, 7, 10, 13, 16, 22, 23]
    published = [0.8571, 0.8067, 0.7529, 0.6902, 0.6275, 0.5378, 0.4482]
    errors = [0.0764, 0.0869, 0.0963, 0.1068, 0.1141, 0.1282, 0.1346]
    assert mercaptopurine.survival == pytest.approx(published, abs=5e-5)
    assert mercaptopurine.error == pytest.approx(errors, abs=5e-5)


def test_log_log_interval_of_the_treated_arm(mercaptopurine):
    """Kalbfleisch & Prentice's interval at week 6, as common software prints it: 0.6197 to 0.9516 (from memory)."""
    lower, upper = mercaptopurine.interval()
    assert (lower[0], upper[0]) == pytest.approx((0.6197, 0.9516), abs=5e-5)


@pytest.mark.parametrize(("arm", "median"), [("6-MP", 23.0), ("control", 8.0)])
def test_median_weeks_of_remission(arm, median):
    """R survfit: 23 and 8."""
    part = WEEKS[WEEKS["treat"] == arm]
    assert kaplan_meier.fit(part["time"], part["cens"]).quantile() == median


def test_log_rank_of_the_remissions():
    """R survdiff: 16.79294099; observed 9 and 21, expected 19.250501 and 10.749499, variance 6.25696057."""
    found = kaplan_meier.log_rank(WEEKS["time"], WEEKS["cens"], WEEKS["treat"])
    assert found.statistic == pytest.approx(16.79294099, abs=1e-8)
    assert found.observed.tolist() == [9, 21]
    assert found.expected == pytest.approx([19.250501, 10.749499], abs=1e-6)
    assert found.covariance[0, 0] == pytest.approx(6.25696057, abs=1e-8)


def test_peto_and_peto_weigh_early_deaths_more():
    """R survdiff, rho = 1: 14.457151 (remissions), 12.7 (lung by sex)."""
    found = kaplan_meier.log_rank(WEEKS["time"], WEEKS["cens"], WEEKS["treat"], rho=1)
    assert found.statistic == pytest.approx(14.457151, abs=1e-6)
    lung = kaplan_meier.log_rank(LUNG["time"], LUNG["status"] == 2, LUNG["sex"], rho=1)
    assert lung.statistic == pytest.approx(12.7, abs=0.05)


def test_log_rank_of_lung_by_sex():
    """R survdiff: 10.32674195, expected 91.58174 and 73.41826, p 0.00131116."""
    found = kaplan_meier.log_rank(LUNG["time"], LUNG["status"] == 2, LUNG["sex"])
    assert found.statistic == pytest.approx(10.32674195, abs=1e-8)
    assert found.expected == pytest.approx([91.58174, 73.41826], abs=5e-6)
    assert found.p_value == pytest.approx(0.00131116, abs=5e-9)


def test_medians_of_lung(lung):
    """R survfit, log interval: 310 (285 to 363); by sex 270 and 426."""
    assert lung.quantile() == 310
    assert lung.quantile_interval(scale="log") == (285, 363)
    by_sex = [kaplan_meier.fit(part["time"], part["status"] == 2).quantile() for _, part in LUNG.groupby("sex")]
    assert by_sex == [270, 426]


def test_restricted_mean_of_lung(lung):
    """R print(survfit(Surv(time, status) ~ 1, lung), rmean = "common"): 376.3, se 19.7 (from memory)."""
    assert lung.restricted_mean(1022) == pytest.approx((376.3, 19.7), abs=0.05)


def test_restricted_mean_of_two_deaths_by_hand():
    """Of four, one dies at 1 and one at 3: 1 + 2 x 0.75 + 1 x 0.5 up to day 4; Greenwood's terms 1 / 12 and 1 / 6."""
    mean, error = kaplan_meier.fit([1, 3, 4, 4], [1, 1, 0, 0]).restricted_mean(4)
    assert mean == pytest.approx(3.0)
    assert error == pytest.approx(np.sqrt(2.0**2 / 12 + 0.5**2 / 6))


@pytest.mark.parametrize(
    ("family", "coefficients", "scale"),
    [
        pytest.param("weibull", (3.5156869, -1.2673346), np.exp(-0.3117092), id="weibull"),
        pytest.param("log-logistic", (3.1581540, -1.2654634), 0.5465533, id="log-logistic"),
    ],
)
def test_accelerated_remissions(family, coefficients, scale):
    """R survreg on exact weeks; here a death lies in an interval of a thousandth of a week about its time."""
    seen = WEEKS["cens"] == 1
    left, right = np.where(seen, WEEKS["time"] - 5e-4, WEEKS["time"]), np.where(seen, WEEKS["time"] + 5e-4, np.inf)
    design = np.column_stack([np.ones(len(WEEKS)), WEEKS["treat"] == "control"])
    found = accelerated.fit(left, right, np.ones(len(WEEKS)), design, family)
    assert found.coefficients == pytest.approx(coefficients, abs=2e-6)
    assert found.scale == pytest.approx(scale, abs=2e-6)


def test_complementary_log_log_of_the_beetles():
    """Dobson, Introduction to Generalized Linear Models (R glm): -39.572309, 22.041169 (1.799365), deviance 3.446439."""
    data = pd.read_csv(HERE / "bliss_beetles.csv")
    n, k, dose = (data[name].to_numpy(float) for name in ("n", "dead", "ldose"))
    found = interval_hazards.fit(np.ones((8, 1)), (dose - 1.78)[:, None], k, n, np.arange(8))
    assert found.coefficients == pytest.approx([22.041169], abs=5e-6)
    assert found.baseline - 1.78 * found.coefficients == pytest.approx([-39.572309], abs=5e-6)
    assert np.sqrt(found.model_covariance) == pytest.approx(np.array([[1.799365]]), rel=1e-5)
    with np.errstate(divide="ignore", invalid="ignore"):
        best = np.nansum(k * np.log(k / n)) + np.nansum((n - k) * np.log((n - k) / n))
    assert 2 * (best - found.log_likelihood) == pytest.approx(3.446439, abs=1e-6)


def _visits(clusters=12, seed=5):
    """Three visits to plots of two treatments, each (at risk, died) a row."""
    chance, rows = np.random.default_rng(seed), []
    for cluster in range(clusters):
        alive = 20
        for visit in range(3):
            died = chance.binomial(alive, 0.15 + 0.1 * (cluster % 2))
            rows.append((cluster, visit, cluster % 2, alive, died))
            alive -= died
    return np.array(rows, float).T


def test_hazards_of_visits_are_those_of_a_general_library():
    """statsmodels 0.15 GLM, binomial with complementary log-log link, one column a visit."""
    cluster, visit, treated, at_risk, died = _visits()
    spans = np.eye(3)[visit.astype(int)]
    found = interval_hazards.fit(spans, treated[:, None], died, at_risk, cluster)
    link = sm.families.Binomial(sm.families.links.CLogLog())
    model = sm.GLM(np.column_stack([died, at_risk - died]), np.column_stack([spans, treated]), family=link).fit()
    assert np.append(found.baseline, found.coefficients) == pytest.approx(model.params, abs=1e-7)
    assert np.sqrt(found.model_covariance[0, 0]) == pytest.approx(model.bse[-1], rel=1e-6)


def test_error_between_plots_is_the_sandwich_freed_of_its_pull():
    """One row a plot, m equal plots a treatment: leverage is 1 / m, so CR2 is statsmodels' sandwich times m / (m - 1)."""
    died, at_risk = np.array([1, 4, 2, 6, 3, 7, 5, 9, 2, 4.0]), np.full(10, 12.0)
    treated = np.repeat([0, 1], 5).astype(float)
    found = interval_hazards.fit(np.ones((10, 1)), treated[:, None], died, at_risk, np.arange(10))
    link = sm.families.Binomial(sm.families.links.CLogLog())
    model = sm.GLM(np.column_stack([died, at_risk - died]), np.column_stack([np.ones(10), treated]), family=link)
    outside = model.fit(cov_type="cluster", cov_kwds={"groups": np.arange(10), "use_correction": False}).bse[-1]
    assert found.standard_errors[0] == pytest.approx(outside * np.sqrt(5 / 4), rel=1e-6)


def test_hazard_ratio_of_one_interval_by_hand():
    """30 of 100 against 20 of 100 die between two visits: log(0.7) / log(0.8)."""
    found = interval_hazards.fit(np.ones((4, 1)), [[1], [1], [0], [0]], [14, 16, 12, 8], [50, 50, 50, 50], list("abcd"))
    assert np.exp(found.coefficients[0]) == pytest.approx(np.log(0.7) / np.log(0.8), rel=1e-9)


def test_a_plot_that_missed_a_visit_spans_two_intervals_by_hand():
    """Half die in each interval of the plots seen twice; one seen once then loses 3 of 4: nothing moves the ratio off 1."""
    spans = [[1, 0], [0, 1], [1, 1]]
    found = interval_hazards.fit(spans, [[0], [0], [1]], [50, 25, 75], [100, 50, 100], list("aab"))
    assert found.coefficients == pytest.approx([0.0], abs=1e-9)
    assert -np.expm1(-np.exp(found.baseline)) == pytest.approx([0.5, 0.5], abs=1e-9)


def test_likelihood_with_plot_effects_is_the_integral():
    """By its definition, integrated by scipy.integrate.quad plot by plot at the estimates."""
    cluster, visit, treated, at_risk, died = _visits()
    spans = np.eye(3)[visit.astype(int)]
    found = frail_hazards.fit(spans, treated[:, None], died, at_risk, cluster)

    def of_plot(plot):
        rows = cluster == plot
        linear = spans[rows] @ found.baseline + treated[rows] * found.coefficients[0]

        def density(z):
            share = -np.expm1(-np.exp(linear + found.sd * z))
            return np.prod(share ** died[rows] * (1 - share) ** (at_risk - died)[rows]) * stats.norm.pdf(z)

        return np.log(integrate.quad(density, -9, 9, epsabs=0, epsrel=1e-10, limit=200)[0])

    assert found.log_likelihood == pytest.approx(sum(of_plot(plot) for plot in range(12)), abs=1e-6)


def test_plot_effects_come_back_and_without_them_it_is_the_plain_model():
    """Law: plots of sd 0.8 give it back (maximum likelihood: a little less); plots alike give the plain ratio."""
    chance, rows = np.random.default_rng(2), []
    for plot in range(300):
        z, alive = chance.normal(0, 0.8), 12
        died = chance.binomial(alive, -np.expm1(-np.exp(-1.5 + 0.7 * (plot % 2) + z)))
        rows.append((plot, plot % 2, alive, died))
    plot, treated, at_risk, died = np.array(rows, float).T
    found = frail_hazards.fit(np.ones((300, 1)), treated[:, None], died, at_risk, plot)
    assert found.sd == pytest.approx(0.8, abs=0.1)
    assert found.coefficients[0] == pytest.approx(0.7, abs=3 * found.standard_errors[0])
    alike = np.tile([3.0, 5.0], 10), np.full(20, 12.0), np.arange(20)
    none = frail_hazards.fit(np.ones((20, 1)), np.tile([[0], [1]], (10, 1)), *alike)
    plain = interval_hazards.fit(np.ones((20, 1)), np.tile([[0], [1]], (10, 1)), *alike)
    assert none.sd == pytest.approx(0, abs=1e-3)
    assert none.coefficients == pytest.approx(plain.coefficients, abs=1e-5)
    assert none.standard_errors == pytest.approx(np.sqrt(np.diag(plain.model_covariance)), rel=1e-3)
    assert none.warnings


def test_limits_of_a_difference_from_limits_of_its_parts():
    """Newcombe 1998, Stat. Med. 17:873: 56/70 against 48/80 from their Wilson limits, 0.0524 to 0.3339."""
    parts = [(k / n, *map(float, wilson(k, n))) for k, n in ((56, 70), (48, 80))]
    assert combine(parts, (1, -1)) == pytest.approx((0.2, 0.0524, 0.3339), abs=5e-5)


def test_lives_in_a_row_by_hand():
    """Standing 8, 9, 6, new 8, 2, 0: ten came, four died, six of ten stand. Without new: 3 died at least, 6 of 9 at most."""
    counted, bounded = lives([8, 9, 6], [8, 2, 0]), lives([8, 9, 6], live=20)
    assert (counted.emerged, counted.died, counted.lower, counted.upper) == (10, 4, 0.6, 0.6)
    assert (bounded.emerged, bounded.died, bounded.lower, bounded.upper) == (9, 3, 0.3, 6 / 9)
    assert counted.exact
    assert not bounded.exact
