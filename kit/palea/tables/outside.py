"""Files that another program changed since palea wrote them last: noticed by their hash, told row by row."""

from dataclasses import dataclass

import pandas as pd

from palea import schema
from palea.tables import differences, kept, reading
from palea.tables.sheet import Sheet


@dataclass(frozen=True, eq=False)
class Outside:
    """One table that was changed outside.

    table : name of the resource.  path : its file.  stated, found : hashes as the descriptor states and as it is now.
    before : Sheet as palea wrote it last; None where that state is not at hand, and for tables of the package's own.
    differences : frame as `palea.tables.differences.between` gives it; None where `before` is.
    """

    table: str
    path: str
    stated: str
    found: str
    before: Sheet | None
    differences: pd.DataFrame | None


def changed(package):
    """An Outside for each table whose file is not the one that palea wrote last, in the order of the descriptor."""
    return [of(package, name) for name in package.resources if name != "journal" and is_foreign(package, name)]


def is_foreign(package, name, found=None):
    """Whether the descriptor states another hash than the file has. One that states none, or has no file, is believed.

    found : the hash of the file, where it is known already.
    """
    stated = package.resources.get(name, {}).get("hash")
    if not stated:
        return False
    found = package.file_hash(name) if found is None else found
    return found not in ("", stated)


def of(package, name):
    """The Outside of one table that was changed outside."""
    resource = package.resources[name]
    before = _before(package, name)
    found = None
    if before is not None:
        sheets = before, package.stored(name)
        found = differences.of_table(before.table, *map(differences.whole, sheets))
    return Outside(name, resource["path"], resource["hash"], package.file_hash(name), before, found)


def _before(package, name):
    """The table as palea wrote it last, read from the copy that it kept."""
    resource = package.resources[name]
    data = kept.read(package.folder, resource["path"], resource["hash"]) if name in package.names else None
    own = [field["name"] for field in package.own_fields(name)] if data is not None else []
    return None if data is None else reading.read(data, schema.table(name), own)
