"""Edges of the classical measures, and means of groups with their rung."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as some
from scipy import stats

from palea.calc.germination.indices import UNITS, indices, measures, time_to, uniformity
from palea.calc.results import Refusal
from palea.errors import UnfitValue


def test_all_on_one_day():
    found = {name: value[0] for name, value in measures([[3, 5, 7]], [[0, 8, 0]]).items()}
    assert found["variance of germination time"] == found["germination uncertainty"] == 0
    assert (found["germination synchrony"], found["mean germination time"]) == (1, 5)
    assert str(found["germination uncertainty"]) == "0.0", "not minus zero"


def test_one_seed_and_none():
    one = {name: value[0] for name, value in measures([[3, 5]], [[0, 1]]).items()}
    assert one["mean germination time"] == 5
    assert np.isnan([one["variance of germination time"], one["germination synchrony"]]).all()
    none = {name: value[0] for name, value in measures([[3, 5]], [[0, 0]]).items()}
    assert np.isnan(list(none.values())).all()


def test_a_seed_counted_on_day_0_has_no_speed():
    found = measures([[0, 5]], [[1, 1]])
    assert np.isnan(found["germination speed index"][0])
    assert found["mean germination time"][0] == 2.5


@given(some.lists(some.tuples(some.integers(1, 9), some.integers(0, 9)), min_size=1, max_size=8))
def test_visits_not_made_and_padding_change_nothing(visits):
    steps, count = np.array(visits, float).T
    day = steps.cumsum()
    alone = measures(day[None], count[None])
    padded_day = np.append(np.insert(day, 0, np.nan), [day[-1] + 5, np.nan])
    padded = measures(padded_day[None], np.append(np.insert(count, 0, 3.0), [np.nan, 2.0])[None])
    for name in UNITS:
        assert padded[name] == pytest.approx(alone[name], nan_ok=True)


@given(some.lists(some.integers(0, 20), min_size=3, max_size=9).filter(lambda n: sum(n) > 1))
def test_mean_and_variance_are_those_of_the_seeds_one_by_one(count):
    day = 2.0 * np.arange(1, len(count) + 1)
    each = np.repeat(day, count)
    found = measures(day[None], np.array([count], float))
    assert found["mean germination time"][0] == pytest.approx(each.mean())
    assert found["variance of germination time"][0] == pytest.approx(each.var(ddof=1), abs=1e-9)
    assert found["germination speed index"][0] == pytest.approx((1 / each).sum())


def test_a_share_that_was_not_reached_has_no_time():
    assert np.isnan(time_to([[3, 5]], [[2, 2]], 0.5, of=[50])[0])
    assert time_to([[3, 5]], [[4, 0]], 0.5)[0] == 1.5, "the visit before the first is day 0"


@pytest.mark.parametrize(("day", "count", "says"), [
    ([[3, 5]], [[1, -1]], "is -1"), ([[5, 3]], [[1, 1]], "must rise"),
])
def test_impossible_sheets_are_refused(day, count, says):
    with pytest.raises(UnfitValue, match=says):
        measures(day, count)


def test_an_unknown_variant_names_the_known_ones():
    with pytest.raises(UnfitValue, match="farooq and coolbear"):
        time_to([[3]], [[1]], 0.5, "median")


@pytest.fixture
def newly():
    """Two treatments: T1 in two batches of two dishes, T2 in one of four."""
    chance, rows = np.random.default_rng(1), []
    for treatment, batches in (("T1", ["P", "P", "Q", "Q"]), ("T2", ["R"] * 4)):
        for dish, batch in enumerate(batches):
            unit = f"{treatment}-{dish}"
            rows += [(treatment, batch, unit, day, float(chance.integers(0, 6))) for day in (3.0, 5, 8, 12)]
    frame = pd.DataFrame(rows, columns=["treatment", "batch", "unit", "day", "count"])
    return frame.assign(taxon="AV", environment="", sown=25.0)


def test_batches_are_the_unit_where_there_are_two(newly):
    found = indices(newly)
    mine = {e.of["treatment"]: e for e in found.estimates if e.quantity == "mean germination time"}
    units = found.units[found.units["quantity"] == "mean germination time"].set_index("unit")
    of_batch = units[units["treatment"] == "T1"].groupby("batch")["value"].mean()
    expected = stats.ttest_1samp(of_batch, 0).confidence_interval(0.95)
    assert (mine["T1"].lower, mine["T1"].upper) == pytest.approx((max(expected.low, 0), expected.high))
    assert (mine["T1"].rung, mine["T1"].df, mine["T1"].n_batches, mine["T1"].n_seeds) == ("batch", 1, 2, 100)
    expected = stats.ttest_1samp(units.loc[units["treatment"] == "T2", "value"], 0).confidence_interval(0.95)
    assert (mine["T2"].lower, mine["T2"].upper) == pytest.approx((expected.low, expected.high))
    assert (mine["T2"].rung, mine["T2"].df) == ("dish", 3)
    assert [w for w in found.warnings if w.endswith("(T2.)")]


def test_each_measure_is_said_once_and_order_does_not_matter(newly):
    said = {e.quantity for e in (*indices(newly).estimates, *uniformity(newly).estimates)}
    assert said == set(UNITS)
    shuffled = newly.sample(frac=1, random_state=2)
    one, two = (indices(rows).units.sort_values(["unit", "quantity"], ignore_index=True) for rows in (newly, shuffled))
    pd.testing.assert_frame_equal(one, two)


def test_groups_come_in_the_order_in_which_they_were_entered(newly):
    turned = newly.iloc[::-1]
    assert list(dict.fromkeys(e.of["treatment"] for e in indices(turned).estimates)) == list(dict.fromkeys(turned["treatment"]))


def test_dishes_without_the_measure_are_left_out_but_shown(newly):
    newly.loc[newly["unit"] == "T1-0", "count"] = 0.0
    found = indices(newly)
    mine = next(e for e in found.estimates if e.quantity == "mean germination time" and e.of["treatment"] == "T1")
    assert (mine.n_units, np.isfinite(mine.lower)) == (3, True)
    assert found.units.query("unit == 'T1-0'")["value"].isna().all()


def test_no_counts_by_day_is_a_refusal(newly):
    assert isinstance(indices(newly[:0]), Refusal)
    assert isinstance(uniformity(newly.assign(count=np.nan)), Refusal)
