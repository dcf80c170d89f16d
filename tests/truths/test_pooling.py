"""Effects of several trials pooled, against published analyses of the BCG vaccine trials and against statsmodels."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from palea.calc.decision.evidence import pool_evidence
from palea.calc.stats.pooling import between, heterogeneity, pool, variance_of

BCG = pd.read_csv(Path(__file__).parent / "data" / "bcg_vaccine.csv")
VACCINATED = BCG["vaccinated_tb"] + BCG["vaccinated_none"]
CONTROL = BCG["control_tb"] + BCG["control_none"]
LOG_RISK = np.log(BCG["vaccinated_tb"] / VACCINATED) - np.log(BCG["control_tb"] / CONTROL)
VARIANCE = 1 / BCG["vaccinated_tb"] - 1 / VACCINATED + 1 / BCG["control_tb"] - 1 / CONTROL


def test_reml_gives_the_published_analysis():
    """R metafor, rma(yi, vi, data = dat.bcg), as printed in its documentation: tau2 0.3132, I2 92.22 %, Q(12) 152.2330,
    estimate -0.7145, se 0.1798, 95 % -1.0669 to -0.3622."""
    found = pool(LOG_RISK, VARIANCE, knapp_hartung=False)
    assert found.tau2 == pytest.approx(0.3132, abs=5e-5)
    assert found.i2 == pytest.approx(92.22, abs=5e-3)
    assert found.q == pytest.approx(152.2330, abs=5e-5)
    printed = (-0.7145, 0.1798, -1.0669, -0.3622)
    assert (found.mean, found.error, found.lower, found.upper) == pytest.approx(printed, abs=5.1e-5)
    assert found.mean / found.error == pytest.approx(-3.9744, abs=5e-5)


def test_moments_give_the_published_analysis():
    """Tests of R metafor against Stata metan, randomi, on the same trials: -0.7141, 95 % -1.0644 to -0.3638."""
    found = pool(LOG_RISK, VARIANCE, method="DL", knapp_hartung=False)
    assert (found.mean, found.lower, found.upper) == pytest.approx((-0.7141, -1.0644, -0.3638), abs=5.1e-5)


def test_hartung_knapp_gives_what_r_prints():
    """R metafor, rma(..., test = "knha"): se 0.1808, t(12) -3.9522, p 0.0019, 95 % -1.1084 to -0.3206 (from memory)."""
    found = pool(LOG_RISK, VARIANCE)
    printed = (0.1808, -1.1084, -0.3206, 0.0019)
    assert (found.error, found.lower, found.upper, found.p_value) == pytest.approx(printed, abs=5.1e-5)
    assert found.mean / found.error == pytest.approx(-3.9522, abs=5e-5)


def test_a_fixed_mean_gives_the_published_q():
    """Stata metan, fixedi: -0.4303, Q 152.2330 (tests of R metafor)."""
    assert np.average(LOG_RISK, weights=1 / VARIANCE) == pytest.approx(-0.4303, abs=5e-5)
    assert heterogeneity(LOG_RISK, VARIANCE) == pytest.approx(152.2330, abs=5e-5)


@pytest.mark.parametrize(("method", "theirs"), [("DL", "chi2")])
def test_statsmodels_agrees(method, theirs):
    meta = pytest.importorskip("statsmodels.stats.meta_analysis")
    result = meta.combine_effects(LOG_RISK.to_numpy(), VARIANCE.to_numpy(), method_re=theirs, use_t=False)
    plain, wide = pool(LOG_RISK, VARIANCE, method=method, knapp_hartung=False), pool(LOG_RISK, VARIANCE, method=method)
    assert plain.tau2 == pytest.approx(result.tau2, rel=1e-9)
    assert plain.mean == pytest.approx(result.mean_effect_re, rel=1e-9)
    assert plain.error == pytest.approx(result.sd_eff_w_re, rel=1e-9)
    assert wide.error == pytest.approx(result.sd_eff_w_re_hksj, rel=1e-9)
    assert plain.q == pytest.approx(result.q, rel=1e-9)


def test_reml_is_the_top_of_the_restricted_likelihood():
    """statsmodels has no REML of this kind; the likelihood of two-level normal data, written out anew, is scanned."""

    def restricted(tau2):
        total = np.diag(VARIANCE + tau2)
        one = np.ones((len(BCG), 1))
        inside = one.T @ np.linalg.inv(total) @ one
        mean = np.linalg.solve(inside, one.T @ np.linalg.inv(total) @ LOG_RISK.to_numpy())
        left = LOG_RISK.to_numpy() - mean
        return -0.5 * (np.linalg.slogdet(total)[1] + np.linalg.slogdet(inside)[1] + left @ np.linalg.inv(total) @ left)

    best = between(LOG_RISK, VARIANCE)
    scanned = np.linspace(0.2, 0.45, 2001)
    assert scanned[np.argmax([restricted(t) for t in scanned])] == pytest.approx(best, abs=2e-4)


def test_prediction_interval_of_the_published_analysis():
    """Higgins, Thompson & Spiegelhalter 2009: t on k - 2 degrees of freedom; with normal quantiles the BCG trials give
    risk ratios of 0.155 to 1.549 (R metafor), so the half width here is t(11) / 1.96 of that one."""
    found = pool(LOG_RISK, VARIANCE, knapp_hartung=False)
    half = (found.predicted[1] - found.predicted[0]) / 2
    published = (np.log(1.5490) - np.log(0.1546)) / 2
    assert half / published == pytest.approx(2.200985 / 1.959964, rel=3e-4)
    assert np.exp(sum(found.predicted) / 2) == pytest.approx(0.4894, abs=1e-4)


def rows(**changes):
    error = np.sqrt(VARIANCE)
    frame = pd.DataFrame({
        "trial": BCG["trial"], "quantity": "cases", "denominator": "", "unit": "1", "scale": "ratio",
        "value": np.exp(LOG_RISK), "lower": np.exp(LOG_RISK - 1.959963984540054 * error),
        "upper": np.exp(LOG_RISK + 1.959963984540054 * error), "confidence": 0.95,
    })
    return frame.assign(**changes)


def test_from_reported_intervals_the_same_answer_comes_out():
    """Published: pooled risk ratio 0.489, I2 92.2 %, p of Q below 0.001 (13 trials)."""
    found = pool_evidence(rows())
    mean, one_more, scatter = found.effects
    assert mean.value == pytest.approx(0.4894, abs=5e-5)
    assert (mean.lower, mean.upper) == pytest.approx((np.exp(-1.1084), np.exp(-0.3206)), abs=5e-5)
    assert scatter.value == pytest.approx(92.22, abs=5e-3)
    assert scatter.p_value < 0.001
    assert one_more.lower < mean.lower < mean.upper < one_more.upper
    assert len(found.groups) == 13


def test_variance_comes_back_from_an_interval():
    """Any table of t: 2.228139 for 10 degrees of freedom."""
    assert variance_of(1 - 2.228139 * 0.3, 1 + 2.228139 * 0.3, 0.95, 10) == pytest.approx(0.09, rel=1e-6)
