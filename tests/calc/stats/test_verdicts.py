"""Every interval gives one word, each word can be reached, and what was not due is not given."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from palea.calc.stats.verdicts import LATE, NO_DIRECTION, NO_INTERVAL, NO_MARGIN, UNDECLARED, judge
from palea.calc.terms import Kind, Verdict

KINDS = st.sampled_from([str(kind) for kind in Kind])
WANTED = st.sampled_from(["higher", "lower"])
POINTS = st.floats(-60, 60, allow_nan=False)
MARGINS = st.floats(0.5, 40)

# Read off journey's definitions: 95 %, 90 %, kind, margin 15, higher wanted.
WORDS = [
    ((22, 40), (24, 38), "superiority", np.nan, "better"),
    ((-40, -22), (-38, -24), "superiority", np.nan, "worse"),
    ((-6, 11), (-5, 10), "superiority", np.nan, "not shown"),
    ((-9, 9), (-8, 8), "equivalence", 15, "equivalent within m"),
    ((1, 12), (2, 11), "equivalence", 15, "differs by less than matters"),
    ((-12, -1), (-11, -2), "equivalence", 15, "differs by less than matters"),
    ((-16, 9), (-14.9, 8), "equivalence", 15, "equivalent within m"),
    ((-17, 9), (-15, 8), "equivalence", 15, "not shown"),
    ((2, 20), (4, 18), "equivalence", 15, "better"),
    ((-20, -2), (-18, -4), "equivalence", 15, "worse"),
    ((-12, 20), (-10, 18), "no worse", 15, "no worse by more than m"),
    ((-9, 9), (-8, 8), "no worse", 15, "no worse by more than m"),
    ((-12, -1), (-11, -2), "no worse", 15, "no worse by more than m"),
    ((2, 20), (4, 18), "no worse", 15, "better"),
    ((-20, 3), (-18, 1), "no worse", 15, "not shown"),
    ((-20, -2), (-18, -4), "no worse", 15, "worse"),
    ((-9, 9), (-8, 8), "equivalence", np.nan, "not judged"),
]


@pytest.mark.parametrize(("outer", "inner", "kind", "margin", "word"), WORDS)
def test_word_of_an_interval(outer, inner, kind, margin, word):
    assert judge(outer, inner, kind, margin).verdict == word


def test_every_word_can_be_reached():
    assert {word for *_, word in WORDS} == {str(verdict) for verdict in Verdict}


@st.composite
def intervals(draw):
    """An estimate with a 95 % and a narrower 90 % interval."""
    value, width, ratio = draw(POINTS), draw(st.floats(0.1, 40)), draw(st.floats(0.3, 0.99))
    return (value - width, value + width), (value - ratio * width, value + ratio * width)


@given(intervals(), KINDS, MARGINS, WANTED)
def test_one_word_and_the_right_one(both, kind, margin, wanted):
    """The definitions, written out one by one: exactly one of them holds, and it is the one that is given."""
    (low, high), (inner_low, inner_high) = both
    excludes, inside = low > 0 or high < 0, -margin < inner_low and inner_high < margin
    up = (low > 0) == (wanted == "higher") if excludes else None
    short = inner_high < margin if wanted == "lower" else inner_low > -margin
    no_worse = kind == "no worse" and short and not (excludes and up and not inside)
    holds = {
        "better": excludes and up and not inside and not no_worse,
        "worse": excludes and up is False and not inside and not no_worse,
        "differs by less than matters": excludes and inside and not no_worse,
        "equivalent within m": not excludes and inside and not no_worse,
        "no worse by more than m": no_worse,
        "not shown": not excludes and not inside and not no_worse,
    }
    assert [word for word, true in holds.items() if true] == [judge(*both, kind, margin, wanted).verdict]


@given(intervals(), KINDS, MARGINS)
def test_turning_the_sign_and_what_is_wanted_changes_nothing(both, kind, margin):
    turned = [tuple(-end for end in reversed(ends)) for ends in both]
    assert judge(*both, kind, margin, "higher") == judge(*turned, kind, margin, "lower")


@given(intervals(), KINDS, MARGINS, WANTED)
def test_a_ratio_is_judged_as_its_logarithm(both, kind, margin, wanted):
    ratios = [tuple(np.exp(np.array(ends) / 20)) for ends in both]
    ends = np.abs(np.array([*both[0], *both[1]]))
    assume((ends > 1e-6).all() and (np.abs(ends - margin) > 1e-6).all())  # exp and back may move an end by a rounding
    assert judge(*ratios, kind, float(np.exp(margin / 20)), wanted, scale="ratio") == judge(*both, kind, margin, wanted)


@given(intervals(), KINDS, st.one_of(MARGINS, st.just(np.nan)), WANTED)
def test_an_undeclared_contrast_earns_no_word(both, kind, margin, wanted):
    assert judge(*both, kind, margin, wanted, declared=False) == ("", UNDECLARED)


@given(intervals(), KINDS, MARGINS, WANTED)
def test_a_late_margin_earns_no_word(both, kind, margin, wanted):
    assert judge(*both, kind, margin, wanted, margin_late=True) == ("", LATE)


def test_a_late_date_without_margin_does_no_harm_to_superiority():
    assert judge((1, 9), (2, 8), "superiority", margin_late=True).verdict == "better"


@pytest.mark.parametrize(("arguments", "reason"), [
    (((np.nan, np.nan), (np.nan, np.nan), "superiority"), NO_INTERVAL),
    (((1, 2), (1.1, 1.9), "no worse"), NO_MARGIN),
    (((1, 2), (1.1, 1.9), "equivalence", 0.0), NO_MARGIN),
    (((1, 2), (1.1, 1.9), "superiority", np.nan, ""), NO_DIRECTION),
])
def test_what_cannot_be_judged_says_why(arguments, reason):
    assert judge(*arguments) == (Verdict.NOT_JUDGED, reason)
