"""Warmth and rain to date: gaps are told, and a day that is missing is not a dry day."""

import numpy as np
import pandas as pd
import pytest

from palea.calc.field.weather import degree_days, rain, to_date, warmth
from palea.calc.results import Refusal
from palea.errors import UnfitValue

DAYS = pd.DataFrame({"environment": "Hollow Sands", "day": [-1, 0, 1, 2, 4], "t_min": [9, 5, 6, np.nan, 7.0],
                     "t_max": [30, 15, 16, 12, 18.0], "rain": [50, 2, 0, np.nan, 3.0]})  # fmt: skip


def test_rain_before_sowing_does_not_count_and_gaps_are_told():
    found = rain(DAYS)
    assert found.curves[0].value.tolist() == [2, 2, 2, 2, 5]
    assert found.estimates[0].value == 5
    assert found.warnings == (
        "Hollow Sands: 2 of 5 days have no rain up to day 4; the sum leaves them out and is at least this.",
    )


def test_warmth_adds_up_days_above_the_base():
    assert warmth(DAYS, base=5.0).curves[0].value.tolist() == [5, 11, 11, 11, 18.5]
    assert warmth(DAYS, base=5.0, most=12.0).curves[0].value.tolist() == [5, 11, 11, 11, 18]


def test_warmth_never_falls():
    """Law: whatever the temperatures, the sum does not fall, and a higher base gives no more."""
    chance = np.random.default_rng(1)
    low = chance.uniform(-5, 15, 60)
    frame = pd.DataFrame({"environment": "x", "day": np.arange(60), "t_min": low, "t_max": low + chance.uniform(0, 12, 60)})
    mild, hot = (warmth(frame, base=base).curves[0].value for base in (5.0, 10.0))
    assert (np.diff(mild) >= 0).all()
    assert (hot <= mild).all()


def test_a_full_record_has_no_warning():
    assert rain(DAYS[DAYS["day"].between(0, 1)]).warnings == ()


def test_what_cannot_be_is_said():
    with pytest.raises(UnfitValue, match="Day 2: the minimum 9 lies above the maximum 8"):
        degree_days([1, 9], [5, 8], 5)
    with pytest.raises(UnfitValue, match="rain and warmth are 0 or above"):
        to_date([0], [-1])
    with pytest.raises(UnfitValue, match="No day lies at or after the start"):
        to_date([-3], [1])
    with pytest.raises(UnfitValue, match="above the base"):
        degree_days(1, 9, 5, most=5)


def test_no_logger_is_a_refusal():
    found = rain(DAYS.assign(rain=np.nan))
    assert isinstance(found, Refusal)
    assert (found.quantity, found.missing) == ("rain to date", "No day has rain.")
