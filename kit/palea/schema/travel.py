"""The copy of the schema that travels inside a package, so that any reader of data packages understands it alone.

A package says three things about itself (`package_properties`), tried with frictionless 5.21:

- `$schema` is the official address of Data Package 2.0. Only then does frictionless use the rules of version 2. An
  address of our own in its place is accepted, but neither fetched nor applied, and other readers stumble over it.
- `schemaVersion` is the version of palea's schema that the tables follow.
- `schemaProfile` is the path of our profile inside the package (`profile()` is what to write there). It is not called
  `profile`: frictionless looks for such a file from the working folder, not from the package, and then refuses.

Our own checker validates the descriptor against `palea-profile.json`, with `official()` as the registry: the official
profiles and ours together, without network.

Each resource is of type "table" and points to its schema by path: {"path": "data/lots.csv", "schema":
"schema/lots.json"}; frictionless reads both from the package. Word lists are written out as `enum`, because it passes
over `categories`. `fieldsMatch` is left out: the official profile has its type wrong, and the default is that columns
are exactly as listed, so columns of one's own are listed too (`extra`). Blank text is missing in every column.
"""

import json
from functools import cache

from palea.schema.read import table, tables, version
from palea.shipped import folder

PACKAGE = "https://datapackage.org/profiles/2.0/datapackage.json"
RESOURCE = "https://datapackage.org/profiles/2.0/dataresource.json"
TABLE = "https://datapackage.org/profiles/2.0/tableschema.json"
PROFILE_PATH = "schema/palea-profile.json"
BLANK = ({"value": "", "label": "blank"},)


def package_properties():
    """What datapackage.json must say so that its tables are read by this schema."""
    return {"$schema": PACKAGE, "schemaVersion": version(), "schemaProfile": PROFILE_PATH}


def table_schema(name, present=None, extra=()):
    """The Table Schema of one table as it lies in a package, as a dict ready for JSON.

    present : names of the tables in the package; a foreign key to any other is left out. None: all tables.
    extra : names of columns that are not part of the schema; they follow as text, marked `"custom": true`.
    Raises SchemaError for a table that does not exist.
    """
    raw = thaw(table(name).raw)
    there = set(tables()) if present is None else {name, *present}
    fields = [_field(found, table(name)[found["name"]]) for found in raw["fields"]]
    keys = [key for key in raw.get("foreignKeys", ()) if key["reference"].get("resource", name) in there]
    return {
        "$schema": TABLE,
        **{key: raw[key] for key in ("name", "title", "description")},
        "version": version(),
        "fields": [*fields, *({"name": column, "type": "string", "custom": True} for column in extra)],
        "primaryKey": raw["primaryKey"],
        **({"foreignKeys": keys} if keys else {}),  # an empty list is not valid by the standard
        "missingValues": list(BLANK),
        **{key: raw[key] for key in ("stage", "label_fields")},
    }


def resource(name, path, schema=None):
    """The entry of a table in `resources` of datapackage.json.

    path : of its CSV, relative to the package.  schema : of its Table Schema; "schema/<name>.json" if None.
    """
    return {
        "$schema": RESOURCE, "name": name, "type": "table", "title": table(name).title, "path": path,
        "format": "csv", "mediatype": "text/csv", "encoding": "utf-8", "schema": schema or f"schema/{name}.json",
    }


def profile():
    """Our profile as it travels: which tables there must be and how resources of our names are written."""
    ours = _shipped("palea-profile.json")
    return {**{k: v for k, v in ours.items() if k != "allOf"}, **ours["allOf"][-1]}


@cache
def official():
    """The four official profiles of Data Package 2.0 and our own by address, for a checker without network."""
    kinds = ("datapackage", "dataresource", "tabledialect", "tableschema")
    bundled = {f"https://datapackage.org/profiles/2.0/{kind}.json": _shipped(f"official/{kind}.json") for kind in kinds}
    ours = _shipped("palea-profile.json")
    return {**bundled, ours["$id"]: ours}


def thaw(value):
    """A frozen piece of the schema as plain dicts and lists, for JSON."""
    if hasattr(value, "items"):
        return {key: thaw(one) for key, one in value.items()}
    return [thaw(one) for one in value] if isinstance(value, tuple) else value


def _field(raw, field):
    rest = {key: value for key, value in raw.items() if key != "constraints"}
    return {**rest, "constraints": thaw(field.constraints)} if field.constraints else rest


def _shipped(path):
    return json.loads((folder("schema") / path).read_text(encoding="utf-8"))
