"""Tolerances: edges and refusals."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from palea.calc.germination.tolerance import chance_of_range, out_of_tolerance, tabulated_range
from palea.errors import UnfitValue


def test_the_table_has_no_row_at_the_ends():
    assert np.isnan(tabulated_range([0, 1.4, 99.5, 100, np.nan])).all()
    assert tabulated_range([2, 99, 98.5]).tolist() == [5, 5, 5]


def test_the_table_is_for_two_or_four():
    with pytest.raises(UnfitValue, match="replicates is 3"):
        tabulated_range([90], 3)


@given(st.integers(0, 50), st.integers(2, 8), st.floats(0, 100))
def test_chance_falls_with_the_range(seeds, replicates, mean):
    chance = chance_of_range(np.arange(seeds + 2), mean, replicates, max(seeds, 1))
    assert (np.diff(chance) <= 1e-12).all()
    assert chance[-1] == pytest.approx(0, abs=1e-12)


def test_dishes_of_25_and_other_numbers_of_dishes():
    far = out_of_tolerance([80, 40, 60], [92, 92, 84], [86, 66, 72], [4, 4, 6], [25, 25, 25])
    assert far.tolist() == [False, True, False]


def test_one_dish_a_missing_value_and_equal_dishes_are_in_tolerance():
    assert not out_of_tolerance([80, np.nan, 100, 50], [80, 90, 100, 50], [80, 85, 100, 50], [1, 4, 4, 4], 25).any()


def test_shape_is_kept():
    assert out_of_tolerance([], [], [], [], []).shape == (0,)
