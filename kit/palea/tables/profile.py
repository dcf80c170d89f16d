"""What a package says of itself, held against the standard, against our profile and against its files."""

import hashlib
from collections import Counter

from palea import lean, schema
from palea.findings import Finding
from palea.schema import travel
from palea.tables import aswritten, contents, descriptor, paths, versions

_KINDS = ("data-resource", "tabular-data-resource")  # what version 1 of the standard said by `profile`
_MOST = 50  # faults of the descriptor that are told


def check(package):
    """Findings about the descriptor and about the files that it names; nothing about rows."""
    found = [] if aswritten.is_as_written(package) else _against_profile(package) or _against_reference(package)
    found += [*_version(package), *_repeated(package), *_own_profile(package), *_other_profiles(package)]
    for name in package.names:
        if name in package.resources:
            found += [*_file(package, name), *_manner(package, name), *_own_schema(package, name)]
    for name in package.extra_names:
        found += _file(package, name)
    return [*found, *(_file(package, "journal") if "journal" in package.resources else ()), *_unlisted(package)]


def _against_profile(package):
    """The official profile of Data Package 2.0 and ours, from the copies that ship with palea."""
    jsonschema = lean.jsonschema()
    from referencing import Registry, Resource
    from referencing.jsonschema import DRAFT7

    bundled = travel.official()
    registry = Registry().with_resources((address, Resource(one, DRAFT7)) for address, one in bundled.items())
    ours = next(one for address, one in bundled.items() if address.startswith("urn:palea"))
    checker = jsonschema.Draft7Validator(ours, registry=registry)
    raw = descriptor.thaw(package.descriptor)
    faults = sorted(
        (leaf for error in checker.iter_errors(raw) for leaf in _leaves(error)),
        key=lambda e: list(map(str, e.absolute_path)),
    )
    sentences = dict.fromkeys(_sentence(raw, fault) for fault in faults[:_MOST])
    return [
        _finding("package.profile", place, message, "Mend it in datapackage.json, or take the file from a copy.")
        for place, message in sentences
    ]


def _against_reference(package):
    """Rules of the standard that its profile cannot state (dates, addresses, licences), by the reference validator.

    It is handed the descriptor alone.
    """
    from frictionless import FrictionlessException, Package

    raw = descriptor.without_profiles(package.descriptor)
    try:
        Package.from_descriptor(raw, basepath=str(package.folder))
    except FrictionlessException as error:
        notes = [reason.note for reason in error.reasons or [error.error]][:_MOST]
    except Exception as error:  # noqa: BLE001 the library stumbles in many ways over what it does not expect
        notes = [str(error)]
    else:
        return []
    says = f"In {descriptor.NAME}: "
    return [
        _finding("package.profile", "", f"{says}{paths.printable(note, 160)}.", f"Mend it in {descriptor.NAME}.")
        for note in notes
    ]


def _own_profile(package):
    """The profile that travels is the one of this schema; another would make other readers judge by other rules."""
    if package.schema_version != schema.version() or "schemaProfile" not in package.descriptor:
        return []
    path = package.file(travel.PROFILE_PATH)
    if path.is_file() and path.read_bytes() == contents.profile_file():
        return []
    message = f"{travel.PROFILE_PATH} is not the profile of schema {schema.version()}."
    return [_finding("package.profile-file", travel.PROFILE_PATH, message, "Save any change with palea, which writes it.")]


def _other_profiles(package):
    """A profile of another kind is never followed: it may point anywhere, and other readers would judge by it."""
    named = [("", package.descriptor.get("profile"))]
    named += [(r["name"], r.get("profile")) for r in package.descriptor["resources"] if r.get("profile") not in _KINDS]
    return [
        _finding(
            "package.profile-other",
            paths.printable(str(profile)),
            f"{descriptor.NAME} names by “profile” rules that palea does not follow.",
            f"Take “profile” out of {descriptor.NAME}; the schema is named by schemaVersion.",
            name,
        )
        for name, profile in named
        if profile is not None
    ]


def _leaves(error):
    """The faults at the bottom of a fault, where it is made of others and all of them hold."""
    inner = error.context if error.validator in ("allOf", "if", "then") else ()
    return [leaf for one in inner for leaf in _leaves(one)] or [error]


def _sentence(raw, error):
    """Place and message of one fault."""
    place = _place(raw, list(error.absolute_path))
    if error.validator == "contains":
        wanted = error.validator_value["properties"]["name"]["const"]
        return place, f"There is no table {wanted}; a package has at least people, taxa and lots."
    return place, f"In {descriptor.NAME}, at {place or 'its top'}: {paths.printable(error.message, 160)}."


def _place(raw, path):
    """A path into the descriptor, with resources by name."""
    shown = list(map(str, path))
    if len(path) > 1 and path[0] == "resources" and isinstance(path[1], int):
        shown[1] = str(raw["resources"][path[1]].get("name", path[1]))
    return " › ".join(shown)


def _version(package):
    if package.schema_version in ("", schema.version()):
        return []  # one that is not said at all is a fault of the profile
    return [_finding("package.schema-version", package.schema_version, *versions.sentences(package))]


def _repeated(package):
    names = Counter(r["name"] for r in package.descriptor["resources"])
    files = Counter(r["path"] for r in package.descriptor["resources"] if isinstance(r.get("path"), str))
    return [
        *(
            _finding(
                "package.resource-twice",
                name,
                f"The resource {paths.printable(name)} is listed {n} times; the first was read.",
                "List it once.",
            )
            for name, n in names.items()
            if n > 1
        ),
        *(
            _finding(
                "package.file-twice",
                path,
                f"The file {path} is listed as {n} resources.",
                "Give each table a file of its own.",
            )
            for path, n in files.items()
            if n > 1
        ),
    ]


def _file(package, name):
    """Whether the files of a resource are there and are those that the descriptor describes."""
    resource = package.resources[name]
    named = resource.get("path", ())
    for relative in (named,) if isinstance(named, str) else named:
        if not package.file(relative).is_file():
            return [
                _finding(
                    "package.file-missing",
                    relative,
                    f"The file {relative} of {name} is not there.",
                    f"Put it back, or take {name} out of {descriptor.NAME}.",
                    name,
                )
            ]
    return _hash(package, name, resource) if isinstance(named, str) else []


def _digest(package, name, path, kind):
    """The hash of a resource's file. A table is hashed when it is read, and it is read anyway: long files only once."""
    known = package.stored(name).sha256 if kind == "sha256" and name in package.names else ""
    return known or hashlib.new(kind, path.read_bytes(), usedforsecurity=False).hexdigest()


def _hash(package, name, resource):
    if name in package.edited or not {"hash", "bytes"} & set(resource):
        return []
    kind, _, stated = str(resource.get("hash", "")).rpartition(":")
    if stated and kind not in ("", "md5", "sha1", "sha256", "sha512"):
        return [
            _finding(
                "package.hash",
                kind,
                f"The hash of {name} is of a kind that palea does not know.",
                "Write it as sha256:...",
                name,
            )
        ]
    path = package.file(resource["path"])
    same = not stated or _digest(package, name, path, kind or "md5") == stated
    size = path.stat().st_size
    if same and resource.get("bytes", size) == size:
        return []
    return [
        _finding(
            "package.hash",
            resource["path"],
            f"{resource['path']} was changed outside palea since it was last saved.",
            "Look at it; if it is right, adopt it with a reason (`palea adopt`), else put it back from a copy.",
            name,
        )
    ]


def _manner(package, name):
    """Comma-separated UTF-8 is the one way that palea reads; a descriptor that says otherwise is wrong or means
    another file.
    """
    resource = descriptor.thaw(package.resources[name])
    dialect = resource.get("dialect") or {}
    odd = (
        [
            k
            for k, v in dialect.items()
            if (k != "$schema"
            and descriptor.DIALECT.get(k, v) != v)
            or k not in (*descriptor.DIALECT, "$schema", "header")
        ]
        if isinstance(dialect, dict)
        else ["dialect"]
    )
    odd += ["header"] if isinstance(dialect, dict) and dialect.get("header", True) is not True else []
    odd += [k for k, v in (("format", "csv"), ("encoding", "utf-8")) if resource.get(k, v) != v]
    odd += [k for k in ("data", "extrapaths", "innerpath", "profile", "control", "detector") if k in resource]
    return (
        [
            _finding(
                "package.manner",
                ", ".join(odd),
                f"The descriptor says of {name} by “{', '.join(odd)}” that it is no plain CSV file in UTF-8.",
                "Save it as CSV with commas in UTF-8 and take these properties out.",
                name,
            )
        ]
        if odd
        else []
    )


def _own_schema(package, name):
    """Whether the travelling schema reads the table as the schema does that the package says it follows."""
    own, path = package.own_schema(name), package.schema_path(name)
    if not own:
        return [
            _finding(
                "package.schema",
                path,
                f"The table {name} has no schema of its own that can be read at {path}.",
                "Save any change with palea, which writes it.",
                name,
            )
        ]
    ours = travel.table_schema(name, _present(package))
    if package.schema_version != schema.version() or _reads(own, name) == _reads(ours, name):
        return []
    return [
        _finding(
            "package.schema",
            path,
            f"{path} does not describe {name} as schema {schema.version()} does.",
            "Save any change with palea, which writes it anew; columns of your own come after ours.",
            name,
        )
    ]


def _present(package):
    return [n for n in package.names if n in package.resources]


def _reads(table_schema, name):
    """A table schema without its texts and without fields of the package's own: what decides how a table is read."""
    fields = table_schema.get("fields")
    if not isinstance(fields, list):
        return None
    known = fields[: len(schema.table(name).fields)]
    rest = [f.get("name") if isinstance(f, dict) else f for f in fields[len(known) :]]
    wrong = [n for n in rest if not isinstance(n, str) or n in schema.table(name).fields or rest.count(n) > 1]
    return {**_without_texts(table_schema), "fields": [_without_texts(f) for f in known]}, wrong


def _without_texts(described):
    if not isinstance(described, dict):
        return described
    return {k: v for k, v in described.items() if k not in ("title", "description") or not isinstance(v, str)}


def _unlisted(package):
    """Tables that lie beside the others but are not listed, so nobody reads them."""
    names = (n for n in schema.tables() if n not in package.resources and package.file(f"data/{n}.csv").is_file())
    return [
        _finding(
            "package.file-unlisted",
            f"data/{n}.csv",
            f"data/{n}.csv is not listed in {descriptor.NAME}, so it was not read.",
            "List it as a resource, or take it away.",
            n,
            "warning",
        )
        for n in names
        if n != "journal"
    ]


def _finding(rule, value, message, remedy, table="", severity="error"):
    return Finding(rule, severity, table, None, "", value, message, remedy)
