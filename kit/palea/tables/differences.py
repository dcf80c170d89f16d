"""What differs between two packages, or two states of one, row by row and cell by cell: data, from which words are
made.
"""

import json

import pandas as pd

from palea import schema
from palea.tables import editing, writing
from palea.tables.sheet import TEXT

COLUMNS = ("table", "key", "column", "old", "new", "kind")


def between(old, new):
    """Differences of all tables -> frame with COLUMNS, all text.

    old, new : packages. key is the primary key as a JSON list. kind "changed": one row a cell. "added" and
    "removed": one
    row a table row, its column blank, with the whole row as a JSON object under new or old. In the order of the schema;
    within a table first what was there before, in its order, then what was added. Tables that neither has are left out.
    """
    names = [name for name in schema.tables() if name in {*old.names, *new.names}]
    found = [of_table(schema.table(n), whole(old.sheet(n)), whole(new.sheet(n))) for n in names]
    return pd.concat([one for one in found if len(one)] or [_frame([])], ignore_index=True)


def of_table(table, old, new):
    """Differences between two frames of one table, as in `between`. Values are compared as the text they are
    written as.
    """
    return together(table, *parts(table, old, new))


def parts(table, old, new):
    """The same before it is told: changed cells as a frame with COLUMNS, rows that went, rows that came."""
    where = editing.positions(table, old, new)
    stays = where >= 0
    before, after = old.iloc[where[stays]].reset_index(drop=True), new[stays].reset_index(drop=True)
    columns = dict.fromkeys([*old.columns, *new.columns])
    told = [one for one in (_changed(table, before, after, column) for column in columns) if one is not None]
    changed = pd.concat(told).sort_values("position", kind="stable") if told else _frame([])
    changed = changed[list(COLUMNS)].astype(TEXT)
    return changed, old.drop(index=where[stays]), new[~stays]


def together(table, changed, gone, added=None):
    """What `parts` gave as one frame with COLUMNS."""
    told = [changed, _rows(table, gone, "removed"), *([] if added is None else [_rows(table, added, "added")])]
    return pd.concat([part for part in told if len(part)] or told[:1], ignore_index=True)


def keys_of(table, frame):
    """The primary key of each row as a JSON list, in the order of the frame."""
    keys = frame[list(table.primary_key)].astype(object)
    return [
        json.dumps([None if pd.isna(v) else v for v in key], ensure_ascii=False) for key in keys.itertuples(index=False)
    ]


def unequal(before, after):
    """Where two columns of one length differ, missing being equal to missing; (n,) bool."""
    both_missing = before.isna().to_numpy() & after.isna().to_numpy()
    same = pd.Series(before.array == after.array).to_numpy(bool, na_value=False)
    return ~(same | both_missing)


def _changed(table, before, after, column):
    one, other = (f[column] if column in f else pd.Series(pd.NA, index=f.index, dtype=TEXT) for f in (before, after))
    if one.dtype != other.dtype:  # one side holds the raw text of a cell that could not be read
        one, other = _as_text(one), _as_text(other)
    differs = unequal(one, other)
    if not differs.any():
        return None
    texts = [pd.array(writing.column_text(s[differs]).to_pylist(), dtype=TEXT) for s in (one, other)]
    frame = pd.DataFrame(
        {
            "table": table.name,
            "key": keys_of(table, after[differs]),
            "column": column,
            "old": texts[0],
            "new": texts[1],
            "kind": "changed",
        }
    )
    return frame.assign(position=differs.nonzero()[0])


def _rows(table, rows, kind):
    whole = [
        json.dumps({c: writing.cell_text(v) for c, v in row.items() if not pd.isna(v)}, ensure_ascii=False)
        for row in rows.to_dict("records")
    ]
    sides = {"old": whole if kind == "removed" else pd.NA, "new": whole if kind == "added" else pd.NA}
    return _frame({"table": table.name, "key": keys_of(table, rows), "column": pd.NA, **sides, "kind": kind})


def _frame(columns):
    return pd.DataFrame(columns, columns=list(COLUMNS)).astype(TEXT)


def whole(sheet):
    """All columns of a sheet, with the raw text of cells that could not be read."""
    if not sheet.unread:
        return pd.concat([sheet.frame, sheet.extra], axis=1)
    return pd.concat([sheet.frame.apply(_as_text), sheet.extra], axis=1).pipe(_with_raw, sheet.unread)


def _as_text(series):
    return pd.Series(writing.column_text(series).to_pylist(), dtype=TEXT)


def _with_raw(frame, unread):
    for (position, column), text in unread.items():
        frame.loc[position, column] = text
    return frame
