"""A frame -> the text of its cells -> the bytes of a CSV file. The same frame always gives the same bytes.

UTF-8, commas, line feeds; a cell is quoted only where it must be; numbers are the shortest text that reads back as the
same number; missing is an empty cell. Rows keep their order.
"""

import csv
import io

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

_QUOTED_FOR = (b'"', b",", b"\r", b"\n")
_NEEDS_QUOTES = '[",\r\n]'


def cell_text(value):
    """One value as a cell holds it; None for a missing one.

    >>> [cell_text(v) for v in (79.0, 3, True, "a", None, 0.1 + 0.2)]
    ['79.0', '3', 'true', 'a', None, '0.30000000000000004']
    """
    if (
        value is None
        or value is pd.NA
        or value is pd.NaT
        or (isinstance(value, float | np.floating) and np.isnan(value))
    ):
        return None
    if isinstance(value, bool | np.bool_):
        return "true" if value else "false"
    if isinstance(value, np.generic):
        value = value.item()
    return repr(value) if isinstance(value, float) else str(value) or None


def column_text(series):
    """A column -> pyarrow array of text, null where missing. Distinct values are written once each."""
    codes, distinct = pd.factorize(series)
    texts = pa.array([cell_text(value) for value in distinct], pa.string())
    return texts.take(pa.array(codes, mask=codes < 0))


def csv_bytes(columns):
    """{label: pyarrow array of text} -> the bytes of a CSV file with these columns in this order."""
    return csv_of({label: _quoted(_plain(array)) for label, array in columns.items()})


def cells_of(series):
    """A column -> pyarrow array of its cells, quoted where they must be, null where missing."""
    return _quoted(_plain(column_text(series)))


def csv_of(columns):
    """{label: what `cells_of` gives} -> the bytes of a CSV file with these columns in this order."""
    header = io.StringIO(newline="")
    csv.writer(header, lineterminator="\n").writerow(columns)
    cells = list(columns.values())
    rows = len(cells[0]) if cells else 0
    if not rows:
        return header.getvalue().encode()
    if len(cells) == 1:  # a blank line is no row, so a lone missing cell is written as a quoted nothing
        cells = [pc.fill_null(cells[0], '""')]
    # null_handling: a missing cell is nothing between two commas
    lines = pc.binary_join_element_wise(*cells, ",", null_handling="replace", null_replacement="")
    return header.getvalue().encode() + "\n".join(lines.to_pylist()).encode() + b"\n"


def texts_of(frame):
    """Every column of a frame as text, by label."""
    return {label: column_text(frame[label]) for label in frame.columns}


def _plain(array):
    return array.cast(pa.string()) if pa.types.is_dictionary(array.type) else array


def _quoted(array):
    """Cells with what must be quoted quoted. Most columns hold no such sign at all, as their bytes in one piece tell."""
    held = [part.buffers()[2] for part in getattr(array, "chunks", [array])]
    if not any(sign in part for part in map(bytes, filter(None, held)) for sign in _QUOTED_FOR):
        return array
    doubled = pc.binary_join_element_wise('"', pc.replace_substring(array, '"', '""'), '"', "")
    return pc.if_else(pc.match_substring_regex(array, _NEEDS_QUOTES), doubled, array)
