"""A photograph or another file kept beside the rows that it is about: copied in, hashed, captioned, in one transaction."""

import hashlib
import re
import unicodedata
from dataclasses import dataclass, field
from pathlib import Path

from palea import schema
from palea.bench import entry
from palea.bench.bare import without_metadata
from palea.bench.proposals import next_id
from palea.errors import PaleaError
from palea.tables import attachments, paths

FOLDER = "files"
TABLE = "attachments"
TAKEN = 0x9003  # tag of the moment at which a picture was taken (Exif 2.3, 4.6.5: DateTimeOriginal)
LONGEST_NAME = 80
# kinds of file by their first bytes; the name says the rest
BEGINNINGS = (
    (b"\x89PNG\r\n\x1a\n", "image/png"), (b"\xff\xd8\xff", "image/jpeg"), (b"II*\0", "image/tiff"), (b"MM\0*", "image/tiff"),
    (b"%PDF", "application/pdf"), (b"GIF8", "image/gif"),
)  # fmt: skip
BY_NAME = {
    ".svg": "image/svg+xml", ".csv": "text/csv", ".txt": "text/plain", ".md": "text/markdown", ".json": "application/json",
    ".html": "text/html", ".zip": "application/zip", ".pdf": "application/pdf",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", ".mp4": "video/mp4",
    ".docx": "application/vnd.openxmlformats-officedocument.wordprocessingml.document",
}  # fmt: skip
PICTURES = ("image/png", "image/jpeg", "image/tiff", "image/gif", "image/webp")
BARE = "application/octet-stream"


@dataclass(frozen=True)
class Attached:
    """A file that is to be kept.

    row : {column: value} of attachments.  files : {path in the package: bytes}, empty where the same content lies there
    already.  told : sentences, as that the picture says where it was taken.  proposal : the entry.
    """

    row: dict
    told: tuple
    proposal: entry.Proposal = field(repr=False)
    files: dict = field(repr=False, default_factory=dict)


def propose(package, path, *, about, shows, scale_bar_mm=None, licence="", taken_at="", taken_by="", may_share=None, bare=False):
    """The Attached of a file about a row. Nothing is written.

    about : "table:id" of a lot, run, test, coat check or another row.  shows : what is to be seen, for the caption.
    taken_at : when; "" for what the picture itself says.  may_share : None where nobody decided.
    bare : keep a copy of a JPEG or PNG without place, owner and camera; its pixels are the same.
    Raises PaleaError for a file that cannot be read, is too large or says nothing of what it shows, and for a row that is
    not there; EntryError (from `save`) for what the checks do not let in.
    """
    table, key = _row_about(package, about)
    if not shows.strip():
        msg = "Say what is to be seen in it: --shows, a line that can stand below it."
        raise PaleaError(msg)
    data = _bytes(Path(path).expanduser())
    taken_at = taken_at or _of_picture(data, kind_of(data, Path(path).name))
    data = without_metadata(data) if bare else data
    sha256 = hashlib.sha256(data).hexdigest()
    media_type = kind_of(data, Path(path).name)
    there, told = _same(package, sha256), []
    _refuse_twice(there, table, key)
    if there:
        told.append(f"The same content lies there already as {there[0]['path']}; it is not stored twice.")
    if attachments.has_position(data):
        told.append("The picture says where it was taken. It is kept as it is here; to share it, attach a bare copy (--bare).")
    row = {
        "attachment_id": next_id(package, TABLE, {"about_id": key}),
        "path": there[0]["path"] if there else _free(package, Path(path).name, media_type),
        "sha256": sha256, "media_type": media_type, "taken_at": taken_at, "taken_by": taken_by, "shows": shows.strip(),
        "scale_bar_mm": "" if scale_bar_mm is None else str(scale_bar_mm), "about_table": table, "about_id": key,
        "licence": licence, "may_share": "" if may_share is None else str(may_share),
    }  # fmt: skip
    row = {k: v for k, v in row.items() if v}
    files = {} if there else {row["path"]: data}
    return Attached(row, tuple(told), entry.propose(package, TABLE, [row]), files)


def save(attached, stamp, words=""):
    """Copy the file in and write its row, both or neither -> the Package, opened anew. Raises EntryError as entry.save."""
    return entry.save(attached.proposal, stamp, "entry", words, files=attached.files)


def kind_of(data, name):
    r"""Media type by the first bytes of a file, else by the ending of its name.

    >>> kind_of(b"\x89PNG\r\n\x1a\n...", "cut.jpg"), kind_of(b"a,b\n", "x.csv")
    ('image/png', 'text/csv')
    """
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "image/webp"
    return next((kind for start, kind in BEGINNINGS if data.startswith(start)), BY_NAME.get(Path(name).suffix.lower(), BARE))


def plain_name(name):
    """A file's name in letters, figures and dashes that every system takes.

    >>> plain_name("Köder (2) – innen.JPG"), plain_name("../../etc/passwd")
    ('koder-2-innen.jpg', 'passwd')
    """
    stem, ending = Path(name.replace("\\", "/")).stem, Path(name).suffix
    ascii_ = unicodedata.normalize("NFKD", stem).encode("ascii", "ignore").decode()
    safe = re.sub(r"[^a-z0-9]+", "-", ascii_.lower()).strip("-")[:LONGEST_NAME] or "file"
    safe += "-file" if paths.fault_of(safe) else ""  # the name of a device on some systems
    return safe + re.sub(r"[^a-z0-9.]", "", ending.lower())[:10]


def _row_about(package, about):
    """(table, id) of the row that is meant; PaleaError where there is none."""
    table, sign, key = about.partition(":")
    if not sign or not key:
        msg = f"“{about}” names no row. Write the table and the id, as in lots:AV-0."
        raise PaleaError(msg)
    schema.word("about", table)
    known = schema.table(table)
    if len(known.primary_key) > 1 or key not in set(package[table][known.primary_key[0]].dropna()):
        near = [i for i in package[table][known.primary_key[0]].dropna() if key.casefold() in i.casefold()][:3]
        help_ = f"Near: {', '.join(near)}." if near else "Enter it first."
        msg = f"There is no row “{key}” in the table {table}. {help_}"
        raise PaleaError(msg)
    return table, key


def _bytes(path):
    try:
        if path.stat().st_size > attachments.LARGEST:
            msg = f"{path} is larger than {attachments.LARGEST // 1024**2} MiB. Attach a smaller copy."
            raise PaleaError(msg)
        data = path.read_bytes()
    except OSError as fault:
        msg = f"{path} cannot be read: {fault.strerror or fault}. Look at its name."
        raise PaleaError(msg) from None
    if not data:
        msg = f"{path} is empty, so there is nothing to attach."
        raise PaleaError(msg)
    return data


def _same(package, sha256):
    """Rows whose file has this content and is there."""
    frame = package[TABLE]
    rows = frame[frame["sha256"].eq(sha256).fillna(value=False)].to_dict("records")
    return [row for row in rows if attachments.look(package, row["path"]).sha256 == sha256]


def _refuse_twice(there, table, key):
    for row in there:
        if (row["about_table"], row["about_id"]) == (table, key):
            msg = f"This file is attached to {table}:{key} already, as {row['attachment_id']}. Nothing was written."
            raise PaleaError(msg)


def _free(package, name, media_type):
    """A path in the package that is not taken; an ending that tells the kind of file."""
    safe = plain_name(name)
    if "." not in safe:
        safe += next((e for e, kind in BY_NAME.items() if kind == media_type), "." + media_type.partition("/")[2])
    stem, ending = Path(safe).stem, Path(safe).suffix
    taken = {str(p).casefold() for p in package[TABLE]["path"].dropna()}
    number, path = 1, f"{FOLDER}/{safe}"
    while path.casefold() in taken or package.file(path).exists():
        number += 1
        path = f"{FOLDER}/{stem}-{number}{ending}"
    return path


def _of_picture(data, media_type):
    """When a picture says it was taken; "" where it does not, and for what is no picture."""
    if media_type not in PICTURES:
        return ""
    said = str(attachments.exif(data, attachments.MORE).get(TAKEN, ""))
    found = re.fullmatch(r"(\d{4}):(\d\d):(\d\d) (\d\d):(\d\d):\d\d\0?", said)
    return f"{found[1]}-{found[2]}-{found[3]}T{found[4]}:{found[5]}" if found else ""
