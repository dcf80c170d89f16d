"""Values fetched by key from another table, and frames laid together, with dtypes that do not depend on what was found."""

import numpy as np
import pandas as pd

from palea.tables.coded import factorized, positions, remember

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
    told = pd.Series(distinct.take(where, allow_fill=True), index=keys.index)
    if len(distinct) < len(told):
        of, names = pd.factorize(distinct)
        remember(told, np.append(of, -1)[where], np.asarray(names, dtype=object))
    return told


def moments(keys, found):
    """Series of datetime64[s] along `keys`, NaT where the key is unknown."""
    where, values = _fetch(keys, found)
    distinct = values.to_numpy(dtype="datetime64[s]")
    return pd.Series(np.append(distinct, np.datetime64("NaT", "s"))[where], index=keys.index)


def _fetch(keys, found):
    """For each key the position of its value in the Series that is returned too; -1, its last, for an unknown one."""
    found = found if isinstance(found, pd.Series) else pd.Series(found, dtype=object)
    return positions(keys, found.index), found


def among(column, words):
    """(n,) bool: whether the text of each row is one of these; of a blank it is not."""
    of, distinct = factorized(column)
    return np.append(pd.Index(distinct, dtype=object).isin(words), False)[of]


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


def beside(rows, key, found, named):
    """Rows of a table, by their own index, each beside what was found of it; None where nothing was.

    found : frame whose column `named` has the `key` of the row it is about. A row may have several, and then comes
    several times.
    """
    if found.empty:
        return None
    lines = rows.rename_axis("line").reset_index()
    return lines.merge(found, left_on=key, right_on=named, suffixes=("", "_found")).set_index("line")


_KINDS = {"text": TEXT, "number": np.float64, "whole": np.int64, "truth": np.bool_, "moment": "datetime64[s]"}


def nothing(**columns):
    """A frame without rows: {kind: its columns, with a space between}, the kinds text, number, whole, truth, moment."""
    return pd.DataFrame({name: pd.Series(dtype=_KINDS[kind]) for kind, names in columns.items() for name in names.split()})
