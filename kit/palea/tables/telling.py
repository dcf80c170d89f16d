"""Differences between two states of a package as sentences."""

import json

import pandas as pd

from palea import schema
from palea.tables import descriptor
from palea.tables.paths import printable

_WRITTEN = ("resources", "palea")  # of datapackage.json, by palea itself with each save
MANY = 20  # rows of one table and kind that are told one by one


def sentences(found, at_most=MANY):
    """Yield a sentence a changed cell, added or removed row of a frame as `differences.between` gives it.

    Beyond `at_most` of one table and kind the rest is counted.
    """
    for (table, kind), rows in found.groupby(["table", "kind"], sort=False):
        for row in rows.head(at_most).to_dict("records"):
            yield _SAYS[kind](schema.table(table), row)
        if len(rows) > at_most:
            yield _rest(table, kind, len(rows) - at_most)


def tally(found):
    """How many cells were changed and rows added and removed, as text."""
    number = found["kind"].value_counts()
    parts = (
        ("changed", "cell changed", "cells changed"),
        ("added", "row added", "rows added"),
        ("removed", "row removed", "rows removed"),
    )
    told = [f"{number[kind]} {one if number[kind] == 1 else many}" for kind, one, many in parts if kind in number.index]
    return ", ".join(told) or "no row differs"


def key_in_words(key):
    """A key as `differences` gives it, as a person reads it."""
    return printable(" / ".join("blank" if part is None else str(part) for part in json.loads(key)), 120)


def as_records(found):
    """A frame of differences as plain mappings, each with its key as a list and its sentence; blank is None."""
    rows = found.astype(object).where(found.notna(), None).to_dict("records")
    return [
        {**row, "key": json.loads(row["key"]), "sentence": _SAYS[row["kind"]](schema.table(row["table"]), row)}
        for row in rows
    ]


def beside_tables(old, new):
    """Yield a sentence for whatever differs between two packages beside the rows of tables: facts, own tables."""
    for fact in dict.fromkeys([*old.descriptor, *new.descriptor]):
        one, other = (_plain(package.descriptor.get(fact)) for package in (old, new))
        if fact not in _WRITTEN and one != other:
            yield f"{descriptor.NAME}: {fact} was {_value(one)} and is {_value(other)}."
    for name in dict.fromkeys([*old.extra_names, *new.extra_names]):
        one, other = (package.file_hash(name) for package in (old, new))
        if one != other:
            yield f"{name}: {_file_change(one, other)}."


def _plain(fact):
    fact = descriptor.thaw(fact)
    return fact if fact is None or isinstance(fact, str) else json.dumps(fact, ensure_ascii=False)


def _file_change(one, other):
    if not one or not other:
        return "its file was added" if other else "its file was taken away"
    return "its file holds something else"


def _changed(table, row):
    of = table.fields.get(row["column"])
    title = of.title if of else row["column"]
    return f"{table.name}, {key_in_words(row['key'])}: {title} was {_value(row['old'])} and is {_value(row['new'])}."


def _added(table, row):
    return f"{table.name}: {key_in_words(row['key'])} was added{_rest_of_row(table, row['new'])}."


def _removed(table, row):
    return f"{table.name}: {key_in_words(row['key'])} was taken away{_rest_of_row(table, row['old'])}."


_SAYS = {"changed": _changed, "added": _added, "removed": _removed}


def _rest_of_row(table, whole):
    """The filled cells of a row beside its key."""
    cells = {name: text for name, text in json.loads(whole).items() if name not in table.primary_key}
    return f" ({printable(', '.join(f'{n} {t}' for n, t in cells.items()), 160)})" if cells else ""


def _value(text):
    return "blank" if pd.isna(text) or text == "" else f"“{printable(text, 60)}”"


def _rest(table, kind, number):
    what = {"changed": ("cell was", "cells were", "changed"), "added": ("row was", "rows were", "added")}
    one, many, done = what.get(kind, ("row was", "rows were", "taken away"))
    return f"{table}: {number} more {one if number == 1 else many} {done}."
