"""What was withheld must not be told elsewhere: in notes, titles, sentences that were kept, ids, names of files."""

import hashlib
from functools import partial

import pandas as pd

from palea import schema
from palea.schema import travel
from palea.sharing import kept_files
from palea.sharing.withheld import MARK
from palea.tables import contents, descriptor
from palea.tables.descriptor import thaw

OURS = {*travel.package_properties(), "resources", "palea", "licenses"}  # of a descriptor: what palea itself writes


def scrubbed(package, hidden):
    """(the package without what was withheld in any text cell or in its descriptor, number of texts changed)."""
    changed = 0
    for table in package.names:
        if not package.sheet(table).whole:
            continue  # a logger's readings in blocks: numbers alone
        frame = _whole(package, table)
        fresh = {}
        for name in frame.columns:
            if isinstance(frame[name].dtype, pd.StringDtype):
                told = _without(table, frame, name, hidden)
                other = told.notna() & told.ne(frame[name])
                if other.any():
                    fresh[name], changed = told, changed + int(other.sum())
        if fresh:
            package = package.replacing(table, frame.assign(**fresh))
    facts = {}
    for name, raw in thaw(package.descriptor).items():
        told = raw if name in OURS else within(raw, hidden)
        if told != raw:  # the name of a package is part of addresses, where brackets have no place
            facts[name], changed = told.replace(MARK, MARK.strip("[]")) if name == "name" else told, changed + 1
    return (package.describing(**facts) if facts else package), changed


def _without(table, frame, name, hidden):
    """A column without what was withheld. Why an answer is as it is may tell the numbers that it gives; a cell of JSON, as the
    options of an answer, stays JSON, and its numbers are no places.
    """
    texts, field = frame[name], schema.table(table).fields.get(name)
    if field and field.parse == "json":
        return _each(texts, partial(kept_files.in_strings, change=hidden.out_of))
    if (table, name) != ("results", "reason") or texts.isna().all():
        return _each(texts, hidden.out_of)
    numbers = kept_files.numbers_of(frame)
    parts = texts.groupby(frame["analysis_id"], sort=False, dropna=False)
    return pd.concat([_each(part, partial(hidden.out_of, own=numbers.get(of, ()))) for of, part in parts]).sort_index()


def files(folder, names, hidden):
    """Take what was withheld out of text files of a folder that are no tables of the schema; how many were changed."""
    changed = 0
    for name in names:
        path = folder / name
        try:
            text = path.read_text(encoding="utf-8")
        except (UnicodeDecodeError, OSError):
            continue  # what is no text says nothing in words; attached files are looked into before
        told = hidden.out_of(text)
        if told != text:
            path.write_text(told, encoding="utf-8", newline="")
            changed += 1
    return changed


def own_fields(package, hidden):
    """Take what was withheld out of what a package says of columns of its own in tables of the schema; how many changed."""
    changed = 0
    for table in package.names:
        fields = package.own_fields(table)
        told = within(fields, hidden)
        if told == fields:
            continue
        described, other = package.own_schema(table), {field["name"]: field for field in told}
        described["fields"] = [other.get(f["name"], f) if isinstance(f, dict) else f for f in described["fields"]]
        package.file(package.schema_path(table)).write_bytes(contents.as_json(described))
        changed += sum(old != new for old, new in zip(fields, told, strict=True))
    return changed


def own_tables(package, hidden):
    """Take what was withheld out of what a package says of tables of its own; what it said of their files is put right.

    Their files have to be rid of it before.
    """
    raw = thaw(descriptor.read(package.folder))
    for resource in raw["resources"]:
        if resource["name"] in package.extra_names:
            resource |= within(resource, hidden)
            if {"hash", "bytes"} & set(resource) and isinstance(resource.get("path"), str):
                data = package.file(resource["path"]).read_bytes()
                resource |= {"hash": f"sha256:{hashlib.sha256(data).hexdigest()}", "bytes": len(data)}
    (package.folder / descriptor.NAME).write_bytes(descriptor.text(raw))


def plain_ids(package, hidden):
    """(the package with other ids where an id tells what is withheld, {table: {old: new}}).

    Every column that names such a row follows: links, and pairs of about_table and about_id.
    """
    renamed = {}
    for name in package.names:
        table = schema.table(name)
        (key,) = table.primary_key if len(table.primary_key) == 1 else (None,)
        if key is None or table.link(key) or not isinstance(package[name][key].dtype, pd.StringDtype):
            continue
        ids = package[name][key].dropna().unique().tolist()
        telling = [i for i in ids if hidden.are_in(i)]
        if telling:
            renamed[name] = dict(zip(telling, _free(table, set(ids), len(telling)), strict=True))
    for name in package.names if renamed else ():
        frame = _whole(package, name)
        fresh = _followed(schema.table(name), frame, renamed)
        if fresh:
            package = package.replacing(name, frame.assign(**fresh))
    return package, renamed


def within(value, hidden):
    """A JSON value without what was withheld in any of its texts."""
    if isinstance(value, str):
        return hidden.out_of(value)
    if isinstance(value, dict):
        return {key: within(part, hidden) for key, part in value.items()}
    return [within(part, hidden) for part in value] if isinstance(value, list | tuple) else value


def _followed(table, frame, renamed):
    """{column: its ids by their new names} of a table, for the columns in which one changes."""
    columns = {table.primary_key[0]: table.name} if len(table.primary_key) == 1 else {}
    columns |= {here: link.table for link in table.foreign_keys for here in link.fields if _is_id_of(link, here)}
    fresh = {c: frame[c].replace(renamed[of]) for c, of in columns.items() if frame[c].isin(renamed.get(of, {})).any()}
    if "about_id" in frame.columns:
        about = frame["about_id"]
        for of, ids in renamed.items():
            mine = frame["about_table"].eq(of).fillna(value=False) & about.isin(ids)
            about = about.mask(mine, about.replace(ids))
        if not about.equals(frame["about_id"]):
            fresh["about_id"] = about
    return fresh


def _is_id_of(link, here):
    """Whether a column of a link holds the id of the row that it names, and not only a part of a longer key."""
    there = schema.table(link.table)
    return len(there.primary_key) == 1 and link.to[link.fields.index(here)] == there.primary_key[0]


def _free(table, taken, many):
    """So many ids that nothing has yet: what the row is, and a number."""
    word = table.primary_key[0].removesuffix("_id").replace("_", "-")
    numbers = (f"{word}-{n}" for n in range(1, len(taken) + many + 1))
    return [i for i in numbers if i not in taken][:many]


def _whole(package, table):
    """All columns of a table, those of the package's own with them."""
    return pd.concat([package[table], package.extra_columns(table)], axis="columns")


def _each(texts, change):
    """A column with each distinct text changed once."""
    distinct = texts.dropna().unique()
    other = {old: new for old in distinct if (new := change(old)) != old}
    return texts.map(lambda t: other.get(t, t), na_action="ignore").astype(texts.dtype) if other else texts
