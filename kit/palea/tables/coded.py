"""Text columns as numbers of their distinct texts, worked out once and remembered as long as the column lives.

A file is read with its texts numbered already, and a column that a view hands on is still the same column underneath;
so a million rows are compared, counted and looked up by numbers.
"""

import weakref
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

_ROOM = 16  # places a row in which the first of each number may be put down: no more memory than a few columns
_KNOWN = {}  # {id of the arrow array: _Coded}


@dataclass
class _Coded:
    """A column's codes and distinct texts. `met`: {id of another's arrow array: (a weak reference to it, where it has them)}."""

    of: weakref.ref
    codes: np.ndarray
    distinct: np.ndarray
    met: dict = field(default_factory=dict)


def factorized(column):
    """(codes, distinct): for each row the number of its text among the distinct ones, -1 for a blank.

    column : Series or Index. Distinct texts come as an object array, in no order that means anything; all of them occur
    in the column as it was read, of which this may be a part.
    """
    arrow = _arrow(column)
    known = _coded(arrow)
    if known is None:
        codes, distinct = pd.factorize(column)
        distinct = np.asarray(distinct, dtype=object)
        if arrow is None:
            return codes, distinct
        known = remember(column, codes, distinct)
    return known.codes, known.distinct


def remember(column, codes, distinct):
    """Keep what `factorized` would work out for this column of text, where it is at hand already."""
    arrow = _arrow(column)
    key = id(arrow)
    _KNOWN[key] = _Coded(weakref.ref(arrow, lambda _: _KNOWN.pop(key, None)), codes, distinct)
    return _KNOWN[key]


def positions(keys, known):
    """(n,) for each key its first position in `known`, -1 where it is not there, or blank.

    keys, known : Series or Index. Rows are many and looked up by the same keys often, so where the texts of one column
    stand in another is worked out once for the two.
    """
    codes, distinct = factorized(keys)
    mine, other = _arrow(keys), _arrow(known)
    met = {} if mine is None or other is None else _coded(mine).met
    if id(other) not in met or met[id(other)][0]() is not other:
        found = _first_places(distinct, known)
        if mine is None or other is None:
            return found[codes]
        key = id(other)
        met[key] = weakref.ref(other, lambda _: met.pop(key, None)), found
    return met[id(other)][1][codes]


def again(packed):
    """(n,) bool: whether each whole number, from 0 on, stands in an earlier place too.

    Rows are mostly in order, and numbers that never fall have their equals beside them: that needs no look at all of them.
    Else each is looked for where the first of its kind was put down, as long as there is room for that.
    """
    if (packed[1:] >= packed[:-1]).all():
        return np.append(np.zeros(min(1, len(packed)), bool), packed[1:] == packed[:-1])
    if packed.max() > _ROOM * len(packed):
        return pd.Series(packed).duplicated().to_numpy()
    place = np.arange(len(packed), dtype=np.int32 if len(packed) < 2**31 else np.int64)
    first = np.empty(packed.max() + 1, place.dtype)
    first[packed[::-1]] = place[::-1]
    return first[packed] != place


def _first_places(distinct, known):
    """(d + 1,) the first position of each text in `known`, -1 for none; at the end -1, which a blank's code points to."""
    codes, names = factorized(known)
    first = np.full(len(names) + 1, -1)
    first[codes[::-1]] = np.arange(len(codes))[::-1]
    first[-1] = -1
    # Told that they are objects, so that nobody looks through them for a type.
    at = pd.Index(names, dtype=object).get_indexer(pd.Index(distinct, dtype=object))
    return np.append(first[at], -1)


def _coded(arrow):
    known = _KNOWN.get(id(arrow))
    return known if known is not None and known.of() is arrow else None


def _arrow(column):
    """The arrow array behind a text column; None for a column of another kind."""
    array = getattr(column, "array", column)
    return array.__arrow_array__() if hasattr(array, "__arrow_array__") and array.dtype == "string" else None
