"""Writing: one transaction over tables, descriptor, journal and further files; or nothing."""

from collections import Counter

import pandas as pd

from palea import schema
from palea.errors import ChangedOutside, EntryError, PackageError
from palea.tables import contents, descriptor, differences, journal, transaction, validate
from palea.tables.opening import open_package
from palea.tables.package import Package
from palea.tables.sheet import TEXT


def save(package, stamp, reason, *, words="", as_typed=None, files=None, remove=()):
    """Write what was changed, with a line in the journal for each change -> the package, opened anew.

    stamp : Stamp, who and when.
    reason : a word of the list that the journal's column `reason` names.  words : why, in words.
    as_typed : {column: what was typed}, a text or {"value", "unit", "factor"}, for values that were converted.
    files : {relative path: bytes} of further files to write in the same transaction.
    remove : relative paths of further files to take away.

    Raises ChangedOutside (with `differences`) when a file is no longer what was read, EntryError (with `findings`)
    when the change would bring in a fault of structure, PackageError for a zip, a damaged table or a folder that
    cannot be written. In all these cases nothing is written. With nothing to save, nothing is written either.
    """
    _check_writable(package)
    _check_reason(reason)
    _check_files(package, files or {}, remove)
    _check_structure(package)
    with transaction.locked(package.folder):
        transaction.settle(package.folder)
        on_disk = descriptor.read(package.folder)
        _check_unchanged(package, on_disk)
        entries = [e for name in package.edited for e in _entries(package, name, stamp, reason, words, as_typed)]
        if entries or files or remove or package.described:
            _commit(package, on_disk, entries, dict(files or {}), remove)
    return open_package(package.folder)


def adopt(package, stamp, words):
    """Take over tables that were changed outside palea since the last save -> the package, opened anew.

    words : why they were changed; must say something. Each table gets a line in the journal with both its hashes.
    """
    _check_writable(package)
    if not words.strip():
        msg = "Say in words why the files were changed outside; the journal keeps it."
        raise PackageError(msg)
    with transaction.locked(package.folder):
        transaction.settle(package.folder)
        package = Package(package.folder, package.source, descriptor.read(package.folder))
        foreign = [name for name in package.names if _is_foreign(package, name)]
        entries = [_adoption(package, name, stamp, words) for name in foreign]
        resources = {name: _restated(package, name) for name in foreign}
        if foreign:
            _write(package, package.descriptor, entries, {}, resources)
    return open_package(package.folder)


def changed_outside(package):
    """Tables whose file is not the one that palea wrote last, by the hash in the descriptor."""
    return [name for name in package.names if _is_foreign(package, name)]


def _check_writable(package):
    if package.read_only:
        msg = (
            f"{package.source} is a zip and stays as it was shared. Unpack it into a folder and open that to change it."
        )
        raise PackageError(msg)
    if package.schema_version != schema.version():
        msg = (
            f"This package follows schema {package.schema_version or '(not said)'}, this palea writes "
            f"{schema.version()}. Nothing was written; upgrade a copy first."
        )
        raise PackageError(msg)
    broken = [name for name in package.edited if package.stored(name).broken]
    if broken:
        first = package.stored(broken[0]).findings[0]
        msg = (
            f"{package.table_path(broken[0])} cannot be rewritten without losing something: {first.message} "
            f"{first.remedy} Nothing was written."
        )
        raise PackageError(msg)


def _check_reason(reason):
    schema.word(schema.table("journal")["reason"].vocabulary, reason)  # SchemaError with the nearest word


def _check_files(package, files, remove):
    """Further files lie safely inside, and are none of those that palea itself writes."""
    own = {descriptor.NAME, descriptor.JOURNAL, *(r.get("path") for r in package.descriptor["resources"])}
    for path in (*files, *remove):
        package.file(path)
        if path in own or path.split("/")[0] in ("schema", "data"):
            msg = f"“{path}” is written by palea itself. Choose another place, as in analyses/ or attachments/."
            raise PackageError(msg)


def _check_structure(package):
    """No fault of structure may come in by our own hand; those that stood there before may stay until they are
    mended.
    """
    if not package.edited:
        return
    touched = validate.touched(package)
    before = Counter(map(_fault, validate.tables(package.unchanged(), touched)))
    fresh = [f for f in validate.tables(package, touched) if f.severity == "error" and _is_new(f, before)]
    if fresh:
        msg = f"This cannot be kept: {fresh[0]}" + (f" And {len(fresh) - 1} more." if len(fresh) > 1 else "")
        raise EntryError(msg, fresh)


def _fault(finding):
    return finding.rule, finding.table, finding.field, finding.value, finding.message, finding.count


def _is_new(finding, before):
    """Whether there are more of this fault than before; counts each one off."""
    before[_fault(finding)] -= 1
    return before[_fault(finding)] < 0


def _check_unchanged(package, on_disk):
    """Every file that is about to be written over is the one that was read, and the one that palea wrote last."""
    for name in package.edited:
        path = package.file(package.table_path(name))
        stored = package.stored(name)
        now = Package(package.folder, package.source, on_disk).stored(name)
        if now.sha256 != stored.sha256:
            found = differences.of_table(
                stored.table, *(pd.concat([s.frame, s.extra], axis=1) for s in (stored, now))
            ).to_dict("records")
            msg = (
                f"{path.name} was changed by another program since it was read ({_told(found)}). "
                "Nothing was written; open the package again and make your change there."
            )
            raise ChangedOutside(msg, found)
        if _is_foreign(package, name):
            msg = (
                f"{path.name} was changed outside palea since it was last saved. Nothing was written; "
                "look at it, then adopt it with a reason (saving.adopt)."
            )
            raise ChangedOutside(msg)
    _check_journal(package.folder, on_disk)


def _told(found):
    if not found:
        return "in its layout only"
    first = found[0]
    what = (
        f"row {first['key']}"
        + (f", {first['column']}" if isinstance(first["column"], str) else "")
        + f" {first['kind']}"
    )
    return what + (f", and {len(found) - 1} more" if len(found) > 1 else "")


def _check_journal(folder, on_disk):
    """A journal that lost its end must not be written on: the new last line would hide the cut."""
    lines = journal.raw_lines(folder)
    facts = descriptor.own_facts(on_disk)
    if facts.get("journal_lines", 0) != len(lines) or (
        lines and facts.get("journal_hash") != journal.digest(lines[-1])
    ):
        msg = (
            f"{descriptor.JOURNAL} is not the one that palea wrote last. Nothing was written; "
            "put it back from a copy (`palea history --verify` says where it differs)."
        )
        raise ChangedOutside(msg)


def _is_foreign(package, name):
    """Whether the descriptor states another hash than the file on disk has. One that states none is believed."""
    stated = package.resources.get(name, {}).get("hash")
    return bool(stated) and stated != f"sha256:{package.stored(name).sha256}"


def _entries(package, name, stamp, reason, words, as_typed):
    """Journal entries of one table."""
    table = schema.table(name)
    old, new = (differences.whole(sheet) for sheet in (package.stored(name), package.sheet(name)))
    found = differences.of_table(table, old, new)
    added = found[found["kind"].eq("added")]
    keys = pd.Series(differences.keys_of(table, new), dtype=TEXT)
    return journal.entries(table, found, new[keys.isin(added["key"])], stamp, reason, words=words, as_typed=as_typed)


def _commit(package, on_disk, entries, files, remove):
    tables, resources = contents.table_files(package, list(package.edited))
    described = {k: v for k, v in {**on_disk, **package.described}.items() if v is not None}
    _write(package, described, entries, {**tables, **files}, resources, remove)


def _write(package, described, entries, files, resources, remove=()):
    """One commit: tables first, descriptor last; files that would not change are left alone."""
    lines, facts = journal.appended(package.folder, entries)
    resources = {**resources, "journal": descriptor.journal_resource(lines)}
    files = {**files, descriptor.JOURNAL: lines}
    files[descriptor.NAME] = descriptor.text(descriptor.with_resources(described, resources, **facts))
    fresh = {path: data for path, data in files.items() if not _holds(package.file(path), data)}
    transaction.commit(package.folder, fresh, remove)


def _holds(path, data):
    return path.is_file() and path.stat().st_size == len(data) and path.read_bytes() == data


def _adoption(package, name, stamp, words):
    stated, found = package.resources[name]["hash"], f"sha256:{package.stored(name).sha256}"
    return {
        "when": stamp.when,
        "who": stamp.who,
        "kind": "changed",
        "table": name,
        "row": "[]",
        "old": stated,
        "new": found,
        "reason": "adopted from outside",
        "words": words,
    }


def _restated(package, name):
    """The resource of a table with size and hash of its file as it is now."""
    data = package.file(package.table_path(name)).read_bytes()
    return {**descriptor.thaw(package.resources[name]), **descriptor.file_facts(data)}
