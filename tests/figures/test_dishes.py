"""Dishes behind estimates and curves: each where it belongs, in lanes that do not meet, without points that say nothing."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from palea.calc.results import Curve, Estimate, Values
from palea.figures import courses, dishes, draw


def group(treatment, quantity="mean germination time", **more):
    return Estimate(quantity, {"taxon": "AV", "treatment": treatment}, 5.0, unit="d", n_batches=2, n_units=4, **more)


@pytest.fixture
def units():
    """Two treatments, two batches of two dishes each, one dish without a number; of another quantity only the first."""
    rows = [
        ("AV", "A", "a-2", "d1", 4.0), ("AV", "A", "a-1", "d2", 5.0), ("AV", "B", "b-1", "d3", 6.0), ("AV", "A", "a-1", "d4", 5.0),
        ("AV", "B", "b-1", "d5", np.nan), ("AV", "A", "a-2", "d6", 7.0),
    ]
    times = pd.DataFrame(rows, columns=["taxon", "treatment", "batch", "unit", "value"]).assign(quantity="mean germination time")
    more = times[times["treatment"] == "A"].assign(quantity="t50", value=lambda d: d["value"] + 10)
    return pd.concat([times, more], ignore_index=True).astype({"treatment": pd.StringDtype("pyarrow"), "value": "Float64"})


def test_a_dish_stands_in_the_row_of_its_group_in_the_order_of_the_units(units):
    groups = [group("B"), group("A")]
    shown = dishes.laid(groups, dishes.of_groups(groups, units))
    assert shown["unit"] == ["d1", "d2", "d3", "d4", "d6"]
    assert shown["row"] == [1.0, 1.0, 0.0, 1.0, 1.0]
    assert shown["value"] == [4.0, 5.0, 6.0, 5.0, 7.0]


def test_batches_lie_in_lanes_by_name_and_ties_side_by_side(units):
    """Derived by hand: two lanes of 0.62 / 2 around the middle, ties 0.07 apart."""
    shown = dishes.laid([group("A")], dishes.of_groups([group("A")], units))
    assert dict(zip(shown["unit"], shown["lane"], strict=True)) == pytest.approx({
        "d1": 0.155, "d6": 0.155, "d2": -0.19, "d4": -0.12,
    })  # fmt: skip
    means = dishes.batch_means(shown)
    assert (means["batch"], means["value"]) == (["a-1", "a-2"], [5.0, 5.5])
    assert means["lane"] == pytest.approx([-0.155, 0.155])
    assert means["foot"][0] - means["top"][0] == pytest.approx(0.26)


def test_the_mean_of_a_batch_is_that_of_the_exact_sum():
    """In order, these add up to a last digit too much: 64.83333350000001."""
    exact = pytest.approx(64.8333335, rel=0, abs=0)
    numbers = [66.666667, 62.5, 54.166667, 76.0]
    assert dishes._mean([(x, 0.0) for x in numbers], 0) == exact
    assert sum(numbers) / 4 != exact


def test_a_group_without_a_value_shows_no_dishes_of_another_quantity(units):
    """A row stays empty on the axis of what was not measured of it."""
    absent = replace(group("A"), quantity="t50")
    result = Values(units[units["quantity"] == "mean germination time"], "", (), (), (group("A"), group("B"), absent))
    assert dishes.of_groups([absent], result.units) == {dishes.key(absent): ()}
    both = Values(units, "", (), (), (group("B"), group("A"), absent))
    second = draw(both, [], {}).to_dict()
    seen = next(iter(second["vconcat"]))["hconcat"][1]["layer"][0]["data"]["name"]
    assert {row["value"] for row in second["datasets"][seen]} == {14.0, 15.0, 17.0}
    assert {row["row"] for row in second["datasets"][seen]} == {1.0}


def test_dishes_without_a_batch_lie_in_a_lane_of_their_own(units):
    units.loc[0, "batch"] = None
    shown = dishes.laid([group("A")], dishes.of_groups([group("A")], units))
    assert shown["batch"][0] is None
    assert len(set(np.round(shown["lane"], 1))) == 3
    assert None not in shown["lane"]


def test_units_of_one_measure_need_not_say_which(units):
    plain = units[units["quantity"] == "t50"].drop(columns="quantity")
    found = dishes.of_groups([group("A")], plain)
    assert dishes.values_of([group("A")], found) == [14.0, 15.0, 15.0, 17.0]


def test_the_course_of_a_dish_keeps_its_first_and_last_point_and_those_at_which_it_moves():
    """Out of order, with a point that is not known and two dishes that stand at the same height one after the other."""
    rows = [("A", "d2", 0, 5.0), ("A", "d1", 7, 5.0), ("A", "d1", 0, 0.0), ("A", "d1", 3, 0.0), ("A", "d1", 5, 0.0),
            ("A", "d1", 9, 5.0), ("A", "d2", 4, 5.0), ("A", "d2", 2, None), ("A", "d2", 3, 5.0), ("B", "d3", 1, 2.0004)]
    units = pd.DataFrame(rows, columns=["treatment", "unit", "time", "value"])
    a, b, c = (Curve({"treatment": name}, np.array([0.0]), *[np.array([1.0])] * 3) for name in "ABC")
    found = courses.of_curves([a, b, c], units)
    assert found[courses.key(a)] == {"unit": ["d1", "d1", "d1", "d2", "d2"], "time": [0, 7, 9, 0, 4], "value": [0, 5, 5, 5, 5]}
    assert found[courses.key(b)]["value"] == [2.0]
    assert found[courses.key(c)]["unit"] == []
    assert courses.of_curves([a], units.drop(columns="time"))[courses.key(a)]["unit"] == []
