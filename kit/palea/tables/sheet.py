"""One table as it was read: a typed frame, what else its file holds, and what could not be read."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from palea.calc import spans
from palea.schema.read import Table
from palea.tables import formats
from palea.tables.coded import remember
from palea.tables.found import MANY, Found

TEXT = pd.StringDtype("pyarrow")
DTYPES = {"integer": pd.Int64Dtype(), "number": pd.Float64Dtype(), "boolean": pd.BooleanDtype()}


@dataclass(frozen=True, eq=False)
class Sheet:
    """One table, read.

    frame : every column of the schema table, in order, typed; index 0 .. n-1, a spreadsheet shows row index + 2.
    extra : the columns that the schema does not know, as text, same index.
    unread : raw text by (position, column) of each cell that has a Finding. It is missing in the frame, except in a key
        column, which keeps its text because other rows are found by it.
    sha256 : of the file's bytes; "" where there was no file.
    broken : the file cannot be written again without loss, so it must be mended by hand first.
    codes : by text column, for each row the number of its text among the distinct ones (-1: blank), and those; only of
        columns as they were read, so that nobody has to look for distinct texts again.
    whole : False where the frame only sums up a table that is too long to hold (`conditions`).
    """

    table: Table
    frame: pd.DataFrame
    extra: pd.DataFrame
    findings: tuple = ()
    unread: Mapping = field(default_factory=lambda: MappingProxyType({}))
    sha256: str = ""
    broken: bool = False
    codes: Mapping = field(default_factory=lambda: MappingProxyType({}), repr=False)
    whole: bool = True


def dtype(of):
    """The pandas dtype of a Field."""
    return DTYPES.get(of.type, TEXT)


def frame_of(table, columns, rows, *, found=None, sha256="", broken=False):
    """Columns of text -> Sheet.

    columns : {label: pyarrow array of text, dictionary or plain, null where blank}.  rows : their length.
    """
    found = found or Found(table.name)
    keys = key_columns(table)
    unread, typed, codes = {}, {}, {}
    for name, of in table.fields.items():
        values, bad = (
            (_missing(of, rows), None)
            if name not in columns or columns[name].null_count == rows
            else column(of, columns[name], keep=name in keys)
        )
        typed[name] = values
        if name in columns and pa.types.is_dictionary(columns[name].type) and (bad is None or name in keys):
            codes[name] = np.asarray(pc.fill_null(columns[name].indices, -1)), columns[name].dictionary
        if bad:
            _tell(found, of, bad, unread)
    frame = pd.DataFrame(typed, index=pd.RangeIndex(rows))
    for name, (of_rows, distinct) in codes.items():
        if name not in {where for _, where in unread} and frame[name].dtype == "string":
            remember(frame[name], of_rows, np.asarray(distinct.to_pylist(), dtype=object))
    extra = {label: _text(array) for label, array in columns.items() if label not in table.fields}
    index = pd.RangeIndex(rows)
    broken = broken or found.broken or any(f.rule == "cell.encoding" for f in found.findings)
    return Sheet(
        table,
        frame,
        pd.DataFrame(extra, index=index, columns=list(extra)),
        tuple(found.findings),
        MappingProxyType(unread),
        sha256,
        broken,
        MappingProxyType(codes),
    )


def blank(table):
    """The Sheet of a table without rows and without a file."""
    return frame_of(table, {}, 0)


def key_columns(table):
    """Columns by which rows are found: those of the primary key and of the links to other tables."""
    return {*table.primary_key, *(name for link in table.foreign_keys for name in link.fields)}


@dataclass(frozen=True)
class _Bad:
    """Cells that could not be read: their positions, the code of the text of each, and text and Misfit by code."""

    positions: np.ndarray
    codes: np.ndarray
    texts: Mapping
    misfits: Mapping


def column(of, array, *, keep=False):
    """One column of text -> (typed pandas array, _Bad or None). keep : whether texts with a Misfit stay."""
    if _is_free_text(of, array):
        return _text(array), None
    encoded = array if pa.types.is_dictionary(array.type) else array.dictionary_encode()
    distinct, codes = encoded.dictionary, np.asarray(pc.fill_null(encoded.indices, -1))
    misfits = _misfits(of, distinct)
    good = np.ones(len(distinct) + 1, bool)
    good[-1] = False  # code -1: blank
    good[list(misfits)] = keep and of.type not in DTYPES
    values = _typed(of, distinct, codes, good)
    if not misfits:
        return values, None
    faulty = np.zeros(len(distinct) + 1, bool)
    faulty[list(misfits)] = True
    positions = np.flatnonzero(faulty[codes])
    return values, _Bad(positions, codes[positions], {code: distinct[code].as_py() for code in misfits}, misfits)


def _missing(of, rows):
    """A column that holds nothing: most columns of most files do, so it is made without a look at any cell."""
    if of.type not in DTYPES:
        return as_text(pa.nulls(rows, pa.string()))
    kinds = {"integer": (pd.arrays.IntegerArray, np.int64), "number": (pd.arrays.FloatingArray, np.float64)}
    made, of_numpy = kinds.get(of.type, (pd.arrays.BooleanArray, bool))
    return made(np.zeros(rows, of_numpy), np.ones(rows, bool))


def _is_free_text(of, array):
    """Whether any text will do and all are clean, so that nothing need be parsed."""
    ruled = of.type in DTYPES or of.parse or of.type in formats.TYPES
    if ruled or {"enum", "pattern", "minLength", "maxLength"} & set(of.constraints):
        return False
    plain = array.dictionary if pa.types.is_dictionary(array.type) else array
    longest = pc.max(pc.binary_length(plain)).as_py() or 0
    return longest <= formats.LONGEST_CELL and not pc.any(pc.match_substring(plain, "\0")).as_py()


def _misfits(of, distinct):
    """{code: Misfit} of the distinct texts. What is surely right is told apart at once, the rest is read one by one."""
    read = (
        (int(code), formats.read(of, distinct[code].as_py())[1])
        for code in np.flatnonzero(~_surely_right(of, distinct))
    )
    return {code: misfit for code, misfit in read if misfit}


def _surely_right(of, distinct):
    if of.type == "number":
        shaped = np.asarray(pc.match_substring_regex(distinct, f"^(?:{formats.NUMBER})$"))
        return shaped & np.isfinite(_numbers(distinct, shaped))
    if of.type == "integer":
        return np.asarray(pc.match_substring_regex(distinct, f"^{formats.INTEGER}$"))
    if of.parse == "partial date":
        return spans.is_readable(distinct.to_pylist())
    return (
        np.zeros(len(distinct), bool)
        if of.parse or of.type in DTYPES or of.type in formats.TYPES
        else _text_surely_right(of, distinct)
    )


def _text_surely_right(of, distinct):
    """Of plain text. A pattern that RE2 cannot read leaves all to be read one by one."""
    limits = of.constraints
    length = np.asarray(pc.utf8_length(distinct))
    right = (length >= limits.get("minLength", 0)) & (length <= limits.get("maxLength", formats.LONGEST_CELL))
    right &= ~np.asarray(pc.match_substring(distinct, "\0"))
    if "enum" in limits:
        right &= np.asarray(pc.is_in(distinct, pa.array(list(limits["enum"]), pa.string())))
    if "pattern" in limits:
        try:
            right &= np.asarray(pc.match_substring_regex(distinct, f"^(?:{limits['pattern']})$"))
        except pa.ArrowInvalid:
            right[:] = False
    return right


def _numbers(distinct, good):
    """Texts as float64, nan where not good."""
    plain = pc.utf8_ltrim(pc.if_else(pa.array(good), distinct, pa.scalar(None, pa.string())), "+")
    return np.asarray(pc.cast(plain, pa.float64()).to_numpy(zero_copy_only=False), float)


def _typed(of, distinct, codes, good):
    """The column, missing where its text is blank or not good."""
    if of.type not in DTYPES:
        kept = pc.if_else(pa.array(good[:-1]), distinct, pa.scalar(None, pa.string()))
        return as_text(kept.take(pa.array(codes, mask=codes < 0)))
    mask = ~good[codes]
    if of.type == "number":
        return pd.arrays.FloatingArray(np.append(np.nan_to_num(_numbers(distinct, good[:-1])), 0.0)[codes], mask)
    if of.type == "boolean":
        return pd.arrays.BooleanArray(
            np.array([*(formats.BOOLEANS.get(t, False) for t in distinct.to_pylist()), False])[codes], mask
        )
    plain = pc.utf8_ltrim(pc.if_else(pa.array(good[:-1]), distinct, "0"), "+")
    return pd.arrays.IntegerArray(np.append(np.asarray(pc.cast(plain, pa.int64())), 0)[codes], mask)


def _text(array):
    return as_text(array.cast(pa.string()))


def as_text(array):
    """A pyarrow array of text as a pandas array of the one text dtype."""
    return TEXT.__from_arrow__(array)


def _tell(found, of, bad, unread):
    """Findings for the cells that could not be read, and their raw text into `unread`."""
    texts, misfits = bad.texts, bad.misfits
    unread.update(zip(((int(p), of.name) for p in bad.positions), (texts[int(c)] for c in bad.codes), strict=True))
    if len(bad.positions) <= MANY:
        groups = [(bad.positions, bad.codes)]
    else:  # one Finding a text, or one for all where there are many texts
        few = len(misfits) <= MANY
        groups = (
            [(bad.positions[bad.codes == c], bad.codes[bad.codes == c]) for c in misfits]
            if few
            else [(bad.positions, bad.codes)]
        )
    for positions, codes in groups:
        _tell_group(found, of, positions, [misfits[int(c)] for c in codes], [texts[int(c)] for c in codes])


def _tell_group(found, of, positions, misfits, texts):
    for rule in dict.fromkeys(m.rule for m in misfits):
        chosen = [i for i, m in enumerate(misfits) if m.rule == rule]
        found.cells(
            f"cell.{rule.replace(' ', '-')}",
            of.name,
            [positions[i] for i in chosen],
            lambda i, c=chosen: misfits[c[i]].message,
            lambda i, c=chosen: misfits[c[i]].remedy,
            [texts[i][:200] for i in chosen],
        )
