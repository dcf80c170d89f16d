"""Rows compared and looked up by the numbers of their texts: the same as by the texts themselves, as pandas finds them."""

import gc

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from palea.derived.lookup import among
from palea.tables import coded
from palea.tables.coded import again, factorized, positions

TEXT = pd.StringDtype("pyarrow")
words = st.lists(st.one_of(st.none(), st.sampled_from(["AV-0", "AV-1", "", "NA", "é"])), max_size=12)


def column(texts):
    return pd.Series(pd.array(texts, dtype=TEXT))


@given(words, words)
def test_positions_are_those_of_the_first_equal_text(keys, known):
    expected = [known.index(key) if key is not None and key in known else -1 for key in keys]
    mine, other = column(keys), column(known)
    for _ in range(2):  # worked out, then remembered
        assert positions(mine, other).tolist() == expected
    assert positions(mine, other.astype(object)).tolist() == expected
    assert positions(mine, pd.Index(other)).tolist() == expected


def test_what_was_remembered_of_one_column_is_not_told_of_another():
    keys = column(["a", "b"])
    for known, expected in (["a", "b"], [0, 1]), (["b", "a"], [1, 0]), (["c"], [-1, -1]):
        assert positions(keys, column(known)).tolist() == expected


def test_nothing_is_remembered_of_columns_that_are_gone():
    keys, before = column(["a", "b"]), len(coded._KNOWN)
    for n in range(5):
        positions(keys, column(["b", f"c{n}"]))
    gc.collect()
    assert len(coded._KNOWN) == before + 1
    assert coded._coded(coded._arrow(keys)).met == {}


@pytest.mark.parametrize("largest", [1, 7, 300, 10**12])
@pytest.mark.parametrize("in_order", [True, False])
def test_again_is_what_stood_before(largest, in_order):
    numbers = np.random.default_rng(3).integers(0, largest, 400)
    numbers = np.sort(numbers) if in_order else numbers
    assert again(numbers).tolist() == pd.Series(numbers).duplicated().tolist()


def test_again_of_nothing_is_nothing():
    assert again(np.array([], np.int64)).tolist() == []


@given(words)
def test_among_is_false_for_a_blank(texts):
    assert among(column(texts), ["AV-0", ""]).tolist() == [t in ("AV-0", "") for t in texts]


def test_numbers_of_texts_lead_back_to_them():
    codes, distinct = factorized(column(["b", None, "a", "b"]))
    assert [None if c < 0 else distinct[c] for c in codes] == ["b", None, "a", "b"]
