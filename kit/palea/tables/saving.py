"""Writing: one transaction over tables, descriptor, journal and further files; or nothing."""

from collections import Counter
from dataclasses import replace

from palea import schema
from palea.errors import ChangedOutside, EntryError, PackageError
from palea.tables import (
    contents,
    descriptor,
    differences,
    journal,
    kept,
    merging,
    outside,
    telling,
    transaction,
    validate,
    versions,
)
from palea.tables.opening import open_package
from palea.tables.package import Package

ADOPTED = "adopted from outside"
SHOWN = 5  # differences that a refusal tells; it carries them all


def save(package, stamp, reason, *, words="", as_typed=None, files=None, remove=()):
    """Write what was changed, with a line in the journal for each change -> the package, opened anew.

    stamp : Stamp, who and when.
    reason : a word of the list that the journal's column `reason` names.  words : why, in words.
    as_typed : {column: what was typed}, a text or {"value", "unit", "factor"}, for values that were converted.
    files : {relative path: bytes} of further files to write in the same transaction.
    remove : relative paths of further files to take away.

    Raises ChangedOutside (with `differences`) when a file is no longer what was read, EntryError (with `findings`)
    when the change would bring in a fault of structure, PackageError for a zip, a damaged table or a folder that
    cannot be written. In all these cases nothing is written, and `package` holds what was to be saved: `merging.on_top` puts
    it on the state that is on disk now. With nothing to save, nothing is written either.
    """
    _check_writable(package)
    _check_reason(reason)
    _check_files(package, files or {}, remove)
    _check_structure(package)
    told = {"stamp": stamp, "reason": reason, "words": words, "as_typed": as_typed}
    _write_all(package, told, _prepared(package, told), dict(files or {}), remove)
    return open_package(package.folder)


def _prepared(package, told):
    """Journal entries, bytes by path and resources by name of what was changed: made before the lock is taken."""
    entries = [entry for name in package.edited for entry in _entries(package, name, **told)]
    return entries, *contents.table_files(package, list(package.edited))


def _write_all(package, told, prepared, files, remove):
    """The part of a save that holds the lock: compare, write, flush, rename."""
    with transaction.locked(package.folder):
        transaction.settle(package.folder)
        on_disk = descriptor.read(package.folder)
        _check_unchanged(package, on_disk)
        now = _beside_others(package, on_disk)
        entries, tables, resources = prepared if now.names == package.names else _prepared(now, told)
        if entries or files or remove or package.described:
            described = {k: v for k, v in now.descriptor.items() if v is not None}
            _write(now, described, entries, {**tables, **files}, resources, remove)
            kept.keep(now.folder, {r["path"]: tables[r["path"]] for r in resources.values() if r["path"] in tables})


def adopt(package, stamp, words="", *, reason=ADOPTED):
    """Take over tables that were changed outside palea since the last save -> the package, opened anew.

    words : why they were changed.  reason : a word of the list that the journal's column `reason` names. One of the
    two must say something. Each table gets a line in the journal with both its hashes, and, where the state before is
    at hand, a line for each changed cell and row.
    """
    _check_writable(package)
    _check_reason(reason)
    if not words.strip() and reason == ADOPTED:
        msg = "Say in words why the files were changed outside; the journal keeps it."
        raise PackageError(msg)
    with transaction.locked(package.folder):
        transaction.settle(package.folder)
        package = Package(package.folder, package.source, descriptor.read(package.folder))
        _check_journal(package.folder, package.descriptor)
        foreign = outside.changed(package)
        entries = [entry for one in foreign for entry in _adoption(package, one, stamp, reason, words)]
        data = {one.table: package.file(one.path).read_bytes() for one in foreign}
        if foreign:
            _write(package, package.descriptor, entries, {}, {n: _restated(package, n, d) for n, d in data.items()})
            kept.keep(package.folder, {one.path: data[one.table] for one in foreign})
    return open_package(package.folder)


def changed_outside(package):
    """Tables whose file is not the one that palea wrote last, by the hash in the descriptor."""
    return [name for name in package.resources if name != "journal" and outside.is_foreign(package, name)]


def _check_writable(package):
    if package.read_only:
        msg = (
            f"{package.source} is a zip and stays as it was shared. Unpack it into a folder and open that to change it."
        )
        raise PackageError(msg)
    if package.schema_version != schema.version():
        raise PackageError(" ".join((*versions.sentences(package), "Nothing was written.")))
    summed = [name for name in package.edited if not package.stored(name).whole]
    if summed:
        msg = (
            f"{package.table_path(summed[0])} is too long to be edited here: only its days were read. Nothing was "
            "written; change the file with the program that wrote it, then `palea adopt` it."
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
    now = Package(package.folder, package.source, on_disk)
    for name in package.edited:
        path, stored = package.file(package.table_path(name)), package.stored(name)
        found = now.file_hash(name)
        if (found or "sha256:") != f"sha256:{stored.sha256}":
            _refuse_overtaken(path.name, merging.theirs(package, now, name))
        if outside.is_foreign(now, name, found):
            told = outside.of(now, name).differences
            msg = (
                f"{path.name} was changed outside palea since it was last saved{_told(told)} Nothing was written; "
                "look at it, then adopt it with a reason (`palea adopt`)."
            )
            raise ChangedOutside(msg, () if told is None else told.to_dict("records"))
    _check_journal(package.folder, on_disk)


def _beside_others(package, on_disk):
    """The package with the descriptor that is on disk, whose structure holds with what others saved meanwhile."""
    now = replace(package, descriptor=descriptor.freeze({**on_disk, **package.described}))
    others = [n for n in now.names if n not in package.edited and _stated(package, n) != _stated(now, n)]
    if others and package.edited:
        now = replace(now, _read={n: package.stored(n) for n in package.edited})
        _check_structure(now)
    return now


def _stated(package, name):
    return package.resources.get(name, {}).get("hash")


def _refuse_overtaken(file, theirs):
    msg = (
        f"{file} was changed by another program since it was read{_told(theirs)} Nothing was written, and your change "
        "is as it was: open the package again and make it there, or put it on top of the new state (merging.on_top)."
    )
    raise ChangedOutside(msg, theirs.to_dict("records"))


def _told(found):
    """Differences within a sentence: how many, and the first of them."""
    if found is None:
        return "."
    if not len(found):
        return ", in its layout only."
    return f": {telling.tally(found)}. {' '.join(telling.sentences(found, SHOWN))}"


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


def _entries(package, name, stamp, reason, words, as_typed):
    """Journal entries of one table."""
    sheets = package.stored(name), package.sheet(name)
    return _journalled(schema.table(name), *sheets, stamp, reason, words=words, as_typed=as_typed)


def _journalled(table, old, new, stamp, reason, **told):
    """Journal entries of all that differs between two sheets of a table."""
    changed, gone, added = differences.parts(table, *map(differences.whole, (old, new)))
    return journal.entries(table, differences.together(table, changed, gone), added, stamp, reason, **told)


def _write(package, described, entries, files, resources, remove=()):
    """One commit: tables first, descriptor last; files that would not change are left alone."""
    lines, facts = journal.appended(package.folder, entries)
    resources = {**resources, "journal": descriptor.journal_resource(lines)}
    files = {**files, descriptor.JOURNAL: lines}
    files[descriptor.NAME] = descriptor.text(descriptor.with_resources(described, resources, **facts))
    fresh = {path: data for path, data in files.items() if not _holds(package.file(path), data)}
    hashes = {r["path"]: r["hash"].removeprefix("sha256:") for r in resources.values()}
    transaction.commit(package.folder, fresh, remove, hashes)


def _holds(path, data):
    return path.is_file() and path.stat().st_size == len(data) and path.read_bytes() == data


def _adoption(package, one, stamp, reason, words):
    """Journal entries for one table that was changed outside: each change, then the line that tells the hashes."""
    if one.before is not None:
        sheets = one.before, package.stored(one.table)
        yield from _journalled(schema.table(one.table), *sheets, stamp, reason, words=words)
    yield {
        "when": stamp.when,
        "who": stamp.who,
        "kind": "changed",
        "table": one.table,
        "row": "[]",
        "old": one.stated,
        "new": one.found,
        "reason": reason,
        "words": words or None,
    }


def _restated(package, name, data):
    """The resource of a table with size and hash of its file as it is now."""
    return {**descriptor.thaw(package.resources[name]), **descriptor.file_facts(data)}
