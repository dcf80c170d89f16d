"""datapackage.json: read with care, written the same way each time."""

import hashlib
import json
import re
from functools import lru_cache
from types import MappingProxyType

from palea import schema
from palea.errors import PackageError, UnsafePackage
from palea.schema import travel
from palea.tables import formats, paths

NAME = "datapackage.json"
JOURNAL = "journal.jsonl"
LARGEST = 8 * 1024**2  # bytes
# Written out, because a reader that is told nothing guesses the delimiter from the first rows, and can guess wrong.
DIALECT = {"delimiter": ",", "lineTerminator": "\n", "quoteChar": '"', "doubleQuote": True, "skipInitialSpace": False}
_COMPACT = json.JSONEncoder(ensure_ascii=False, default=dict)  # default: of frozen mappings
_FIRST = (
    "$schema",
    "schemaVersion",
    "schemaProfile",
    "name",
    "title",
    "description",
    "version",
    "created",
    "licenses",
    "contributors",
    "keywords",
    "palea",
)
_FOLLOWED = (
    "path",
    "schema",
    "dialect",
    "extrapaths",
    "profile",
)  # properties that name a file which a reader would open


def read(folder):
    """The descriptor in `folder` as a frozen mapping.

    Raises PackageError if there is none, or it cannot be read as one; UnsafePackage if it names a path that must not be
    followed. What is merely wrong in it is left for `check.descriptor`.
    """
    path = paths.inside(folder, NAME)
    if not path.is_file():
        msg = f"There is no {NAME} in {folder}. Give the folder that holds it, or begin a package with `palea new`."
        raise PackageError(msg)
    described = _read(paths.read(path), path)
    safe = set()
    for resource in described["resources"]:
        _check_paths(folder, resource, safe)
    return described


@lru_cache(maxsize=4)
def _read(data, path):
    """The bytes of a descriptor, frozen; a save meets the same ones three times over."""
    raw = parse(data, path)
    if not isinstance(raw.get("resources"), list) or not all(_is_resource(r) for r in raw["resources"]):
        msg = (
            f"{path} does not list its files: “resources” must be a list of objects, each with a name. "
            "Compare it with a package that `palea new` writes."
        )
        raise PackageError(msg)
    return freeze(raw)


def parse(data, path):
    """The bytes of a JSON file that must hold an object -> dict; PackageError else."""
    if len(data) > LARGEST:
        msg = (
            f"{path} is {len(data)} bytes long; palea reads {LARGEST} at most. "
            "A descriptor holds no data: move them to a table."
        )
        raise PackageError(msg)
    try:
        value = formats.json_of(data.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        fault = _json_fault(error)
        msg = (
            f"{path} cannot be read as JSON: {fault}. "
            "Open it in a text editor and look there, or take the file from a copy."
        )
        raise PackageError(msg) from None
    if not isinstance(value, dict):
        msg = f"{path} must hold one JSON object and holds a {type(value).__name__}. Take the file from a copy."
        raise PackageError(msg)
    return value


def _json_fault(error):
    if isinstance(error, RecursionError):
        return "it is nested too deep"
    if isinstance(error, UnicodeDecodeError):
        return "it is no UTF-8 text"
    return paths.printable(str(error), 120)


def text(descriptor):
    """The descriptor as the bytes of its file: known keys first, the rest by name, resources last."""
    rest = sorted(key for key in descriptor if key not in _FIRST and key != "resources")
    ordered = {key: thaw(descriptor[key]) for key in (*_FIRST, *rest) if key in descriptor}
    resources = [_laid_out(_COMPACT.encode(resource)) for resource in descriptor["resources"]]
    head = json.dumps(ordered, indent=1, ensure_ascii=False).removesuffix("\n}").removesuffix("{}")
    listed = "[\n  " + ",\n  ".join(resources) + "\n ]" if resources else "[]"
    return (f'{head or "{"}{"," if ordered else ""}\n "resources": {listed}\n}}\n').encode()


@lru_cache(maxsize=1024)
def _laid_out(resource):
    """One resource as it stands within the file; a save changes few of them, and laying out is slow."""
    return json.dumps(json.loads(resource), indent=1, ensure_ascii=False).replace("\n", "\n  ")


def new(title, stamp, *, licence=None, description="", keywords=(), invented=False):
    """The descriptor of a package without tables."""
    raw = {
        **travel.package_properties(),
        "name": slug(title),
        "title": title,
        "description": description,
        "version": "0.1.0",
        "created": stamp.when,
        "licenses": [{"name": licence}] if licence else [],
        "keywords": list(keywords),
        "palea": {"invented": invented, "journal_lines": 0, "journal_hash": ""},
        "resources": [],
    }
    return freeze({key: value for key, value in raw.items() if value not in ("", []) or key == "resources"})


def slug(title):
    """A title as a name that every system and the standard take.

    >>> slug("Dune seed, trial G1 (2026)")
    'dune-seed-trial-g1-2026'
    """
    return re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-")[:60] or "package"


def file_facts(data):
    """Size and hash as a resource states them."""
    return {"bytes": len(data), "hash": f"sha256:{hashlib.sha256(data).hexdigest()}"}


def table_resource(table, data, before=None):
    """The resource of a table whose file holds `data`; what the package said of it before, and is not ours, stays."""
    own = {**travel.resource(table.name, f"data/{table.name}.csv"), "dialect": DIALECT}
    return {
        **own,
        **{k: v for k, v in thaw(before or {}).items() if k in ("path", "schema") or k not in own},
        **file_facts(data),
    }


def journal_resource(data):
    """The resource of the journal. Plain text to the standard, which has no name for one JSON object a line."""
    return {
        "name": "journal",
        "title": schema.table("journal").title,
        "path": JOURNAL,
        "format": "text",
        "mediatype": "text/plain",
        "encoding": "utf-8",
        **file_facts(data),
    }


def with_resources(descriptor, changed, **palea):
    """The descriptor with these resources {name: resource} put in or replaced, and these facts of palea's own block."""
    by_name = {r["name"]: r for r in descriptor["resources"]} | changed
    known = [name for name in schema.tables() if name in by_name and name != "journal"]
    own = [name for name in by_name if name not in schema.tables()]
    listed = [by_name[name] for name in (*known, *own, *(["journal"] if "journal" in by_name else []))]
    return freeze({**descriptor, "resources": listed, "palea": {**own_facts(descriptor), **palea}})


def own_facts(described):
    """Palea's own block of a descriptor; empty where there is none, or something else stands in its place."""
    block = described.get("palea")
    return block if isinstance(block, MappingProxyType | dict) else MappingProxyType({})


def without_profiles(described):
    """The descriptor as a dict for the reference validator, which would follow a `profile` wherever it points."""
    raw = thaw(described)
    resources = [{key: value for key, value in r.items() if key != "profile"} for r in raw["resources"]]
    return {**{key: value for key, value in raw.items() if key != "profile"}, "resources": resources}


def freeze(value):
    """JSON values as what cannot be changed by accident."""
    if isinstance(value, dict):
        return MappingProxyType({k: freeze(v) for k, v in value.items()})
    return tuple(map(freeze, value)) if isinstance(value, list | tuple) else value


def thaw(value):
    """A frozen JSON value as plain dicts and lists, to be changed or written."""
    if isinstance(value, MappingProxyType | dict):
        return {k: thaw(v) for k, v in value.items()}
    return list(map(thaw, value)) if isinstance(value, list | tuple) else value


def _is_resource(resource):
    return isinstance(resource, dict) and isinstance(resource.get("name"), str) and bool(resource["name"])


def _check_paths(folder, resource, safe):
    """Refuse a resource that would make a reader open anything outside the package."""
    for key in _FOLLOWED:
        named = resource.get(key)
        for path in named if isinstance(named, tuple) else [named]:
            if isinstance(path, str):
                paths.inside(folder, path, safe)
            elif key == "path" and path is not None:
                paths.refuse(path, "it is no text")
    if resource["name"] in schema.tables() and not isinstance(resource.get("path"), str):
        msg = (
            f"The table {resource['name']} has no single file: its “path” must be one text, as in "
            f"data/{resource['name']}.csv. Put its rows into one CSV file."
        )
        raise PackageError(msg)
    if resource.get("scheme") not in (None, "file") or resource.get("compression"):
        msg = (
            f"The file of {paths.printable(resource['name'])} is said to lie elsewhere or to be compressed; "
            "palea reads plain files in the package. Unpack it and name its path."
        )
        raise UnsafePackage(msg)
