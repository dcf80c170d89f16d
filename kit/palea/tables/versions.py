"""Which version of the schema a package follows, against the one that this palea has."""

import re

from palea import schema
from palea.tables.paths import printable

_VERSION = re.compile(r"(\d{1,6})\.(\d{1,6})\.(\d{1,6})", re.ASCII)
SAME, OLDER, NEWER, UNSAID = "same", "older", "newer", "unsaid"


def ordered(version):
    """A version as three numbers that can be compared; None where it is no version.

    >>> ordered("0.10.0") > ordered("0.9.1"), ordered("latest")
    (True, None)
    """
    found = _VERSION.fullmatch(version)
    return tuple(map(int, found.groups())) if found else None


def age(package):
    """How the schema of a package stands to ours: SAME, OLDER, NEWER, or UNSAID where it says no version."""
    if package.schema_version == schema.version():
        return SAME
    theirs, ours = ordered(package.schema_version), ordered(schema.version())
    if theirs in (None, ours):
        return UNSAID
    return OLDER if theirs < ours else NEWER


def sentences(package):
    """(what is so, what to do next) about a package whose schema is not ours."""
    theirs = printable(package.schema_version) or "(not said)"
    follows = f"The package follows schema {theirs}, not {schema.version()}"
    remedies = {
        OLDER: (
            f"{follows}, which is later.",
            "`palea upgrade PACKAGE --to FOLDER` brings a copy to the present schema and tells every change.",
        ),
        NEWER: (
            f"{follows}: it was written by a later palea, whose columns and words are not known here.",
            "Install that palea, or a later one, to read it.",
        ),
        UNSAID: (f"{follows}.", "Write the version of its schema into schemaVersion of datapackage.json."),
    }
    return remedies[age(package)]
