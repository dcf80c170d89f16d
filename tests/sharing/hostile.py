"""Builders of hostile archives and files, each with the sentence that it has to come to.

Threats: OWASP on path traversal, zip slip and formulas in CSV files (CWE-22, CWE-409, CWE-1236); overlapping files in a
zip as in Fifield, "A better zip bomb" (USENIX WOOT 2019); what two readers of one zip or one JSON text understand
differently; and what was seen to get past the reference validator of the Data Package standard.
"""

import json
import os
import shutil
import stat
import struct
import zipfile
from io import BytesIO

PLAIN = b'{"name": "x", "resources": []}'
DESCRIPTOR = "datapackage.json"


def written(place, entries, method=zipfile.ZIP_DEFLATED, name="sent.zip"):
    """A zip of {name or ZipInfo: bytes} at place/name."""
    path = place / name
    with zipfile.ZipFile(path, "w", method) as archive:
        for entry, data in entries if isinstance(entries, list) else entries.items():
            archive.writestr(entry, data)
    return path


def with_entry(name, data=b"x", **facts):
    """A builder of a zip with a sound descriptor and one entry of that name; facts : attributes of its ZipInfo."""

    def build(_, place):
        info = zipfile.ZipInfo("x")
        info.filename = info.orig_filename = name
        for fact, value in facts.items():
            setattr(info, fact, value)
        return written(place, [(DESCRIPTOR, PLAIN), (info, data)])

    return build


def patched(change, entries=None, method=zipfile.ZIP_STORED):
    """A builder of a zip whose bytes `change` (bytearray -> bytes) spoils."""

    def build(_, place):
        path = written(place, entries or {DESCRIPTOR: PLAIN, "data/a.csv": b"a,b\n1,2\n" * 20}, method)
        path.write_bytes(bytes(change(bytearray(path.read_bytes()))))
        return path

    return build


def at(data, signature, nth, offset, value):
    """Put bytes at an offset into the nth header with that signature."""
    start = -1
    for _ in range(nth):
        start = data.index(signature, start + 1)
    data[start + offset : start + offset + len(value)] = value
    return data


LOCAL, CENTRAL, END = b"PK\x03\x04", b"PK\x01\x02", b"PK\x05\x06"


def encrypted(data):
    """Both flags of the first file say that it has a password."""
    return at(at(data, LOCAL, 1, 6, b"\x01"), CENTRAL, 1, 8, b"\x01")


def other_name_before(data):
    """The name before the file is not the one in the list."""
    return at(data, LOCAL, 2, 30, b"data/b.csv")


def other_size_before(data):
    """The size before the file is not the one in the list."""
    return at(data, LOCAL, 2, 22, struct.pack("<L", 7))


def shorter_in_list(data):
    """The list says that the file is shorter, before it and in the list."""
    return at(at(data, LOCAL, 2, 22, struct.pack("<L", 7)), CENTRAL, 2, 24, struct.pack("<L", 7))


def spoilt(data):
    """A byte of the content changed, its check sum left."""
    place = data.index(b"a,b\n1,2")
    data[place] ^= 1
    return data


def two_lists(data):
    """Another archive before the one that is read: a program that reads from the front sees that one."""
    return data + data


def method_99(data):
    """A kind of compression that nobody has."""
    return at(at(data, LOCAL, 2, 8, b"\x63\x00"), CENTRAL, 2, 10, b"\x63\x00")


def away(data):
    """The list leads beyond the end of the file."""
    return at(data, CENTRAL, 2, 42, struct.pack("<L", 0x7FFFFFFF))


def overlapping(_, place):
    """A file that lies inside another one, and is listed beside it."""
    inner = BytesIO()
    with zipfile.ZipFile(inner, "w") as archive:
        archive.writestr("data/b.csv", b"a,b\n" * 30)
    body = inner.getvalue()[: inner.getvalue().index(CENTRAL)]
    path = written(place, {DESCRIPTOR: PLAIN, "data/a.csv": body, "data/b.csv": b"a,b\n" * 30}, zipfile.ZIP_STORED)
    data = bytearray(path.read_bytes())
    inside = data.index(body)
    path.write_bytes(bytes(at(data, CENTRAL, 3, 42, struct.pack("<L", inside))))
    return path


def bad_lzma(_, place):
    """A file said to be packed by LZMA, whose bytes are not."""
    path = written(place, {DESCRIPTOR: PLAIN, "data/a.csv": b"a,b\n1,2\n" * 40}, zipfile.ZIP_LZMA)
    data = bytearray(path.read_bytes())
    second = data.index(LOCAL, 4)
    data[second + 30 + 10 + 4 : second + 30 + 10 + 12] = b"\xff" * 8
    path.write_bytes(bytes(data))
    return path


def many_bombs(_, place):
    """Each below the limit of one file, all together far above that of the zip."""
    zeros = b"0" * 1024**2
    return written(place, {DESCRIPTOR: PLAIN, **{f"data/{n}.csv": zeros for n in range(80)}})


def too_many(_, place):
    """More files than palea unpacks."""
    return written(place, {DESCRIPTOR: PLAIN, **{f"files/{n}": b"" for n in range(10_001)}}, zipfile.ZIP_STORED)


def raw(data, name="sent.zip"):
    """A builder of a file of these bytes."""

    def build(_, place):
        (place / name).write_bytes(data)
        return place / name

    return build


def pipe_for_a_zip(_, place):
    """A pipe in place of the archive: whoever opens it waits for ever."""
    os.mkfifo(place / "sent.zip")
    return place / "sent.zip"


LINK, DEVICE, PIPE = ((kind | 0o644) << 16 for kind in (stat.S_IFLNK, stat.S_IFCHR, stat.S_IFIFO))

# name: (builder, what the sentence says)
ARCHIVES = {
    "bomb by ratio": (lambda _, place: written(place, {DESCRIPTOR: PLAIN, "a.csv": b"0" * 8_000_000}), "250 times its size"),
    "many small bombs": (many_bombs, "250 times its size"),
    "too many files": (too_many, "palea unpacks 10000 at most"),
    "out by ..": (with_entry("../outside/kept.txt"), "climbs out"),
    "out by .. further in": (with_entry("data/../../outside/kept.txt"), "climbs out"),
    "absolute": (with_entry("/etc/cron.d/x"), "does not start in the package"),
    "drive letter": (with_entry("C:/x.csv"), "to a drive"),
    "backslash": (with_entry("..\\outside\\kept.txt"), "backslash"),
    "NUL in a name": (with_entry("data/a.csv\0.png"), "cannot be printed"),
    "name that turns around": (with_entry("data/a\u202evsc.exe"), "cannot be printed"),
    "name too long": (with_entry("data/" + "a" * 3000), "longer than 400"),
    "hidden file": (with_entry(".git/config"), "is hidden"),
    "half-made save": (with_entry(".palea-save/commit.json", b"{}"), "is hidden"),
    "device name": (with_entry("data/con.csv"), "name of a device"),
    "link": (with_entry("data/taxa.csv", b"/etc/passwd", external_attr=LINK), "a link or a device"),
    "device": (with_entry("data/taxa.csv", b"", external_attr=DEVICE), "a link or a device"),
    "pipe": (with_entry("data/taxa.csv", b"", external_attr=PIPE), "a link or a device"),
    "same name twice": (lambda _, place: written(place, [(DESCRIPTOR, PLAIN), ("a", b"1"), ("a", b"2")]), "twice"),
    "names that differ in case": (lambda _, place: written(place, {DESCRIPTOR: PLAIN, "DataPackage.JSON": b"{}"}), "twice"),
    "names that differ in accents": (lambda _, place: written(place, {DESCRIPTOR: PLAIN, "\u00e9": b"", "e\u0301": b""}), "twice"),
    "file that is a folder too": (lambda _, place: written(place, {DESCRIPTOR: PLAIN, "data": b"", "data/a": b""}), "also a file"),
    "password": (patched(encrypted), "under a password"),
    "cut in the middle": (patched(lambda data: data[: len(data) // 2]), "cannot be unpacked"),
    "wrong check sum": (patched(spoilt), "cannot be unpacked: Bad CRC-32"),
    "files that overlap": (overlapping, "in the same bytes"),
    "another name before the file": (patched(other_name_before), "two different things"),
    "another size before the file": (patched(other_size_before), "two different things"),
    "longer than the list says": (patched(shorter_in_list), "cannot be unpacked"),
    "two archives in one file": (patched(two_lists), "that its list of contents does not name"),
    "unknown compression": (patched(method_99), "cannot be unpacked"),
    "script before the archive": (patched(lambda data: b"#!/bin/sh\n" + data), "10 bytes before"),
    "spoilt compression": (bad_lzma, "cannot be unpacked"),
    "list that leads away": (patched(away), "where there is no file"),
    "no zip at all": (raw(b"<html>not found</html>"), "cannot be unpacked"),
    "empty file": (raw(b""), "cannot be unpacked"),
    "pipe for a zip": (pipe_for_a_zip, "no file"),
    "two packages": (lambda _, place: written(place, {f"{n}/{DESCRIPTOR}": PLAIN for n in "ab"}), "more than one package"),
}


def whole(more=(), method=zipfile.ZIP_DEFLATED):
    """A builder of a zip of the sound folder with further entries."""

    def build(sound, place):
        files = {path.relative_to(sound).as_posix(): path.read_bytes() for path in sorted(sound.rglob("*")) if path.is_file()}
        return written(place, files | dict(more), method)

    return build


class Pipe(BytesIO):
    """A sink that cannot go back, as a pipe to a server: sizes then stand behind each file."""

    def seekable(self):
        return False

    def seek(self, *_):
        raise OSError


def streamed(sound, place):
    """A sound zip whose sizes and check sums follow the files."""
    sink = Pipe()
    with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(p for p in sound.rglob("*") if p.is_file() and not p.relative_to(sound).parts[0].startswith(".")):
            archive.write(path, path.relative_to(sound).as_posix())
    (place / "sent.zip").write_bytes(sink.getvalue())
    return place / "sent.zip"


def _bomb():
    inner = BytesIO()
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("bomb.csv", b"0" * 20_000_000)
    return inner.getvalue()


HARMLESS = {
    "sizes behind the files": streamed,
    "bomb within": whole({"files/inner.zip": _bomb()}),
    "packed otherwise": whole(method=zipfile.ZIP_BZIP2),
    "our own copies within": whole({".palea-kept/data%2Fcounts.csv": b"forged"}),
    "folder above": lambda sound, place: shutil.make_archive(str(place / "sent"), "zip", sound.parent, sound.name)
                                         and place / "sent.zip",
}  # fmt: skip


def in_folder(change):
    """A builder of a folder: a copy of the sound one that `change` (folder, outside) spoils."""

    def build(sound, place):
        folder = shutil.copytree(sound, place / "sent")
        change(folder, place.parent / "outside")
        return folder

    return build


def resource(**facts):
    """A builder of a folder whose descriptor says this of the table lots."""

    def change(folder, outside):
        told = {k: v.format(outside=outside) if isinstance(v, str) else v for k, v in facts.items()}
        _edit(folder, lambda read: next(r for r in read["resources"] if r["name"] == "lots").update(told))

    return in_folder(change)


def _edit(folder, change):
    path = folder / DESCRIPTOR
    read = json.loads(path.read_text(encoding="utf-8"))
    change(read)
    path.write_text(json.dumps(read), encoding="utf-8")


def descriptor(before, after):
    """A builder of a folder whose descriptor has this text in place of that one."""

    def change(folder, _):
        text = (folder / DESCRIPTOR).read_text(encoding="utf-8")
        assert before in text
        (folder / DESCRIPTOR).write_text(text.replace(before, after, 1), encoding="utf-8")

    return in_folder(change)


def linked(relative, to):
    """A builder of a folder in which a file or folder is a link to something outside."""

    def change(folder, outside):
        path = folder / relative
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)
        path.parent.mkdir(exist_ok=True)
        path.symlink_to(outside / to if to else outside)

    return in_folder(change)


def _staged(folder, outside):
    (folder / ".palea-save").symlink_to(outside)


def _half_saved(folder, _):
    (folder / ".palea-save").mkdir()
    record = {"files": [{"path": "../outside/kept.txt", "new": "0", "sha256": "0"}], "removed": ["../outside/kept.txt"]}
    (folder / ".palea-save" / "commit.json").write_text(json.dumps(record), encoding="utf-8")


def _lock_outside(folder, outside):
    (folder / ".palea-save").mkdir()
    (folder / ".palea-lock").symlink_to(outside / "kept.txt")


def _pipe_descriptor(folder, _):
    (folder / DESCRIPTOR).unlink()
    os.mkfifo(folder / DESCRIPTOR)


TITLE = '"title": "Small trial (invented)"'
# name: (builder, what the sentence says)
FOLDERS = {
    "table at an address": (resource(path="https://example.org/lots.csv"), "points to the network"),
    "table by file address": (resource(path="file:///etc/passwd"), "points to the network or to a drive"),
    "table outside": (resource(path="{outside}/kept.txt"), "does not start in the package"),
    "table by ..": (resource(path="../../outside/kept.txt"), "climbs out"),
    "table in several files": (resource(path=["data/lots.csv", "http://example.org/more.csv"]), "points to the network"),
    "table without a path": (resource(path={"$ref": "x"}), "no text"),
    "table description at an address": (resource(schema="http://example.org/lots.json"), "points to the network"),
    "dialect at an address": (resource(dialect="http://example.org/dialect.json"), "points to the network"),
    "table in a compressed file": (resource(compression="gz"), "palea reads plain files"),
    "deep JSON": (in_folder(lambda folder, _: (folder / DESCRIPTOR).write_text("[" * 200_000)), "nested too deep"),
    "large JSON": (in_folder(lambda folder, _: (folder / DESCRIPTOR).write_text(" " * 9_000_000)), "at most"),
    "name twice in JSON": (descriptor(TITLE, f'{TITLE}, "title": "Another"'), "it says “title” twice"),
    "number beyond all bounds": (descriptor(TITLE, f'{TITLE}, "x": 1e999'), "larger than any number"),
    "number of 5000 figures": (descriptor(TITLE, f'{TITLE}, "x": {"9" * 5000}'), "cannot be read as JSON"),
    "no number": (descriptor(TITLE, f'{TITLE}, "x": NaN'), "NaN is no number"),
    "half a character": (descriptor(TITLE, '"title": "\\ud800"'), "half a character"),
    "no JSON": (in_folder(lambda folder, _: (folder / DESCRIPTOR).write_bytes(b"\xff\xfe\0{")), "cannot be read as JSON"),
    "data folder is a link": (linked("data", ""), "goes through a link"),
    "table is a link": (linked("data/lots.csv", "kept.txt"), "goes through a link"),
    "descriptor is a link": (linked(DESCRIPTOR, "kept.txt"), "goes through a link"),
    "journal is a link": (linked("journal.jsonl", "kept.txt"), "goes through a link"),
    "folder of a save is a link": (in_folder(_staged), "is a link"),
    "half-made save that writes outside": (in_folder(_half_saved), "climbs out"),
    "lock that is a link": (in_folder(_lock_outside), "cannot be written"),
    "descriptor is a pipe": (in_folder(_pipe_descriptor), f"There is no {DESCRIPTOR}"),
}


def table(name, change):
    """A builder of a folder in which the bytes of one table are changed."""

    def build(folder, _):
        path = folder / f"data/{name}.csv"
        path.write_bytes(change(path.read_bytes()))

    return in_folder(build)


def _pipe_table(folder, _):
    (folder / "data/lots.csv").unlink()
    os.mkfifo(folder / "data/lots.csv")


def _folder_table(folder, _):
    (folder / "data/lots.csv").unlink()
    (folder / "data/lots.csv").mkdir()


def _one_file_twice(folder, _):
    _edit(folder, lambda read: next(r for r in read["resources"] if r["name"] == "lots").update(path="data/taxa.csv"))


def _notes(text):
    """The first treatment has this label."""
    return table("treatments", lambda data: data.replace(b"in the hull", text, 1))


MANY_COLUMNS = b"," + b",".join(b"c%d" % n for n in range(3_000)) + b"\n"

# name: (builder, what a finding of the check says); they open
FILES = {
    "NUL in a cell": (_notes(b"in\0the hull"), "no clean UTF-8"),
    "cell of 10 MB": (_notes(b"x" * 10_000_000), "holds 10000000 characters"),
    "formula": (_notes(b"=HYPERLINK(A1)"), "is not the one that|was changed|hash"),
    "no UTF-8": (_notes(b"in the h\xfcll"), "UTF-8|Latin"),
    "quotation mark that is never closed": (_notes(b'"in the hull'), "is not in the table treatments"),
    "huge number": (table("units", lambda data: data.replace(b",25,", b"," + b"9" * 4000 + b",", 1)), "too large"),
    "number without end": (table("units", lambda data: data.replace(b",25,", b",1e999,", 1)), "number"),
    "header twice": (table("lots", lambda data: data.replace(b"\n", b",lot_id\n", 1)), "lot_id"),
    "three thousand columns": (table("lots", lambda data: data.replace(b"\n", MANY_COLUMNS, 1)), "column"),
    "table is a pipe": (in_folder(_pipe_table), "lots.csv"),
    "table is a folder": (in_folder(_folder_table), "lots.csv"),
    "two tables in one file": (in_folder(_one_file_twice), "lots"),
}  # fmt: skip

# what a row of analyses says: what the rerun answers
ANALYSES = {
    "list": ({"options": "[1]"}, "are no JSON object"),
    "deep": ({"options": "[" * 5_000}, "No number of it was published"),
    "clash": ({"options": '{"package": 1, "version": 2, "recipe_id": 3}'}, "takes no option “package”"),
    "text": ({"options": '{"confidence": "rm -rf"}'}, "is no float"),
    "beyond": ({"options": '{"confidence": 7}'}, "is outside"),
    "reads": ({"reads": "[1]"}, "are no JSON object"),
    "version": ({"version": "9" * 4500}, "is no whole number"),
    "path": ({"recipe": "../../outside/kept"}, "There is no recipe"),
    "trial": ({"trial_id": "../G1"}, "There is no trial"),
}

MARKUP = (
    '<script>fetch("//example.org")</script><img src=x onerror=alert(1)><a href="javascript:alert(1)">x</a>'
    " [y](javascript:alert(1))"
)
DRAWING = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="9" height="9" onload="alert(1)">'
    '<script>alert(1)</script><image xlink:href="http://example.org/x.png"/><a xlink:href="javascript:alert(1)"><text>x</text></a>'
    '<foreignObject><body xmlns="http://www.w3.org/1999/xhtml" onload="alert(1)"/></foreignObject>'
    '<rect style="background:url(http://example.org)" fill="url(http://example.org/x)" width="3" height="3"/></svg>'
)
NOTEBOOK = json.dumps({"nbformat": 4, "nbformat_minor": 5, "metadata": {}, "cells": [
    {"cell_type": "code", "metadata": {}, "outputs": [], "execution_count": None, "id": "a",
     "source": "import os; os.system('touch ' + os.path.expanduser('~/run'))"}]})  # fmt: skip
