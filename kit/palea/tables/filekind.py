"""What the first bytes of a file say it is, where it is no CSV in UTF-8: told once and by name, not cell by cell."""

import re

_BOMS = (
    (b"\xff\xfe\x00\x00", "UTF-32"),
    (b"\x00\x00\xfe\xff", "UTF-32"),
    (b"\xff\xfe", "UTF-16"),
    (b"\xfe\xff", "UTF-16"),
)
_KINDS = (
    (b"PK\x03\x04", "a workbook or a zip"),
    (b"\xd0\xcf\x11\xe0", "an old workbook"),
    (b"%PDF", "a PDF"),
    (b"\x1f\x8b", "a compressed file"),
    (b"PAR1", "a Parquet file"),
    (b"SQLite format 3", "a database"),
)
_MARKUP = re.compile(rb"\s*<(?:!doctype|html|\?xml)", re.IGNORECASE)
_SAVE = "Save it as CSV in UTF-8, with commas and decimal points."


def check(found, data):
    """Whether the bytes are no text that can be read as CSV; a Finding if so."""
    head = data[:4096]
    encoding = next((name for mark, name in _BOMS if head.startswith(mark)), "")
    kind = next((name for mark, name in _KINDS if head.startswith(mark)), "")
    if not encoding and not kind and head.count(b"\0") > len(head) // 4:  # every second byte of Latin text in UTF-16
        encoding = "UTF-16"
    if not kind and _MARKUP.match(head):
        kind = "a web page"
    if encoding:
        found.whole("table.encoding", f"The file is in {encoding}, so nothing was read.", _SAVE)
    elif kind:
        found.whole("table.kind", f"The file is {kind} and no CSV, so nothing was read.", _SAVE)
    return bool(encoding or kind)
