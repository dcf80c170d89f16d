"""Treatment means on batches and dishes against R, statsmodels and hand calculation."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import special

from palea.calc.germination.final import final
from palea.calc.stats.share_means import of_batches, of_counts

PLANTS = pd.read_csv(Path(__file__).parent / "data" / "PlantGrowth.csv")
TENTH = PLANTS["weight"] / 10  # as shares: 0.36 to 0.63, so that means with a pooled variance are called for


def in_points(result):
    """Differences; the odds ratio that follows each is checked in test_odds_ratios."""
    return [e for e in result.effects if e.scale == "difference"]



def plants_as_dishes():
    """PlantGrowth as ten batches a treatment, one dish of 10 000 seeds each: the shares are exact."""
    unit = PLANTS.index.astype(str)
    return pd.DataFrame({
        "taxon": "S", "treatment": PLANTS["group"], "environment": "e", "batch": unit, "unit": unit,
        "quantity": "normal seedlings", "denominator": "filled", "k": 10_000 * TENTH, "n": 10_000.0,
    })


def questions(*pairs, **more):
    plain = {
        "contrast": "C", "taxon": "S", "environment": "e", "quantity": "normal seedlings", "denominator": "filled",
        "kind": "superiority", "margin": np.nan, "wanted": "higher", "primary": False, "asks_about": "",
        "refused": "", "margin_late": False,
    }
    return pd.DataFrame([plain | {"a": a, "b": b, "asks_about": a} | more for a, b in pairs])


def test_variance_pooled_over_the_treatments_gives_rs_pairwise_t_tests():
    """R 4.2.2 pairwise.t.test(pool.sd = TRUE): 0.19438788, 0.08768168, 0.00445924 on 27 df."""
    pairs = ("trt1", "ctrl"), ("trt2", "ctrl"), ("trt2", "trt1")
    result = final(plants_as_dishes(), questions(*pairs))
    assert [e.p_value for e in in_points(result)] == pytest.approx([0.19438788, 0.08768168, 0.00445924], abs=1e-8)
    assert {e.df for e in in_points(result)} == {27}
    error = np.sqrt(0.3885959 * 2 / 10) * 10  # mean square of R's aov, in points of a tenth
    for e in in_points(result):
        assert e.upper - e.lower == pytest.approx(2 * special.stdtrit(27, 0.975) * error, rel=1e-6)
        assert e.inner_upper - e.inner_lower == pytest.approx(2 * special.stdtrit(27, 0.95) * error, rel=1e-6)


def test_a_family_against_one_control_gives_dunnetts_p():
    """R multcomp on PlantGrowth: 0.3227, 0.1535 (random lattice: 3 to 4 digits)."""
    result = final(plants_as_dishes(), questions(("trt1", "ctrl"), ("trt2", "ctrl"), asks_about="dose"))
    assert [e.p_value for e in in_points(result)] == pytest.approx([0.3227, 0.1535], abs=2e-4)
    half = [(e.upper - e.lower) / 2 for e in in_points(result)]
    error = np.sqrt(0.3885959 * 2 / 10) * 10  # mean square of R's aov, in points of a tenth
    assert half == pytest.approx([2.3335 * error] * 2, rel=2e-4)


def test_holm_over_primaries_gives_rs_adjusted_p():
    """R 4.2.2 pairwise.t.test, Holm: 0.175363 and 0.013378 for trt2."""
    pairs = ("trt1", "ctrl"), ("trt2", "ctrl"), ("trt2", "trt1")
    result = final(plants_as_dishes(), questions(*pairs, primary=True))
    verdicts = [e.verdict for e in in_points(result)]
    assert verdicts == ["not shown", "not shown", "better"]
    assert in_points(result)[2].p_value == pytest.approx(0.013378, abs=1e-6)
    assert in_points(result)[1].p_value == pytest.approx(0.175363, abs=1e-6)


def test_blocks_in_means_agree_with_least_squares_of_statsmodels():
    api = pytest.importorskip("statsmodels.api")
    treatment, block = np.repeat(list("abc"), 4), np.tile(list("pqrs"), 3)
    k = np.array([50, 55, 62, 70, 48, 57, 60, 66, 60, 71, 69, 78.0])
    design = np.hstack([np.eye(3)[np.repeat(range(3), 4)], np.eye(4)[np.tile(range(4), 3)][:, 1:]])
    theirs = api.OLS(k / 100, design).fit().t_test([1, -1, 0, 0, 0, 0])
    means = of_batches(treatment, k, np.full(12, 100.0), block)
    value, lower, upper = means.difference("a", "b", special.stdtrit(6, 0.975))
    assert (value, lower, upper) == pytest.approx((theirs.effect[0], *theirs.conf_int()[0]), abs=1e-10)
    assert means.statistic("a", "b") == pytest.approx(float(np.squeeze(theirs.tvalue)), abs=1e-9)


def test_blocks_in_counts_agree_with_margins_of_statsmodels():
    """Average over blocks of the differences in share, delta method, Pearson dispersion."""
    api = pytest.importorskip("statsmodels.api")
    treatment, block = np.repeat(list("ab"), 6), np.tile(list("ppqqrr"), 2)
    k, n = np.array([10, 14, 9, 20, 12, 17, 20, 22, 15, 25, 18, 21.0]), np.full(12, 25.0)
    blocks = np.eye(3)[np.tile([0, 0, 1, 1, 2, 2], 2)][:, 1:]
    design = np.column_stack([np.ones(12), (treatment == "a").astype(float), blocks])
    theirs = api.GLM(k / n, design, api.families.Binomial(), var_weights=n).fit(scale="X2")
    with pytest.warns(UserWarning, match="weights are not taken into account"):  # all dishes weigh the same here
        margin = theirs.get_margeff(dummy=True)
    means = of_counts(treatment, k, n, block)
    assert means.difference("a", "b", 1.0)[0] == pytest.approx(margin.margeff[0], abs=1e-8)
    assert means._error(0, 1) == pytest.approx(margin.margeff_se[0], rel=1e-6)
    assert means.spread == pytest.approx(theirs.scale, rel=1e-8)


def test_dispersion_of_counts_is_the_one_of_the_logit_model():
    api = pytest.importorskip("statsmodels.api")
    k, n = np.array([10, 20, 9, 20, 12, 24, 20, 15.0]), np.full(8, 25.0)
    design = np.kron(np.eye(2), np.ones((4, 1)))
    theirs = api.GLM(k / n, design, api.families.Binomial(), var_weights=n).fit(scale="X2")
    means = of_counts(np.repeat(["a", "b"], 4), k, n)
    assert means.spread == pytest.approx(theirs.scale, rel=1e-8)
    shares = np.array([59, 71]) / 100
    logit_errors = np.sqrt(np.diag(means.covariance)) / (shares * (1 - shares))
    assert logit_errors == pytest.approx(theirs.bse, rel=1e-6)


def test_score_intervals_without_extra_spread_are_newcombes():
    """Newcombe 1998, Stat. Med. 17:873: 56/70 and 48/80 in equal dishes: 0.0524 to 0.3339 at the normal quantile."""
    k, n = np.array([28, 28, 24, 24.0]), np.array([35, 35, 40, 40.0])
    means = of_counts(["a", "a", "b", "b"], k, n)
    assert means.difference("a", "b", 1.959964)[1:] == pytest.approx((0.0524, 0.3339), abs=5.1e-5)
