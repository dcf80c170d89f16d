"""Partial dates: what each written form can mean, and what is not read at all."""

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as some

from palea.calc.spans import days_between, earliest, is_readable, latest

UNREADABLE = [
    "2024-02-30", "2023-02-29", "07/08/2023", "2023-8-7", "20230807", "2023-13", "2023-00", "2023-01-00", "0000",
    "2023-08-07T24:00", "2023-08-07T10:60", "2023-08-07T10", "2023-08-07 10:00", "2023-08-07T10:00:60", "2023T10:00",
    "2023-08-07T10:00+15:00", "2023-08-07T10:00+01:75", "ca. 2023", " 2023", "2023\n", "", "\u0662\u0660\u0662\u0663",
]


@pytest.mark.parametrize("text", UNREADABLE)
def test_what_is_no_accepted_date_is_not_read(text):
    assert not is_readable([text])[0]
    assert np.isnat(earliest([text])[0])
    assert np.isnat(latest([text])[0])


@pytest.mark.parametrize(("text", "first", "last"), [
    ("2024", "2024-01-01T00:00:00", "2024-12-31T23:59:59"),
    ("2024-02", "2024-02-01T00:00:00", "2024-02-29T23:59:59"),
    ("2023-02", "2023-02-01T00:00:00", "2023-02-28T23:59:59"),
    ("2024-12", "2024-12-01T00:00:00", "2024-12-31T23:59:59"),
    ("2024-03-31", "2024-03-31T00:00:00", "2024-03-31T23:59:59"),
    ("2024-03-31T07:05", "2024-03-31T07:05:00", "2024-03-31T07:05:59"),
    ("2024-03-31T07:05:09", "2024-03-31T07:05:09", "2024-03-31T07:05:09"),
    ("2024-03-31T00:30+02:00", "2024-03-31T00:30:00", "2024-03-31T00:30:59"),
    ("2024-03-31T00:30Z", "2024-03-31T00:30:00", "2024-03-31T00:30:59"),
])
def test_a_written_date_spans_what_it_can_mean(text, first, last):
    assert earliest([text])[0] == np.datetime64(first)
    assert latest([text])[0] == np.datetime64(last)


@given(some.dates(min_value=date(1, 1, 1)))
def test_every_day_of_the_calendar_reads_as_itself(day):
    """Law: the standard library's calendar is the outside reference."""
    assert earliest([day.isoformat()])[0] == np.datetime64(day)
    assert latest([day.isoformat()])[0] - np.datetime64(day, "s") == np.timedelta64(86399, "s")


@given(some.datetimes(min_value=datetime(1900, 1, 1), max_value=datetime(2100, 1, 1)), some.integers(-840, 840),  # noqa: DTZ001 wall clock
       some.datetimes(min_value=datetime(1900, 1, 1), max_value=datetime(2100, 1, 1)), some.integers(-840, 840))  # noqa: DTZ001 wall clock
def test_time_between_zoned_moments_agrees_with_the_standard_library(start, ahead, end, behind):
    one = start.replace(microsecond=0, tzinfo=timezone(timedelta(minutes=ahead)))
    two = end.replace(microsecond=0, tzinfo=timezone(timedelta(minutes=behind)))
    passed = (two.astimezone(UTC) - one.astimezone(UTC)).total_seconds() / 86400
    assert days_between([one.isoformat()], [two.isoformat()])[0] == pytest.approx(passed, abs=1e-9)


def test_days_are_as_fine_as_the_coarser_end():
    assert days_between(["2024-02-28", "2024-03-01T22:00"], ["2024-03-01T06:00", "2024-03-02"]).tolist() == [2.0, 1.0]
    assert days_between(["2024-03-01T06:00"], ["2024-03-01T18:00"]).tolist() == [0.5]
    assert np.isnan(days_between(["2024-03", None, "2024-03-01"], ["2024-03-05", "2024-03-05", "31.3.2024"])).all()


def test_the_hour_of_summer_time_is_not_counted_as_passed():
    assert days_between(["2024-03-31T00:00+01:00"], ["2024-04-01T00:00+02:00"])[0] * 24 == pytest.approx(23)


def test_moments_may_be_handed_over_ready_made():
    first, last = earliest(["2024"]), latest(["2024"])
    assert days_between(first, last)[0] == pytest.approx(366 - 1 / 86400)


def test_missing_stays_missing_and_rows_keep_their_place():
    texts = pd.Series(["2023", pd.NA, "2023", "x"], dtype=pd.StringDtype("pyarrow"), index=[9, 3, 3, 1])
    assert is_readable(texts).tolist() == [True, False, True, False]
    assert np.isnat(earliest(texts)).tolist() == [False, True, False, True]
    assert earliest(texts[:0]).dtype == np.dtype("datetime64[s]")
