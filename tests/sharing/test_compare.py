"""Comparing old results with new ones: laws of the comparison."""

import pandas as pd
import pytest

from palea.sharing.compare import compare


def results(**changes):
    row = {"quantity": "germinated", "taxon_id": "AV", "treatment_a": "T1", "treatment_b": "T2", "scale": "difference",
           "estimate": 31.25, "lower": 22.0, "upper": 40.5, "n_units": 32, "verdict": "better"}
    return pd.DataFrame([row | changes])


def test_the_same_numbers_are_identical():
    assert compare(results(), results())["verdict"].tolist() == ["identical"]


@pytest.mark.parametrize(("change", "verdict"), [
    ({"estimate": 31.25 * (1 + 5e-7)}, "within tolerance"),
    ({"estimate": 31.25 * (1 + 2e-6)}, "differs"),
    ({"verdict": "not shown"}, "differs"),
    ({"n_units": 31}, "differs"),
    ({"lower": None}, "differs"),
])
def test_how_far_two_numbers_may_lie_apart(change, verdict):
    assert compare(results(), results(**change))["verdict"].tolist() == [verdict]


def test_a_result_on_one_side_only_is_missing_or_extra():
    two = pd.concat([results(), results(treatment_a="T3")], ignore_index=True)
    assert sorted(compare(two, results())["verdict"]) == ["identical", "missing"]
    assert sorted(compare(results(), two)["verdict"]) == ["extra", "identical"]
    assert compare(two.iloc[:0], two.iloc[:0]).empty


def test_rows_meet_by_what_they_are_of_and_not_by_their_order():
    two = pd.concat([results(), results(treatment_a="T3", estimate=1.0)], ignore_index=True)
    assert compare(two, two[::-1])["verdict"].tolist() == ["identical", "identical"]


@pytest.mark.parametrize(("was", "now", "reworded"), [
    ("Kept at 4.0 °C; 3 units.", "Kept at 4.0 °C; 3 units.", False),
    ("Kept at 4.0 °C; 3 units.", "Kept at 4.1 °C; 3 units.", False),
    ("Kept at 4.0 °C; 3 units.", "Kept at 4.2 °C; 3 units.", True),
    ("Kept at 4.0 °C; 3 units.", "Kept at 4.0 °C; 4 units.", True),
    ("Kept at 4.0 °C; 3 units.", "Stored at 4.0 °C; 3 units.", True),
    ("Kept at 4.0 °C.", "Kept at 4 °C.", True),
    ("One batch.", None, True),
    ("At [withheld], 3 units, by [withheld].", "At Kettle Gate, 3 units, by thrift.", False),
    ("At [withheld], 3 units, by [withheld].", "At Kettle Gate, 4 units, by thrift.", True),
    (None, None, False),
])
def test_a_reason_is_held_word_by_word_and_its_decimals_to_the_last_place(was, now, reworded):
    found = compare(results(reason=was), results(reason=now))
    assert (found["verdict"].tolist(), found["reworded"].tolist()) == (["identical"], [reworded])
