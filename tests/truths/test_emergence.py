"""Emergence: sums by hand, and the parts of it that other statistics libraries have."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.stats.rates import confint_poisson

from palea.calc.field.combined import Across
from palea.calc.field.emergence import final, unsown_share
from palea.calc.field.weather import degree_days, to_date
from palea.calc.stats.linear_means import of_contrasts
from palea.calc.stats.proportions import normal_quantile, t_quantile
from palea.calc.stats.quasi_poisson import mean_interval

NONE_ASKED = pd.DataFrame(columns=["taxon", "environment", "a", "b", "quantity", "denominator", "kind", "margin", "wanted",
                                   "primary", "asks_about", "refused", "margin_late"])


def _plots(k, n=100.0):
    size = len(k)
    return pd.DataFrame({
        "taxon": "S", "treatment": np.repeat(["a", "b"], size // 2), "environment": "here", "batch": "", "quantity": "emerged",
        "unit": [f"P{i}" for i in range(size)], "denominator": "viable", "k": np.array(k, float), "n": n,
    })  # fmt: skip


def test_the_unsown_level_goes_off_by_hand():
    """a: (12 + 8) of 200; unsown plots hold 4 seedlings in 4 plots, one a plot: (20 - 2) / 200 is 9 %. b: 30 - 2 is 14 %."""
    unsown = pd.DataFrame({"taxon": "S", "environment": "here", "unit": list("wxyz"), "k": [1.0, 0, 2, 1]})
    groups = final(_plots([12, 8, 14, 16]), NONE_ASKED, unsown).groups
    assert [e.value for e in groups] == pytest.approx([9.0, 14.0], abs=1e-9)
    assert unsown_share([12, 8], [100, 100], 4, 4) == pytest.approx(0.09)


@pytest.mark.parametrize(("total", "plots"), [(10, 16), (0, 16), (3, 4)])
def test_interval_of_the_unsown_level_is_the_score_interval_of_a_mean(total, plots):
    """statsmodels 0.15 confint_poisson, method "score"."""
    outside = confint_poisson(total, plots, method="score")
    assert mean_interval(total, plots, normal_quantile(0.95)) == pytest.approx(outside, abs=1e-12)


def test_two_sites_apart_are_welchs_t_test():
    """scipy.stats.ttest_ind, unequal variances: the same degrees of freedom, interval and p."""
    one, other = [5.1, 6.3, 4.8, 5.9, 6.0], [7.2, 4.1, 8.8, 6.9]
    parts = [of_contrasts(("zero", "site"), [np.mean(x)], [[np.var(x, ddof=1) / len(x)]], len(x) - 1, "") for x in (one, other)]
    across = Across(tuple(parts), (1.0, -1.0), "site", "zero")
    welch = stats.ttest_ind(one, other, equal_var=False)
    span = welch.confidence_interval(0.95)
    assert across.df == pytest.approx(welch.df, rel=1e-12)
    assert across.difference("site", "zero", t_quantile(0.95, across.df))[1:] == pytest.approx((span.low, span.high), rel=1e-12)
    assert across.statistic("site", "zero") == pytest.approx(welch.statistic, rel=1e-9)


def test_binomial_plots_without_blocks_are_newcombes_interval():
    """Newcombe 1998, Stat. Med. 17:873: 56/70 against 48/80 in plots that do not vary more than chance; t for normal."""
    plots = _plots([28, 28, 24, 24], n=np.array([35.0, 35, 40, 40]))
    row = {"taxon": "S", "environment": "here", "a": "a", "b": "b", "quantity": "emerged", "denominator": "viable",
           "kind": "superiority", "margin": np.nan, "wanted": "higher", "primary": True, "asks_about": "coat", "refused": "",
           "margin_late": False}
    confidence = 2 * stats.t.cdf(normal_quantile(0.95), 2) - 1  # so that the t quantile on 2 df is 1.96
    (effect,) = final(plots, pd.DataFrame([row]), confidence=confidence).effects
    assert (effect.lower, effect.upper) == pytest.approx((5.24, 33.39), abs=0.005)


@pytest.mark.parametrize(
    ("lowest", "highest", "base", "published"),
    [
        pytest.param(70, 80, 65, 10, id="Midwestern Regional Climate Center: mean 75, base 65 give 10"),
        pytest.param(58, 70, 53, 11, id="UC IPM, red scale: mean 64 less 53 is 11"),
        pytest.param(15, 21, 10, 8, id="Univ. of Wisconsin atlas: 21 and 15, base 10, give 8"),
        pytest.param(15, 21, 5, 13, id="the same with base 5 gives 13"),
        pytest.param(30, 48, 40, 0, id="Journey North: mean 39 below base 40 gives 0"),
    ],
)
def test_degree_days_of_a_day(lowest, highest, base, published):
    """Worked examples of extension services; the unit of temperature does not matter."""
    assert degree_days(lowest, highest, base) == pytest.approx(published, abs=1e-12)


def test_sums_to_date_by_hand():
    """Two showers on day 1, nothing known of day 2: 2, 3.5, 3.5, 4.5, and one day missing from day 2 on."""
    days, sums, missing = to_date([0, 1, 1, 3], [2.0, 1.0, 0.5, 1.0])
    assert (days.tolist(), sums.tolist(), missing.tolist()) == ([0, 1, 2, 3], [2, 3.5, 3.5, 4.5], [0, 0, 1, 1])
