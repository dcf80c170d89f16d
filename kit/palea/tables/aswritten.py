"""Whether a descriptor is as palea itself writes one. Then it holds to the standard and to our profile by construction.

Two libraries that check this for any descriptor take a second to load. A test holds what this lets pass against both.
"""

import re
from datetime import datetime

from palea import schema
from palea.schema import travel
from palea.tables import descriptor

_NEEDED = ("people", "taxa", "lots")
_NAME = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*", re.ASCII)
_VERSION = re.compile(r"\d+\.\d+\.\d+", re.ASCII)
_CREATED = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:Z|[+-]\d\d:\d\d)", re.ASCII)
_LICENCE = re.compile(r"[A-Za-z0-9._-]+", re.ASCII)
_MEASURED = ("bytes", "hash")  # of a resource; `profile` compares them with the file


def is_as_written(package):
    """True only where nothing in the descriptor is by another hand; False says nothing against it."""
    raw = descriptor.thaw(package.descriptor)
    resources = raw.pop("resources")
    names = [resource["name"] for resource in resources]
    return (
        set(_NEEDED) <= set(names)
        and len(set(names)) == len(names)
        and all(key in _SAYS and _SAYS[key](value) for key, value in raw.items())
        and {"$schema", "schemaVersion", "schemaProfile", "name", "created"} <= set(raw)
        and all(map(_is_own, resources))
    )


def _is_own(resource):
    """Whether the entry of a table or of the journal is the one that is written for it."""
    name, plain = resource["name"], {k: v for k, v in resource.items() if k not in _MEASURED}
    if name == "journal":
        return plain == {k: v for k, v in descriptor.journal_resource(b"").items() if k not in _MEASURED}
    if name not in schema.tables() or not _is_measured(resource):
        return False
    return plain == {**travel.resource(name, f"data/{name}.csv"), "dialect": descriptor.DIALECT}


def _is_measured(resource):
    size, stated = resource.get("bytes", 0), resource.get("hash", "sha256:")
    return type(size) is int and size >= 0 and isinstance(stated, str) and stated.startswith("sha256:")


def _is_text(value):
    return isinstance(value, str) and value != ""


def _is(expected):
    return lambda value: isinstance(value, str) and value == expected


def _matches(pattern):
    return lambda value: isinstance(value, str) and bool(pattern.fullmatch(value))


def _is_moment(value):
    try:
        return bool(_CREATED.fullmatch(value)) and datetime.fromisoformat(value).tzinfo is not None
    except (TypeError, ValueError):
        return False


def _is_licences(value):
    return (
        isinstance(value, list)
        and value != []
        and all(isinstance(one, dict) and set(one) == {"name"} and _matches(_LICENCE)(one["name"]) for one in value)
    )


_SAYS = {
    **{key: _is(expected) for key, expected in travel.package_properties().items()},
    "name": _matches(_NAME),
    "title": _is_text,
    "description": _is_text,
    "version": _matches(_VERSION),
    "created": _is_moment,
    "licenses": _is_licences,
    "keywords": lambda value: isinstance(value, list) and value != [] and all(map(_is_text, value)),
    "palea": lambda value: isinstance(value, dict),
}
