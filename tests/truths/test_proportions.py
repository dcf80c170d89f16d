"""Intervals of shares against published ones and against a general statistics library."""

import numpy as np
import pytest

from palea.calc.stats.proportions import clopper_pearson, design_effect, intraclass_correlation, newcombe, wilson

# Newcombe 1998, Stat. Med. 17:857, table of worked intervals (printed to four digits)
ONE_SHARE = [
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0.0, 0.1611), (0.0, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
]


@pytest.mark.parametrize(("k", "n", "score", "exact"), ONE_SHARE)
def test_one_share_agrees_with_newcombe_1998(k, n, score, exact):
    assert np.ravel(wilson(k, n)) == pytest.approx(score, abs=5.1e-5)
    assert np.ravel(clopper_pearson(k, n)) == pytest.approx(exact, abs=5.1e-5)


def test_difference_agrees_with_newcombe_1998b():
    """Newcombe 1998, Stat. Med. 17:873: 56/70 against 48/80, hybrid score 0.0524 to 0.3339."""
    assert newcombe(56, 70, 48, 80) == pytest.approx((0.0524, 0.3339), abs=5.1e-5)


@pytest.mark.parametrize("method", ["wilson", "beta"])
def test_one_share_agrees_with_statsmodels(method):
    proportion = pytest.importorskip("statsmodels.stats.proportion")
    k = np.array([0, 1, 7, 49, 50])
    ours = {"wilson": wilson, "beta": clopper_pearson}[method](k, 50, confidence=0.9)
    assert np.array(ours) == pytest.approx(np.array(proportion.proportion_confint(k, 50, 0.1, method)), abs=1e-12)


@pytest.mark.parametrize("counts", [(20, 20, 15, 20), (0, 25, 4, 25), (3, 40, 30, 35)])
def test_difference_agrees_with_statsmodels(counts):
    proportion = pytest.importorskip("statsmodels.stats.proportion")
    theirs = proportion.confint_proportions_2indep(*counts, method="newcomb")
    assert newcombe(*counts) == pytest.approx(theirs, abs=1e-12)


def test_nothing_seen_in_200_seeds_still_allows_1_8_percent():
    """Binomial by hand: (1 - p)^200 = 0.025 gives p = 1 - 0.025^(1/200)."""
    lower, upper = clopper_pearson(0, 200)
    assert lower == 0
    assert upper == pytest.approx(1 - 0.025 ** (1 / 200), abs=1e-12)
    assert 100 * float(upper) == pytest.approx(1.8, abs=0.05)


def test_design_effect_of_kish():
    """Kish 1965: 25 seeds a dish, rho 0.05 give 2.2; 100 seeds then count as 45.4545."""
    assert float(design_effect(25, 0.05)) == pytest.approx(2.2)
    assert 100 / float(design_effect(25, 0.05)) == pytest.approx(45.4545, abs=5e-5)
    fewer = wilson(80 / 2.2, 100 / 2.2)
    assert np.array(wilson(80, 100, design_effect=2.2)) == pytest.approx(np.array(fewer), abs=1e-12)


def test_likeness_of_seeds_is_the_variance_component_of_one_row_a_seed():
    """Analysis of variance of single seeds (statsmodels ols): (MSB - MSW) / (MSB + (m - 1) MSW)."""
    pandas = pytest.importorskip("pandas")
    ols = pytest.importorskip("statsmodels.formula.api").ols
    k, group = np.array([20, 12, 17, 23, 5, 11, 2, 9]), np.repeat(["a", "b"], 4)
    seeds = pandas.DataFrame({
        "y": np.concatenate([np.r_[np.ones(did), np.zeros(25 - did)] for did in k]),
        "group": np.repeat(group, 25), "dish": np.repeat(np.arange(8), 25).astype(str),
    })
    by_group, by_dish = ols("y ~ group", seeds).fit(), ols("y ~ dish", seeds).fit()
    between, within = (by_group.ssr - by_dish.ssr) / 6, by_dish.ssr / (200 - 8)
    theirs = (between - within) / (between + 24 * within)
    assert intraclass_correlation(k, 25, group) == pytest.approx(theirs, abs=1e-10)
