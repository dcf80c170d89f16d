"""Cleaning against the worked figures of the invented journey, and against general libraries. No published example reached."""

import numpy as np
import pandas as pd
import pytest

from palea.calc.cleaning import effort, recovery
from palea.calc.cleaning.between import Measured, answers


def test_brush_is_quicker_than_hands_from_7_1_grams():
    """By hand: 30 + 0.25 m = 4.5 m at m = 30 / 4.25 = 7.0588 g."""
    machine, hands = effort.Effort(30, 0, 0.25), effort.Effort(0, 0, 4.5)
    assert effort.quicker_from(machine, hands) == pytest.approx(30 / 4.25)
    assert round(effort.quicker_from(machine, hands), 1) == 7.1


@pytest.mark.parametrize(("grams", "before", "filled", "kept", "filled_out", "after", "units", "clean_g"), [
    pytest.param(1200, 5.2, 0.84, 0.90, 0.97, 2.7, 179_857, 486, id="pods of the invented legume, derived by hand"),
    pytest.param(160, 0.15, 0.70, 0.62, 0.97, 0.10, None, 47.7, id="florets of the invented grass, derived by hand"),
    pytest.param(600, 1.45, 0.70, 0.84, 0.97, 0.90, None, 226, id="fruits of the invented thrift, derived by hand"),
])
def test_number_and_mass_are_told_apart(grams, before, filled, kept, filled_out, after, units, clean_g):
    """Invented lots: pods in, share filled, share of the filled kept; unfilled ones are 3 % of what comes out."""
    into = recovery.units_in(grams, before)
    out = into * filled * kept / filled_out
    assert units is None or out == pytest.approx(units, abs=1)
    assert out * after / 1000 == pytest.approx(clean_g, rel=2e-3)
    assert recovery.by_number(out, into, filled_out, filled) == pytest.approx(kept)


def test_forty_percent_by_mass_is_78_by_number_and_90_of_the_filled():
    assert recovery.units_in(1200, 5.2) == pytest.approx(230_769, abs=0.5)
    assert 100 * recovery.by_mass(486, 1200) == pytest.approx(40, abs=0.6)
    assert 100 * recovery.by_number(179_857, 230_769) == pytest.approx(78, abs=0.1)
    assert 100 * recovery.by_number(179_857, 230_769, 0.97, 0.84) == pytest.approx(90, abs=0.01)


def test_time_model_is_least_squares_where_no_term_is_at_zero():
    """numpy lstsq and statsmodels OLS on noisy runs: coefficients and standard errors."""
    sm = pytest.importorskip("statsmodels.api")
    mass = np.array([20.0, 50, 90, 150, 300, 450, 75])
    noise = np.array([1.5, -2.0, 0.7, 2.2, -1.1, -0.4, -0.9])
    minutes = 30 + 12 * np.ceil(mass / 100) + 0.25 * mass + noise
    design = np.column_stack([np.ones(7), np.ceil(mass / 100), mass])
    theirs = sm.OLS(minutes, design).fit()
    ours = effort.fit(mass, minutes, 100.0)
    assert (ours.setup, ours.per_filling, ours.per_gram) == pytest.approx(tuple(theirs.params), rel=1e-9)
    assert ours.errors == pytest.approx(tuple(theirs.bse), rel=1e-9)
    assert ours.df == 4
    assert ours.spread == pytest.approx(np.sqrt(theirs.scale), rel=1e-9)


def test_minutes_as_a_ratio_are_the_t_test_of_logs():
    """Two methods, four runs each: scipy's pooled t test on logs gives the interval and p."""
    stats = pytest.importorskip("scipy.stats")
    brush, hand = np.array([0.30, 0.35, 0.28, 0.33]), np.array([4.4, 4.9, 4.1, 4.6])
    long = pd.DataFrame({
        "taxon": "A", "treatment": ["brush"] * 4 + ["hand"] * 4, "control": [False] * 4 + [True] * 4,
        "batch": [f"R{i}" for i in range(8)], "quantity": recovery.PER_GRAM, "value": [*brush, *hand], "seeds": 0.0,
        "n": np.nan,
    })  # fmt: skip
    (effect,) = answers(long, None, [Measured(recovery.PER_GRAM, "min/g", ratio=True)], 0.95).effects
    theirs = stats.ttest_ind(np.log(brush), np.log(hand))
    low, high = theirs.confidence_interval(0.95)
    assert effect.value == pytest.approx(np.exp(np.log(brush).mean() - np.log(hand).mean()))
    assert (effect.lower, effect.upper) == pytest.approx((np.exp(low), np.exp(high)))
    assert effect.p_value == pytest.approx(theirs.pvalue)
