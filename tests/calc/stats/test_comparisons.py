"""Several comparisons: laws and refusals."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea.calc.stats.comparisons import (
    dunnett,
    dunnett_critical,
    dunnett_p,
    dunnett_probability,
    holm,
    holm_divisors,
    loadings,
)
from palea.errors import UnfitValue

LOADS = st.lists(st.floats(0.05, 0.95), min_size=1, max_size=5)


@given(LOADS, st.integers(1, 200), st.floats(0.5, 0.99), st.booleans())
@settings(max_examples=40, deadline=None)
def test_critical_value_and_probability_are_each_others_inverse(loads, df, confidence, two_sided):
    critical = dunnett_critical(loads, df, confidence, two_sided=two_sided)
    assert dunnett_probability(critical, loads, df, two_sided=two_sided) == pytest.approx(confidence, abs=1e-8)


@given(LOADS, st.integers(1, 100))
@settings(max_examples=30, deadline=None)
def test_more_arms_need_a_wider_interval_but_no_wider_than_bonferroni(loads, df):
    one, more = dunnett_critical(loads, df), dunnett_critical([*loads, 0.7], df)
    assert one < more
    assert dunnett_critical([0.5], df, 1 - 0.05 / (len(loads) + 1)) >= more - 1e-9


def test_an_interval_leaves_0_out_where_p_is_below_5_percent():
    found = dunnett([10, 12, 13, 15], [5, 4, 6, 5], variance=3.0, df=16)
    assert ((found.lower > 0) == (found.p_value < 0.05)).all()
    assert (found.p_value < 0.05).any()
    assert (found.p_value > 0.05).any()


def test_equal_numbers_share_half():
    assert loadings([1 / 8, 1 / 2], 1 / 8) == pytest.approx([np.sqrt(1 / 2), np.sqrt(1 / 5)])


def test_one_sided_p_of_an_arm_below_control_is_large():
    assert dunnett_p([-2.0], [0.7, 0.7], 12, two_sided=False)[0] > 0.9


@given(st.lists(st.floats(0, 1), min_size=1, max_size=8))
def test_holm_never_lowers_and_keeps_the_order(p):
    adjusted = holm(p)
    assert (adjusted >= np.array(p)).all()
    assert (adjusted <= 1).all()
    assert (np.diff(adjusted[np.argsort(p, kind="stable")]) >= 0).all()
    assert set(holm_divisors(p)) <= set(range(1, len(p) + 1))


def test_degrees_of_freedom_must_be_there():
    with pytest.raises(UnfitValue, match="df is 0"):
        dunnett_critical([0.7, 0.7], 0)
