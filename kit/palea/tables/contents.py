"""The files of a package as bytes, made from its tables: what a save writes, and what a check expects to find."""

import json
from functools import cache, lru_cache

import numpy as np
import pyarrow as pa

from palea import schema
from palea.schema import travel
from palea.tables import descriptor, differences, editing, reading, writing


def table_file(package, name):
    """The CSV of a table as it would be saved. A cell that says the same as before keeps its text to the letter."""
    sheet, stored = package.sheet(name), package.stored(name)
    path = package.file(package.table_path(name))
    if not stored.sha256 or not path.is_file():
        return writing.csv_bytes(writing.texts_of(sheet.frame) | writing.texts_of(sheet.extra))
    labels, raw, _ = reading.texts(path.read_bytes(), sheet.table)
    where = editing.positions(sheet.table, stored.frame, sheet.frame)
    order = [
        *sheet.table.fields,
        *(n for n in labels if n not in sheet.table.fields),
        *(n for n in (*sheet.frame, *sheet.extra) if n not in labels),
    ]
    return writing.csv_bytes({n: _kept(n, raw.get(n), sheet, stored, where) for n in dict.fromkeys(order)})


def schema_file(package, name, present, extra):
    """The table schema that travels with a table; what the package says of columns of its own stays."""
    if not extra:
        return _plain_schema(name, tuple(present))
    whole = travel.table_schema(name, present, extra)
    own = {field["name"]: field for field in package.own_fields(name)}
    whole["fields"] = [own.get(field["name"], field) if field.get("custom") else field for field in whole["fields"]]
    return as_json(whole)


@lru_cache(maxsize=256)
def _plain_schema(name, present):
    """The same for a table without columns of the package's own: the same for every save."""
    return as_json(travel.table_schema(name, present))


@cache
def profile_file():
    """Our profile as it travels."""
    return as_json(travel.profile())


def table_files(package, tables):
    """{path: bytes} of these tables, and of whatever in the travelling schema is not yet as it should be; and
    {name: resource} of the tables.
    """
    present = [*package.names]
    schemas = {travel.PROFILE_PATH: profile_file()} | {
        package.schema_path(name): _schema_wanted(package, name, present, edited=name in tables) for name in present
    }
    files, resources = {path: data for path, data in schemas.items() if _on_disk(package, path) != data}, {}
    for name in tables:
        path = package.table_path(name)
        files[path] = table_file(package, name)
        resources[name] = descriptor.table_resource(schema.table(name), files[path], package.resources.get(name))
    return files, resources


def _schema_wanted(package, name, present, *, edited):
    """The travelling schema of one table as it should be. One that is plain on disk has no columns of its own."""
    if not edited and _on_disk(package, package.schema_path(name)) == (plain := _plain_schema(name, tuple(present))):
        return plain
    extra = package.extra_columns(name) if edited else [field["name"] for field in package.own_fields(name)]
    return schema_file(package, name, present, list(extra))


def _on_disk(package, path):
    path = package.file(path)
    return path.read_bytes() if path.is_file() else None


def as_json(value):
    """A JSON file of a package, always laid out alike."""
    return (json.dumps(value, indent=1, ensure_ascii=False) + "\n").encode()


def _kept(name, raw, sheet, stored, where):
    """Texts of one column: that of the file wherever the value is the one that was read there, else written anew."""
    after = sheet.frame[name] if name in sheet.frame else sheet.extra[name]
    if raw is None or not len(where):
        return writing.column_text(after)
    before = (stored.frame if name in stored.frame else stored.extra)[name].reset_index(drop=True).reindex(where)
    same = ~differences.unequal(before, after) & (where >= 0)
    now = {int(where[p]) for p, column in sheet.unread if column == name}
    cleared = {p for p, column in stored.unread if column == name} - now  # blank on purpose, no longer unread
    same[np.isin(where, list(cleared))] = False
    fresh = writing.column_text(after[~same])
    source = where.copy()
    source[~same] = len(raw) + np.arange(len(fresh))
    return pa.concat_arrays([raw.cast(pa.string()), fresh]).take(pa.array(source))
