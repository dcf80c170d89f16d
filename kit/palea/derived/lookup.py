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
    again = found.index.duplicated()
    found = found[~again] if again.any() else found
    return places(keys, found.index), found


def places(keys, known):
    """(n,) for each key its position in `known` (an Index, each key once), -1 for an unknown or a blank one.

    For who fetches several values by the same keys: they are looked up once.
    """
    codes, distinct = factorized(keys)
    named = pd.Index(known.to_numpy(dtype=object), dtype=object)  # told, so that nobody looks through them for a type
    return np.append(named.get_indexer(pd.Index(distinct, dtype=object)), -1)[codes]


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


def again(packed):
    """(n,) bool: whether each whole number stands in an earlier place too.

    Rows are mostly in order, and numbers that never fall have their equals beside them: that needs no look at all of them.
    """
    if (packed[1:] >= packed[:-1]).all():
        return np.append(np.zeros(min(1, len(packed)), bool), packed[1:] == packed[:-1])
    return pd.Series(packed).duplicated().to_numpy()


def stacked(frames):
    """Frames of the same columns, one below the other; empty ones are left out, since they would blur the dtypes."""
    filled = [frame for frame in frames if len(frame)]
    return pd.concat(filled) if filled else frames[0]
