"""Rows added to a sheet or put in place of others. What was not touched keeps all that its file said of it."""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pandas as pd
import pyarrow as pa

from palea.tables import writing
from palea.tables.sheet import TEXT, frame_of


def having(sheet, rows):
    """The sheet with these rows (frame or list of mappings) added, or put where the same primary key is."""
    given, named = _given(sheet.table, rows)
    _refuse_unknown(sheet, given.columns)
    fresh = _read(sheet, given)
    where = positions(sheet.table, sheet.frame, fresh.frame)
    target = np.where(where < 0, len(sheet.frame) + np.cumsum(where < 0) - 1, where)
    frame, extra = (
        _laid_over(old, new, target, named) for old, new in ((sheet.frame, fresh.frame), (sheet.extra, fresh.extra))
    )
    wish = named if not isinstance(rows, pd.DataFrame) else named & given.notna()
    put = {(int(p), column) for column in named for p in target[wish[column].to_numpy(bool)]}
    kept = {cell: text for cell, text in sheet.unread.items() if cell not in put}
    unread = kept | {(int(target[p]), c): text for (p, c), text in fresh.unread.items()}
    return _sheet(sheet, frame, extra, unread, [*_still_true(sheet, kept), *_moved(fresh, target)])


def _given(table, rows):
    """Rows as a frame, and which of its cells were named; (n, m) bool.

    Of rows with one key the later adds to the earlier. A frame names all its cells; its blanks put nothing into cells
    that could not be read, since a frame carries every column whether it means it or not. A mapping that names a
    column with a blank does.
    """
    if isinstance(rows, pd.DataFrame):
        given = _last_of_each_key(table, rows)
        return given, pd.DataFrame(data=True, index=given.index, columns=given.columns)
    merged = {}
    for n, row in enumerate(rows):
        key = tuple(str(row[k]) for k in table.primary_key) if set(table.primary_key) <= set(row) else n
        merged[key] = merged.get(key, {}) | dict(row)
    columns = list(dict.fromkeys(column for row in merged.values() for column in row))
    given = {c: pd.Series([row.get(c) for row in merged.values()], dtype=object) for c in columns}
    named = {c: [c in row for row in merged.values()] for c in columns}
    return pd.DataFrame(given, columns=columns), pd.DataFrame(named, columns=columns, dtype=bool)


def replacing(sheet, frame):
    """The sheet with `frame` as all its rows; unreadable cells keep their text where they are still blank."""
    _refuse_unknown(sheet, frame.columns)
    fresh = _read(sheet, frame.reset_index(drop=True))
    where = positions(sheet.table, sheet.frame, fresh.frame)
    extra = fresh.extra
    for label in sheet.extra.columns.difference(frame.columns):
        values = sheet.extra[label].reindex(where).reset_index(drop=True)
        extra = extra.assign(**{label: values.astype(TEXT)})
    now = {int(old): new for new, old in enumerate(where) if old >= 0}
    moved = {(now[p], c): text for (p, c), text in sheet.unread.items() if p in now}
    kept = {(p, c): text for (p, c), text in moved.items() if _still_says(fresh.frame[c].iloc[p], text)}
    before = {old + 2: new + 2 for old, new in now.items()}
    findings = [
        replace(f, row=before[f.row])
        for f in sheet.findings
        if f.row in before and (before[f.row] - 2, f.field) in kept
    ]
    whole = [f for f in sheet.findings if f.row is None]
    return _sheet(
        sheet,
        fresh.frame,
        extra[list(dict.fromkeys([*sheet.extra.columns, *extra.columns]))],
        kept | dict(fresh.unread),
        [*whole, *findings, *fresh.findings],
    )


def _still_says(value, text):
    """Whether a cell that could not be read is still what it was: missing, or in a key column its text."""
    return pd.isna(value) or value == text


def positions(table, old, new):
    """For each row of `new` the position of the same row in `old`, -1 for none. (n_new,) int.

    Rows are the same by primary key; where a key repeats, its first goes with the first, its second with the second.
    """
    keys = list(table.primary_key)
    if len(new) >= len(old) and all(old[k].equals(new[k].iloc[: len(old)]) for k in keys) and not _repeats(new[keys]):
        return np.concatenate([np.arange(len(old)), np.full(len(new) - len(old), -1)])  # the usual case: rows appended
    joined = pd.concat([old[keys], new[keys]], ignore_index=True)
    code = joined.groupby(keys, dropna=False, sort=False).ngroup().to_numpy()
    nth = (
        joined.assign(side=np.arange(len(joined)) >= len(old))
        .groupby([*keys, "side"], dropna=False, sort=False)
        .cumcount()
        .to_numpy()
    )
    pairs = pd.MultiIndex.from_arrays([code, nth])
    return pairs[: len(old)].get_indexer(pairs[len(old) :])


def _repeats(keys):
    return bool(keys.duplicated().any())


def _refuse_unknown(sheet, columns):
    for column in columns:
        if column not in sheet.extra.columns:
            _ = sheet.table[column]  # raises SchemaError with the nearest name


def _last_of_each_key(table, given):
    keys = list(table.primary_key)
    if not set(keys) <= set(given.columns):
        return given.reset_index(drop=True)
    return given[~given[keys].astype(str).duplicated(keep="last")].reset_index(drop=True)


def _read(sheet, given):
    """A frame of anything as a Sheet: values to text, and text to types as if it came from a file."""
    columns = {str(label): _as_written(sheet.table.fields.get(label), given[label]) for label in given.columns}
    return frame_of(sheet.table, columns, len(given))


def _as_written(of, series):
    texts = writing.column_text(series)
    if of is not None and of.type == "integer" and pd.api.types.is_float_dtype(series.dtype):
        return _whole(texts)
    return _whole(texts) if of is not None and of.type == "integer" and series.dtype.kind == "O" else texts


def _whole(texts):
    """3.0 in a column of whole numbers is 3: pandas makes floats of integers when one is missing."""
    return pa.array([t.removesuffix(".0") if t else t for t in texts.to_pylist()], pa.string())


def _laid_over(old, new, target, named):
    """`old` with the cells of `new` that were named, at rows `target`; elsewhere what was there."""
    longer = old.reindex(range(max(len(old), int(target.max(initial=-1)) + 1)))
    result = {}
    for column in dict.fromkeys([*old.columns, *(c for c in named if c in new.columns)]):
        values = longer[column].copy() if column in longer else pd.Series(pd.NA, index=longer.index, dtype=TEXT)
        if column in named:
            chosen = named[column].to_numpy(bool)
            values.iloc[target[chosen]] = new[column].array[chosen]
        result[column] = values
    return pd.DataFrame(result, index=longer.index, columns=list(result))


def _still_true(sheet, kept):
    return [f for f in sheet.findings if f.row is None or f.field == "" or (f.row - 2, f.field) in kept]


def _moved(fresh, target):
    return [
        replace(f, row=int(target[f.row - 2]) + 2, rows=tuple(int(target[r - 2]) + 2 for r in f.rows)) if f.row else f
        for f in fresh.findings
    ]


def _sheet(before, frame, extra, unread, findings):
    told = {"unread": MappingProxyType(unread), "findings": tuple(findings), "codes": MappingProxyType({})}
    return replace(before, frame=frame, extra=extra, **told)
