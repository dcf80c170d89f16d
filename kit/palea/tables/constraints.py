"""What typed columns say against their limits: positions of the rows at fault, found in whole columns at once.

Where a table was read from a file its texts are at hand as codes of distinct texts (`Sheet.codes`); then a link is a
test of a few distinct words, and a key of several columns is one whole number.
"""

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from palea.tables.coded import again

_LARGEST = 2**62  # what surely fits into 64 bits
_LIMITS = (
    ("minimum", np.less),
    ("maximum", np.greater),
    ("exclusiveMinimum", np.less_equal),
    ("exclusiveMaximum", np.greater_equal),
)


def blank(sheet, name):
    """Positions of the rows in which a column is missing."""
    return np.flatnonzero(sheet.frame[name].isna().to_numpy())


def beyond(sheet, of):
    """Positions of the values outside the limits of a Field; missing ones are within."""
    limits = [(of.constraints[name], outside) for name, outside in _LIMITS if name in of.constraints]
    if not limits:
        return np.array([], int)
    values = sheet.frame[of.name].to_numpy(np.float64, na_value=np.nan)
    return np.flatnonzero(np.logical_or.reduce([outside(values, limit) for limit, outside in limits]))


def repeated(sheet, keys):
    """Positions of the rows whose key stands in an earlier row; rows with a blank in the key are left out."""
    packed, whole = _packed(sheet, keys)
    stands = sheet.frame[list(keys)].duplicated().to_numpy() if packed is None else again(packed)
    return np.flatnonzero(stands & whole)


def first_of_key(sheet, keys, rows):
    """For each of these positions the position of the first row with the same key, as a list."""
    packed, _ = _packed(sheet, keys)
    if packed is None:
        packed = sheet.frame[list(keys)].groupby(list(keys), dropna=False, sort=False).ngroup().to_numpy()
    alike = np.flatnonzero(np.isin(packed, packed[rows]))
    first = dict(zip(packed[alike][::-1].tolist(), alike[::-1].tolist(), strict=True))  # the earliest is put last
    return [first[code] for code in packed[rows].tolist()]


def unknown(sheet, name, known):
    """Positions of the values of a text column that are not in `known` (Series); missing ones are left out."""
    allowed = pa.array(known.dropna().unique(), pa.string())
    if name not in sheet.codes:
        column = pa.array(sheet.frame[name].array, pa.string())
        return np.flatnonzero(~np.asarray(pc.is_in(column, allowed)) & sheet.frame[name].notna().to_numpy())
    codes, distinct = sheet.codes[name]
    broken = np.append(~np.asarray(pc.is_in(distinct, allowed)), [False])  # code -1: blank
    return np.flatnonzero(broken[codes]) if broken.any() else np.array([], int)


def _packed(sheet, keys):
    """Each row's key as one int64 (None where it would not fit), and whether no part of it is blank."""
    packed, whole, size = np.zeros(len(sheet.frame), np.int64), np.ones(len(sheet.frame), bool), 1
    for name in keys:
        codes, distinct = sheet.codes.get(name) or pd.factorize(sheet.frame[name])
        whole &= codes >= 0
        size *= len(distinct) + 1  # and blank, which is -1
        if size >= _LARGEST:
            return None, sheet.frame[list(keys)].notna().all(axis=1).to_numpy()
        packed = packed * (len(distinct) + 1) + (codes + 1)
    return packed, whole
