"""Shares: ends, shapes and refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from palea.calc.stats.proportions import (
    clopper_pearson,
    design_effect,
    intraclass_correlation,
    newcombe,
    t_quantile,
    wilson,
)
from palea.errors import UnfitValue


@given(st.integers(1, 400), st.floats(0, 1), st.floats(1, 5))
def test_intervals_hold_their_share_and_stay_in_bounds(n, part, effect):
    k = round(part * n)
    for lower, upper in (wilson(k, n, design_effect=effect), clopper_pearson(k, n, design_effect=effect)):
        assert 0 <= lower <= k / n <= upper <= 1


@pytest.mark.parametrize("interval", [wilson, clopper_pearson])
def test_ends_at_nothing_and_all(interval):
    lower, upper = interval([0, 25], 25)
    assert (lower[0], upper[1]) == (0, 1)
    assert 0 < upper[0] < 0.2
    assert 0.8 < lower[1] < 1


@given(st.integers(0, 25), st.integers(0, 25), st.floats(1, 4))
def test_difference_turns_with_its_arms(a, b, effect):
    lower, upper = newcombe(a, 25, b, 25, design_effect1=effect)
    turned = newcombe(b, 25, a, 25, design_effect2=effect)
    assert (lower, upper) == pytest.approx((-turned[1], -turned[0]), abs=1e-12)
    assert -1 <= lower <= (a - b) / 25 <= upper <= 1


def test_a_larger_design_effect_widens():
    widths = [np.ptp(newcombe(20, 25, 10, 25, design_effect1=d, design_effect2=d)) for d in (1, 1.5, 3)]
    assert widths == sorted(set(widths))


def test_dishes_that_do_not_differ_have_no_likeness():
    assert intraclass_correlation([10, 10, 10], 25) == 0
    assert intraclass_correlation([25, 0, 25, 0], 25, ["a", "a", "b", "b"]) == pytest.approx(1)
    assert np.isnan(intraclass_correlation([10, 12], 25, ["a", "b"]))
    assert np.isnan(intraclass_correlation([25, 25], 25))


@pytest.mark.parametrize(("call", "says"), [
    (lambda: wilson([3, 27], [25, 25]), r"k\[1\] is 27"),
    (lambda: wilson([3, 2], [25, 0]), r"n\[1\] is 0"),
    (lambda: clopper_pearson([np.nan], [25]), r"k\[0\] is nan"),
    (lambda: design_effect(25, 1.2), r"rho\[0\] is 1.2"),
    (lambda: wilson(3, 25, confidence=95), "confidence is 95"),
    (lambda: t_quantile(0.95, 0), "df is 0"),
])
def test_unfit_values_are_named(call, says):
    with pytest.raises(UnfitValue, match=says):
        call()
