"""The bytes of a CSV file -> a typed frame. Nothing in a file raises: what cannot be read is missing, and a Finding.

Only distinct texts are parsed, since a column holds few. A plain file goes through pyarrow; a file with quotes, odd
line
ends or uneven rows goes through Python's csv module, which is how the reference validator reads too.
"""

import contextlib
import csv
import hashlib
import io
import re
from itertools import islice

import numpy as np
import pyarrow as pa
from pyarrow import csv as arrow_csv

from palea.tables import filekind, header
from palea.tables.found import Found
from palea.tables.sheet import frame_of

_LONGEST_FIELD = 64 * 1024**2  # bytes; Python's csv stops at 128 kB unless told
_QUOTED = re.compile(rb'(?<![^,\n])"(?:[^"]|"")*"(?=[,\r\n]|\Z)')  # a whole cell in quotation marks
_BLOCK = 1 << 22  # bytes that pyarrow reads at once: small enough for both cores to have work, large enough for long cells
_LOOKED_AT = 5  # lines in which the names of the columns may stand below something else
_TEXT = pa.dictionary(pa.int32(), pa.string())


def read(data, table, described=()):
    """The bytes of one file -> Sheet.

    data : bytes.  table : schema.read.Table.  described : names of columns that the package itself describes.
    """
    labels, columns, found = texts(data, table)
    if labels is None:
        return frame_of(table, {}, 0, found=found, sha256=hashlib.sha256(data).hexdigest(), broken=True)
    header.check(found, table, labels, described)
    known = {name: columns[name] for name in labels if name}
    if header.is_repeated(found, table, {name: cells[0].as_py() for name, cells in known.items() if len(cells)}):
        known = {name: _without_first(cells) for name, cells in known.items()}
    rows = len(next(iter(columns.values()))) if columns else 0
    return frame_of(table, known, rows, found=found, sha256=hashlib.sha256(data).hexdigest(), broken=found.broken)


def texts(data, table):
    """Labels, columns as pyarrow arrays of text ("" is null) by label, and what was found on the way.

    Labels is None where the file cannot be read as comma-separated text. Of a repeated label the first counts.
    """
    found = Found(table.name)
    body = data.removeprefix(b"\xef\xbb\xbf")
    if not body or body.isspace():
        found.whole(
            "table.empty", "The file is empty.", f"Its first line must name the columns: {', '.join(table.fields)}."
        )
        return None, {}, found
    if filekind.check(found, data):
        return None, {}, found
    labels, *below = _first_lines(body)
    if header.is_other_delimiter(found, table, labels) or header.is_further_down(found, table, labels, below):
        return None, {}, found
    columns = _plainly(body, labels) or _carefully(body, labels, found)
    return labels, columns, found


def _first_lines(body):
    """The cells of the first few lines; always at least one line."""
    first = csv.reader(io.StringIO(body[: 2**20].decode("utf-8", "replace"), newline=""))
    lines = []
    with contextlib.suppress(csv.Error):  # a cell too long for this look; the whole reading tells it
        lines.extend(islice(first, _LOOKED_AT))
    return lines or [[]]


def _plainly(body, labels):
    """Columns by pyarrow, or None where it might read the file otherwise than the reference does."""
    odd = (
        any("\n" in label or "\r" in label for label in labels)
        or b"\0" in body
        or (b"\r" in body and body.count(b"\r") != body.count(b"\r\n"))
    )
    if odd or not _has_rows(body) or len(set(labels)) != len(labels) or len(labels) < 2:
        return None
    quoted = b'"' in body
    if quoted and b'"' in (bare := _QUOTED.sub(b"", body)):
        return None  # a quotation mark inside a cell, or one that is never closed
    inside = quoted and bare.count(b"\n") != body.count(b"\n")  # cells of several lines
    try:
        table = arrow_csv.read_csv(
            pa.BufferReader(body),
            arrow_csv.ReadOptions(column_names=labels, skip_rows=1, block_size=_BLOCK),
            arrow_csv.ParseOptions(
                quote_char='"' if quoted else False, newlines_in_values=inside, ignore_empty_lines=False
            ),
            arrow_csv.ConvertOptions(
                column_types=dict.fromkeys(labels, _TEXT), strings_can_be_null=True, null_values=[""]
            ),
        )
    except pa.ArrowInvalid:
        return None
    columns = {name: _one_piece(table[name]) for name in labels}
    return None if _has_blank_row(columns) else columns


def _has_rows(body):
    """Whether anything but space follows the first line feed."""
    end = body.find(b"\n")
    return end >= 0 and bool(body[end : end + 4096].strip() or body[end:].strip())


def _without_first(cells):
    """Cells with the first made blank."""
    plain = cells.cast(pa.string())
    return pa.concat_arrays([pa.array([None], pa.string()), plain.slice(1)])


def _one_piece(chunked):
    return chunked.unify_dictionaries().combine_chunks() if chunked.num_chunks else pa.array([], _TEXT)


def _has_blank_row(columns):
    """Whether any row holds nothing: those need a Finding, which only the careful way makes."""
    blank = None
    for column in sorted(columns.values(), key=lambda c: -c.null_count):
        missing = np.asarray(column.is_null())
        blank = missing if blank is None else blank & missing
        if not blank.any():
            return False
    return bool(blank is not None and blank.any())


def _carefully(body, labels, found):
    """Columns by Python's csv module; uneven and blank rows become Findings, and stay rows."""
    rows = _rows(body, found)[1:]
    width = len(labels)
    for position, row in enumerate(rows):
        if len(row) != width or not any(row):
            rows[position] = _even(found, row, width, position)
    columns = zip(*rows, strict=True) if rows else ([],) * width
    first = {}
    for label, column in zip(labels, columns, strict=False):
        first.setdefault(
            label, pa.array([cell or None for cell in column], pa.string()) if _clean(column) else _guarded(column)
        )
    return first


def _rows(body, found):
    text = io.StringIO(body.decode("utf-8", "surrogateescape"), newline="")
    before = csv.field_size_limit(_LONGEST_FIELD)
    rows = []
    try:
        rows.extend(csv.reader(text))
    except csv.Error as error:
        found.whole(
            "table.unreadable",
            f"From line {len(rows) + 1} on the file cannot be read: {error}.",
            "Look there for a quotation mark that is never closed.",
            broken=True,
        )
    finally:
        csv.field_size_limit(before)
    return rows


def _even(found, row, width, position):
    """The row made as wide as the header, with a Finding. Of a longer row nothing is kept: cells may have shifted."""
    if not any(row):
        found.row(
            position,
            "table.blank-row",
            "The row is blank.",
            "Delete it; a blank row counts as a row.",
            broken=len(row) != width,
        )
        return [""] * width
    if len(row) < width:
        found.row(
            position,
            "table.row",
            f"The row has {len(row)} cells, the header has {width}.",
            "Add the cells that are missing at its end, blank if need be.",
            broken=True,
        )
        return row + [""] * (width - len(row))
    found.row(
        position,
        "table.row",
        f"The row has {len(row)} cells, the header has {width}.",
        "A comma inside a cell needs quotation marks around that cell; a decimal comma must be a point.",
        broken=True,
    )
    return [""] * width


def _clean(column):
    """Whether pyarrow can hold these texts; a byte that is no UTF-8 was kept as a lone surrogate, which it cannot."""
    try:
        "".join(column).encode()
    except UnicodeEncodeError:
        return False
    return True


def _guarded(column):
    """The column with each text that is no UTF-8 marked by a NUL before it, which `formats.read` then refuses; what it
    would be in Latin-1, the usual case, stands there to be looked at.
    """
    return pa.array([None if not c else c if c.isascii() or _clean([c]) else "\0" + _latin(c) for c in column], pa.string())


def _latin(cell):
    return cell.encode("utf-8", "surrogateescape").decode("latin-1")
