"""Values fetched by key from another table, and frames laid together, with dtypes that do not depend on what was found."""

import numpy as np
import pandas as pd

from palea.tables.coded import factorized

TEXT = pd.StringDtype("pyarrow")
_LARGEST = 2**62  # what surely fits into 64 bits


def numbers(keys, found):
    """Series of float64 along `keys`, nan where the key is unknown.

    found : mapping or Series by key; of a key that occurs twice (a fault that the check reports) the first is taken.
    """
    where, values = _fetch(keys, found)
    distinct = values.to_numpy(dtype=np.float64, na_value=np.nan)
    return pd.Series(np.append(distinct, np.nan)[where], index=keys.index)


def texts(keys, found):
    """Series of text along `keys`, missing where the key is unknown."""
    where, values = _fetch(keys, found)
    distinct = pd.array(values.to_numpy(dtype=object), dtype=TEXT)
    return pd.Series(distinct.take(where, allow_fill=True), index=keys.index)


def moments(keys, found):
    """Series of datetime64[s] along `keys`, NaT where the key is unknown."""
    where, values = _fetch(keys, found)
    distinct = values.to_numpy(dtype="datetime64[s]")
    return pd.Series(np.append(distinct, np.datetime64("NaT", "s"))[where], index=keys.index)


def _fetch(keys, found):
    """For each key the position of its value in the Series that is returned too; -1, its last, for an unknown one.

    Keys repeat, so only the distinct ones are looked up.
    """
    found = found if isinstance(found, pd.Series) else pd.Series(found, dtype=object)
    found = found[~found.index.duplicated()]
    codes, distinct = factorized(keys)
    known = pd.Index(found.index.to_numpy(dtype=object)).get_indexer(pd.Index(distinct))
    return np.append(known, -1)[codes], found


def codes(*columns):
    """(n,) whole numbers from 0 on, equal where all columns (Series of one length) are; a blank equals a blank.

    Texts repeat, so rows are compared by the numbers of their distinct texts: several times as fast as by the texts.
    """
    packed, size = np.zeros(len(columns[0]), np.int64), 1
    for column in columns:
        of, distinct = factorized(column)
        if size * (len(distinct) + 1) >= _LARGEST:
            packed, so_far = pd.factorize(packed)
            size = len(so_far)
        size *= len(distinct) + 1
        packed = packed * (len(distinct) + 1) + (of + 1)
    return packed


def stacked(frames):
    """Frames of the same columns, one below the other; empty ones are left out, since they would blur the dtypes."""
    filled = [frame for frame in frames if len(frame)]
    return pd.concat(filled) if filled else frames[0]
