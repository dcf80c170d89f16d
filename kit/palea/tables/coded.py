"""Text columns as numbers of their distinct texts, worked out once and remembered as long as the column lives.

A file is read with its texts numbered already, and a column that a view hands on is still the same column underneath;
so a million rows are compared, counted and looked up by numbers.
"""

import weakref

import numpy as np
import pandas as pd

_KNOWN = {}  # {id of the arrow array: (a weak reference to it, codes, distinct texts)}


def factorized(column):
    """(codes, distinct): for each row the number of its text among the distinct ones, -1 for a blank.

    column : Series. Distinct texts come as an object array, in no order that means anything; all of them occur in the
    column as it was read, of which this may be a part.
    """
    arrow = _arrow(column)
    if arrow is None:
        codes, distinct = pd.factorize(column)
        return codes, np.asarray(distinct, dtype=object)
    known = _KNOWN.get(id(arrow))
    if known is None or known[0]() is not arrow:
        codes, distinct = pd.factorize(column)
        known = remember(column, codes, np.asarray(distinct, dtype=object))
    return known[1], known[2]


def remember(column, codes, distinct):
    """Keep what `factorized` would work out for this column, where it is at hand already."""
    arrow = _arrow(column)
    if arrow is None:
        return None, codes, distinct
    key = id(arrow)
    _KNOWN[key] = weakref.ref(arrow, lambda _: _KNOWN.pop(key, None)), codes, distinct
    return _KNOWN[key]


def _arrow(column):
    """The arrow array behind a text column; None for a column of another kind."""
    array = getattr(column, "array", column)
    return array.__arrow_array__() if hasattr(array, "__arrow_array__") and array.dtype == "string" else None
