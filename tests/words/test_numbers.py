"""Digits: as many as a number is worth, and never so few that a bound seems to lie on the line that decides."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from palea.words import numbers


@pytest.mark.parametrize(("value", "lower", "upper", "share", "text"), [
    pytest.param(31.2, 22.1, 40.3, True, "31 (22 to 40)", id="journey 7: the brush"),
    pytest.param(58.66, 53.2, 64.2, False, "58.7 (53.2 to 64.2)", id="architecture: build-up"),
    pytest.param(2.91, 2.62, 3.23, False, "2.9 (2.6 to 3.2)", id="a ratio of times"),
    pytest.param(0.4, 0.0, 1.8, True, "0.4 (0 to 1.8)", id="a share close to zero"),
    pytest.param(1.03, 0.97, 1.09, False, "1.03 (0.97 to 1.09)", id="a narrow ratio"),
    pytest.param(1200.0, 1100.0, 1310.0, False, "1200 (1100 to 1310)", id="a large number"),
])
def test_decimals_follow_the_width_of_the_interval(value, lower, upper, share, text):
    many = numbers.places(value, lower, upper, share=share)
    assert f"{numbers.plain(value, many)} ({numbers.interval(lower, upper, many)})" == text


@given(bound=st.floats(-50, 50), line=st.sampled_from([0.0, 15.0, -15.0]))
def test_a_bound_is_never_written_as_the_line_it_does_not_reach(bound, line):
    many = numbers.places(bound, bound - 8, bound, share=True, lines=(line,))
    near = abs(bound - line) < 10.0**-numbers.MOST_PLACES
    assert bound == line or near or numbers.plain(bound, many) != numbers.plain(line, many)


@given(st.floats(-1e6, 1e6), st.integers(0, 4))
def test_there_is_no_minus_zero(x, many):
    assert numbers.plain(x, many).strip("-0.") or not numbers.plain(x, many).startswith("-")


def test_signs_units_and_p():
    assert numbers.interval(-11.2, 17.4, 0, sign=True) == "-11 to +17"
    assert [numbers.points(t) for t in ("31", "1", "+1", "-1", "0")] == [
        "31 points", "1 point", "+1 point", "-1 point", "0 points"]
    assert numbers.with_unit("1", "d") == "1 day"
    assert numbers.with_unit("7.2", "d") == "7.2 days"
    assert numbers.with_unit("0.14", "/d") == "0.14 per day"
    assert numbers.with_unit("400", "mg/kg") == "400 mg/kg"
    assert numbers.p_value(0.0004) == "p < 0.001"
    assert numbers.percent_of(0.95) == "95 %"
    assert not numbers.known(math.nan)
