"""Verdicts against published two one-sided tests: the 90 % interval inside the margins is the same test."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import special

from palea.calc.stats.verdicts import judge

PLANTS = pd.read_csv(Path(__file__).parent / "data" / "PlantGrowth.csv").groupby("group")["weight"]


def interval(difference, error, df, confidence):
    half = special.stdtrit(df, (1 + confidence) / 2) * error
    return difference - half, difference + half


def against_control(arm):
    """Difference to the control, its standard error and degrees of freedom, two arms pooled as in the t test."""
    a, b = PLANTS.get_group(arm), PLANTS.get_group("ctrl")
    return a.mean() - b.mean(), np.sqrt((a.var() + b.var()) / 2 * 0.2), 18


def test_plants_90_percent_interval_and_both_one_sided_tests():
    """statsmodels 0.15 ttost_ind on PlantGrowth trt1 - ctrl, margin 1: p 0.0292791, t 2.019684 and -4.402205."""
    difference, error, df = against_control("trt1")
    inner = interval(difference, error, df, 0.90)
    assert inner == pytest.approx((-0.911048, 0.169048), abs=1e-6)
    assert ((difference + 1) / error, (difference - 1) / error) == pytest.approx((2.019684, -4.402205), abs=1e-6)
    assert special.stdtr(df, -(difference + 1) / error) == pytest.approx(0.0292791, abs=1e-7)
    assert judge(interval(difference, error, df, 0.95), inner, "equivalence", 1.0).verdict == "equivalent within m"


@pytest.mark.parametrize("arm", ["trt1", "trt2"])
@pytest.mark.parametrize("margin", [0.3, 0.6, 0.9, 1.0, 1.2])
def test_equivalence_is_the_two_one_sided_tests_of_statsmodels(arm, margin):
    weightstats = pytest.importorskip("statsmodels.stats.weightstats")
    p = weightstats.ttost_ind(PLANTS.get_group(arm), PLANTS.get_group("ctrl"), -margin, margin)[0]
    outer, inner = (interval(*against_control(arm), confidence) for confidence in (0.95, 0.90))
    inside = {"equivalent within m", "differs by less than matters"}  # the second where 95 % excludes 0 as well
    assert (judge(outer, inner, "equivalence", margin).verdict in inside) == (p < 0.05)


def test_lakens_2017():
    """Lakens 2017, SPPS 8:355: means 5.25 and 5.22, bounds +-0.384 raw, p .004 on 181 df: equivalent."""
    error = np.sqrt(0.95**2 / 95 + 0.83**2 / 89)
    t = (0.03 - 0.383569) / error
    assert (t, special.stdtr(181.134, t)) == (pytest.approx(-2.692771, abs=2e-5), pytest.approx(0.0038755, abs=1e-6))
    outer, inner = (interval(0.03, error, 181.134, confidence) for confidence in (0.95, 0.90))
    assert judge(outer, inner, "equivalence", 0.383569).verdict == "equivalent within m"
    assert judge(outer, inner, "equivalence", 0.1).verdict == "not shown"
