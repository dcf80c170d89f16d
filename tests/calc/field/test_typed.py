"""Frames as a package hands them over, with text of Arrow and numbers that may be missing, give the same answers."""

import pandas as pd
import pytest

from palea.calc.field import emergence, growth, rows, survival, weather


def typed(frame):
    """The frame in the types of a package."""
    kinds = {name: pd.StringDtype("pyarrow") for name in frame if not pd.api.types.is_numeric_dtype(frame[name])}
    numbers = {name: "Float64" for name in frame if pd.api.types.is_float_dtype(frame[name])}
    return frame.astype(kinds | numbers)


@pytest.mark.parametrize(
    ("compute", "make", "asked"),
    [
        (emergence.final, lambda t: t.emerged({"T01": 0.1, "T07": 0.2}), {}),
        (emergence.time, lambda t: t.emerging({"T01": 12.0, "T07": 36.0}), {"quantity": "emergence t50"}),
        (survival.compare, lambda t: t.kept({"T01": 0.7, "T07": 0.5}), {"quantity": "surviving", "denominator": "emerged"}),
        (rows.compare, lambda t: t.spit({"T01": 0.3, "T07": 0.5}), {"quantity": "established"}),
        (growth.compare, lambda t: t.weighed({"T01": 1.0, "T07": 1.4}), {"quantity": "plant dry mass", "denominator": ""}),
    ],
)
def test_types_do_not_matter(trials, compute, make, asked):
    frame, asked = make(trials), trials.ask(**asked)
    plain, arrow = compute(frame, asked), compute(typed(frame), typed(asked).assign(across=pd.NA, asks_about=pd.NA))
    assert len(plain.effects) == len(arrow.effects) > 0
    assert [e.verdict for e in plain.effects] == [e.verdict for e in arrow.effects]
    assert [e.lower for e in arrow.effects] == pytest.approx([e.lower for e in plain.effects], nan_ok=True)


def test_a_typed_logger_record():
    days = pd.DataFrame({"environment": ["x", "x"], "day": [0, 1], "rain": [1.5, None], "t_min": [5.0, 6], "t_max": [9.0, 12]})
    assert weather.rain(typed(days)).estimates[0].value == 1.5
    assert weather.warmth(typed(days), base=5.0).estimates[0].value == 6.0
