"""Attached files that are to leave the house: does one tell in words what was withheld?

A file whose hash is in the record is not altered; so one that tells it stops the sharing. Texts, office documents,
archives and what a picture says of itself are looked into; what cannot be looked into is named, so that a person does.
"""

import re
import warnings
import zipfile
from io import BytesIO

from palea.findings import Finding
from palea.tables import attachments

DEEPEST = 3  # archives within archives
MOST_MEMBERS = 500
LARGEST_MEMBER = 50 * 1024 * 1024  # bytes
TAGS = re.compile(r"<[^<>]*>")
EXIF_BLOCKS = (0x8769, 0x8825)  # tags of the blocks inside Exif (Exif 2.3, 4.6.3)
HEADER_ROWS = 2


def findings(package, hidden):
    """(errors about attached files that tell what was withheld, paths of those that could not be looked into)."""
    telling, dark = [], []
    rows = package["attachments"]
    for line, path in rows["path"].dropna().items():
        file = package.file(path)
        if not file.is_file():
            continue
        texts = list(texts_of(file.read_bytes())) if file.stat().st_size <= attachments.LARGEST else [None]
        if None in texts:
            dark.append(path)
        if any(hidden.out_of(text) != text for text in texts if text):
            telling.append(_told(int(line), path))
    return telling, dark


def _told(line, path):
    return Finding(
        "sharing.file-tells-withheld",
        "error",
        "attachments",
        line + HEADER_ROWS,
        "path",
        path,
        f"The attached file {path} tells a place, a name or a number that is withheld.",
        "Attach a copy without it, or enter that it may not be shared; sharing does not alter a file whose hash is in the record.",
    )


def texts_of(data, deep=0):
    """What a file says in words, part by part; None among them for a part that cannot be looked into.

    data : its bytes.
    """
    if data.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        yield from _inside_archive(data, deep)
        return
    said = _of_picture(data)
    if said is not None:
        yield from said
        return
    text = _decoded(data)
    yield text
    if text is not None and "<" in text:
        yield from _without_tags(text)


def _inside_archive(data, deep):
    if deep >= DEEPEST:
        yield None
        return
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            members = archive.infolist()
            yield "\n".join(m.filename for m in members)
            for member in members[:MOST_MEMBERS]:
                if member.is_dir():
                    continue
                if member.file_size > LARGEST_MEMBER or member.flag_bits & 1:
                    yield None
                    continue
                yield from texts_of(archive.read(member), deep + 1)
            if len(members) > MOST_MEMBERS:
                yield None
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError, EOFError, RuntimeError):
        yield None


def _without_tags(text):
    """A marked-up text as it is read: a word may be cut by tags in an office document, or two be parted by them alone."""
    yield TAGS.sub("", text)
    yield TAGS.sub(" ", text)


def _decoded(data):
    """A file as text, or None for what is none."""
    for coding in ("utf-8-sig", "utf-16") if data[:2] in (b"\xff\xfe", b"\xfe\xff") else ("utf-8-sig", "cp1252"):
        try:
            text = data.decode(coding)
        except (UnicodeDecodeError, UnicodeError):
            continue
        return text if _reads_as_text(text) else None
    return None


def _reads_as_text(text):
    """Whether hardly any character is one that no text holds."""
    start = text[:20000]
    odd = sum(not (c.isprintable() or c in "\t\n\r\f") for c in start)
    return not start.startswith("%PDF") and "\0" not in start and odd <= len(start) / 100


def _of_picture(data):
    """Texts that a picture carries beside its pixels; None where it is no picture."""
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(BytesIO(data)) as picture:
                exif = picture.getexif()
                blocks = [dict(exif), *(dict(exif.get_ifd(block)) for block in EXIF_BLOCKS)]
                said = [*picture.info.values(), *(value for block in blocks for value in block.values())]
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return None
    return [text for value in said if (text := _as_text(value))]


def _as_text(value):
    if isinstance(value, bytes):
        return " ".join(found.decode("ascii") for found in re.findall(rb"[\x20-\x7e]{4,}", value))
    return value if isinstance(value, str) else ""
