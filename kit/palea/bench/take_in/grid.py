"""A file of somebody's own as a plain grid of texts, whatever its encoding, separator or kind.

Nothing is interpreted here but the file itself; every choice that had to be made is told in a sentence.
"""

import csv
import hashlib
import io
from dataclasses import dataclass
from pathlib import Path

from palea.errors import PaleaError
from palea.tables.paths import printable

LARGEST = 64 * 1024**2  # bytes of a file
MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = 300_000, 3_000, 10_000
TEXT, BOOK, DOCUMENT = (".csv", ".tsv", ".txt"), (".xlsx", ".xlsm"), ".ods"
SEPARATORS = (("\t", "tabs"), (";", "semicolons"), ("|", "bars"), (",", "commas"))
MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
ELSEWHERE = {
    ".xls": "It is an old workbook: open it in a spreadsheet program and save it as .xlsx.",
    ".pdf": "Values are not read out of pages: ask for the table itself as .csv or .xlsx.",
}


@dataclass(frozen=True)
class Grid:
    """The cells of one sheet as texts, all rows equally long; "" where a cell is blank.

    cells : tuple of tuples.  name : of the file.  sha256 : of its bytes.  sheet : of a workbook, "" else.
    sheets : names of all sheets with anything in them.  separator : what parts the cells, "" for a workbook.
    told : sentences on how it was read.  odd : [(row, column, sentence)] of cells whose value cannot be had; from 0.
    """

    cells: tuple
    name: str
    sha256: str
    sheet: str = ""
    sheets: tuple = ()
    separator: str = ""
    told: tuple = ()
    odd: tuple = ()

    @property
    def width(self):
        """How many columns it has."""
        return len(self.cells[0]) if self.cells else 0


def read(path, sheet=""):
    """The Grid of a .csv, .tsv, .txt, .xlsx or .ods file. sheet : which sheet of a workbook; "" for the first that is filled.

    Raises PaleaError, with what to do, for another kind of file, one that is damaged, too large or empty.
    """
    path = Path(path).expanduser()
    data = _bytes(path)
    kind = path.suffix.lower()
    if kind == DOCUMENT:
        from palea.bench.take_in import open_document

        found = open_document.read(data, path.name, sheet)
    elif kind in BOOK or data.startswith(b"PK\x03\x04"):
        _refuse_elsewhere(path, kind if kind in ELSEWHERE else "")
        from palea.bench.take_in import workbook

        found = workbook.read(data, path.name, sheet)
    else:
        _refuse_elsewhere(path, kind if kind in ELSEWHERE else "" if kind in TEXT else kind)
        found = _text(data, path.name)
    if not any(any(row) for row in found["cells"]):
        msg = f"{path.name} holds no cell with anything in it. Look whether it is the right file."
        raise PaleaError(msg)
    return Grid(name=path.name, sha256=hashlib.sha256(data).hexdigest(), **found | {"cells": even(found["cells"], path.name)})


def letter(column):
    """A column as a spreadsheet names it: 0 is A, 26 is AA."""
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(65 + rest) + name
    return name


def even(rows, name):
    """Rows without blank ones at the end, all equally long, as tuples. PaleaError beyond what is read."""
    rows = [list(row) for row in rows]
    while rows and not any(rows[-1]):
        rows.pop()
    wide = max((n + 1 for row in rows for n, cell in enumerate(row) if cell), default=0)
    if len(rows) > MOST_ROWS or wide > MOST_COLUMNS:
        msg = f"{name} has {len(rows)} rows and {wide} columns; up to {MOST_ROWS} and {MOST_COLUMNS} are read. Divide it."
        raise PaleaError(msg)
    long = next((n for n, row in enumerate(rows, 1) if any(len(cell) > LONGEST_CELL for cell in row)), 0)
    if long:
        msg = f"{name}, row {long}: a cell is longer than {LONGEST_CELL} characters. Look for a quotation mark that is not closed."
        raise PaleaError(msg)
    return tuple(tuple((row + [""] * (wide - len(row)))[:wide]) for row in rows)


def _bytes(path):
    try:
        if path.stat().st_size > LARGEST:
            msg = f"{path} is larger than {LARGEST // 1024**2} MiB. Divide it, or take in a summary by day."
            raise PaleaError(msg)
        return path.read_bytes()
    except OSError as fault:
        msg = f"{path} cannot be read: {fault.strerror or fault}. Look at its name and whether another program holds it."
        raise PaleaError(msg) from None


def _refuse_elsewhere(path, kind):
    if kind:
        how = ELSEWHERE.get(kind, "Save the table as .csv or .xlsx.")
        msg = f"{path.name} ends in “{printable(kind)}”, and sheets are read as .csv, .tsv, .txt, .xlsx or .ods. {how}"
        raise PaleaError(msg)


def _text(data, name):
    """Cells and how they were read of a text file."""
    text, encoding = _decoded(data, name)
    separator, called = _separator(text)
    csv.field_size_limit(LONGEST_CELL * 10)
    try:
        rows = [[_clean(cell) for cell in row] for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator)]
    except csv.Error as fault:
        msg = f"{name} cannot be read as a table ({fault}). Look for a quotation mark that is not closed; save it as .csv in UTF-8."
        raise PaleaError(msg) from None
    told = (f"Cells are parted by {called}.", *([encoding] if encoding else []))
    return {"cells": rows, "separator": separator, "told": told}


def _clean(cell):
    """A cell without blanks around it; no-break spaces are blanks, and so is a line feed inside."""
    return " ".join(cell.replace("\0", "").split())


def _decoded(data, name):
    """(text, sentence on the encoding where it is not plain UTF-8)."""
    mark = next((code for start, code in MARKS if data.startswith(start)), "")
    try:
        if mark:
            return data.decode(mark), "It begins with a byte-order mark." if mark == "utf-8-sig" else "It is in UTF-16."
        return data.decode("utf-8"), ""
    except UnicodeDecodeError:
        if mark:
            msg = f"{name} begins as {mark.upper()} and is not. Save it anew as .csv in UTF-8."
            raise PaleaError(msg) from None
    try:
        return data.decode("cp1252"), "It is no UTF-8 and was read as Windows-1252: look at letters such as ° and ä."
    except UnicodeDecodeError:
        return data.decode("latin-1"), "It is no UTF-8 and was read as Latin-1: look at letters such as ° and ä."


def _separator(text):
    """What parts the cells: the first of SEPARATORS that gives half of the lines the same number of cells, above one.

    Semicolons are tried before commas, for with them a comma is the decimal sign.
    """
    lines = [line for line in text.splitlines()[:2000] if line.strip()]
    for sign, called in SEPARATORS:
        widths = [len(row) for row in csv.reader(lines[:500], delimiter=sign) if row] if any(sign in x for x in lines) else []
        usual = max(set(widths), key=widths.count, default=1)
        if usual > 1 and widths.count(usual) * 2 >= len(widths):
            return sign, called
    return ",", "commas"
