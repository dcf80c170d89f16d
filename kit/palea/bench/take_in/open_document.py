"""One sheet of an OpenDocument spreadsheet (.ods) as texts, read as a workbook is: values as kept, nothing computed or fetched.

Source: OASIS, Open Document Format for Office Applications 1.3, part 3: cells and what they hold (9.1.4, 19.385 to 19.391),
repeated and spanned cells (19.675 to 19.679), comments (14.1), white space in paragraphs (6.1.2 to 6.1.5).
pandas reads values of such files alone; what is merged, coloured, commented or computed without a value has to be told too.
"""

import io
import re
import zipfile
from datetime import datetime
from typing import NamedTuple
from xml.etree import ElementTree as ET

from palea.bench.take_in import workbook
from palea.bench.take_in.grid import letter
from palea.bench.take_in.workbook import MOST_CELLS, number, refuse

CONTENT = "content.xml"
FIGURES = 12  # of a number of repeats; what has more is too many by far all the same
LARGEST = 64 * 1024**2  # bytes of the content, which is held in memory as a tree
OASIS = "urn:oasis:names:tc:opendocument:xmlns"
SPACES = {name: f"{OASIS}:{name}:1.0" for name in ("office", "table", "text", "style")} | {"fo": f"{OASIS}:xsl-fo-compatible:1.0"}
TIME = re.compile(r"PT(\d+)H(\d+)M(\d+)(?:[.,]\d+)?S")


def _full(name):
    space, _, own = name.partition(":")
    return f"{{{SPACES[space]}}}{own}"


BLANKS = {_full(f"text:{name}") for name in ("s", "tab", "line-break")}


class Cell(NamedTuple):
    """A cell that holds something: from 0, its element, and its text as it is taken in."""

    row: int
    column: int
    element: ET.Element
    text: str


class Area(NamedTuple):
    """Cells that are shown as one, from 1, as a workbook tells them."""

    min_row: int
    min_col: int
    max_row: int
    max_col: int

    @property
    def coord(self):
        """As a spreadsheet names it."""
        return f"{letter(self.min_col - 1)}{self.min_row}:{letter(self.max_col - 1)}{self.max_row}"


def read(data, name, sheet=""):
    """Cells, sheets, sentences and odd cells of a spreadsheet. PaleaError where it cannot be read or has no such sheet."""
    workbook.refuse_bomb(data, name)
    root = _content(data, name)
    own = [t for t in root.iter(_full("table:table")) if t.find(_full("table:table-source")) is None]  # else it lies elsewhere
    sheets = {_get(table, "table:name"): _cells(table, name) for table in own}
    filled = [title for title, cells in sheets.items() if any(cell.text for cell in cells)]
    if not filled:
        return {"cells": []}
    chosen, told = workbook.choose(filled, sheet, name)
    found = sheets[chosen]
    rows = _grid(found, name)
    odd = workbook.without_value((c.row, c.column) for c in found if _get(c.element, "table:formula") and not c.text)
    odd += workbook.spread([area for c in found if (area := _area(c))], rows, told)
    told += workbook.marked(*_marks(found, _coloured(root)))
    return {"cells": rows, "sheet": chosen, "sheets": tuple(filled), "told": tuple(told), "odd": tuple(odd)}


def _get(element, name):
    return element.get(_full(name), "")


def _content(data, name):
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            large = packed.getinfo(CONTENT).file_size > LARGEST
            text = "" if large else packed.read(CONTENT).decode("utf-8")
        typed = "<!DOCTYPE" in text  # there entities are declared, which may stand for files, or for one another without end
        root = None if large or typed else ET.fromstring(text)  # noqa: S314 - without a type there are no entities
    except Exception as fault:  # noqa: BLE001 - a damaged file may raise whatever the unpacking stumbles over
        refuse(name, f"it cannot be opened ({type(fault).__name__})")
    if root is None:
        refuse(name, "unpacked it would be far too large" if large else "it declares entities, which no spreadsheet needs")
    return root


def _cells(table, name):
    """The Cells of a sheet; one that is repeated stands as often as it is repeated."""
    found, row = [], 0
    for line in table.iter(_full("table:table-row")):
        many, part = _count(line, "table:number-rows-repeated"), _cells_of_row(line, name)
        if part:
            _refuse_many(len(found) + many * len(part), row + many, name)
            found += [Cell(row + n, *cell) for n in range(many) for cell in part]
        row += many
    return found


def _cells_of_row(line, name):
    found, column = [], 0
    for element in line:
        if element.tag not in (_full("table:table-cell"), _full("table:covered-table-cell")):
            continue
        many, text = _count(element, "table:number-columns-repeated"), _text(element)
        if text or _get(element, "table:formula"):
            _refuse_many(len(found) + many, column + many, name)
            found += [(column + n, element, text) for n in range(many)]
        column += many
    return found


def _count(element, name):
    written = _get(element, name)
    return int(written[:FIGURES]) if written.isdecimal() else 1


def _refuse_many(cells, reach, name):
    if max(cells, reach) > MOST_CELLS:
        refuse(name, f"a sheet reaches over {max(cells, reach)} cells")


def _grid(cells, name):
    """Rows of texts up to the last cell."""
    height, width = (max(c[n] for c in cells) + 1 for n in (0, 1))
    _refuse_many(len(cells), height * width, name)
    rows = [[""] * width for _ in range(height)]
    for cell in cells:
        rows[cell.row][cell.column] = cell.text
    return rows


def _text(element):
    """The value of a cell as it is kept; what is shown of it where it is a text."""
    kind, value = _get(element, "office:value-type"), _value(element)
    if value is not None and kind in ("float", "currency"):
        return number(value)
    if value is not None and kind == "percentage":
        return f"{number(value * 100)}%"
    if kind == "date":
        return _moment(_get(element, "office:date-value"))
    if kind == "time" and (found := TIME.fullmatch(_get(element, "office:time-value"))):
        return ":".join(found.groups())
    if kind == "boolean":
        return _get(element, "office:boolean-value")
    return _get(element, "office:string-value") or " ".join(" ".join(map(_shown, element.iterfind(_full("text:p")))).split())


def _value(element):
    """The number that a cell holds; None where it holds none."""
    try:
        return float(_get(element, "office:value"))
    except ValueError:
        return None


def _moment(written):
    try:
        at = datetime.fromisoformat(written)
    except ValueError:
        return written
    return at.date().isoformat() if at.time() == at.min.time() else at.isoformat(timespec="minutes")


def _shown(paragraph):
    """What a paragraph says; a comment inside is no part of it, and marks for blanks are blanks."""
    said, left = [], [paragraph]  # not by recursion: how deep parts lie within parts is for the file to say
    while left:
        part = left.pop()
        if isinstance(part, str):
            said.append(part)
        elif part.tag != _full("office:annotation"):
            said.append(" " if part.tag in BLANKS else part.text or "")
            for inner in reversed(part):
                left += [inner.tail or "", inner]
    return "".join(said)


def _area(cell):
    """The Area that a cell is shown over; None where it is shown in its own place alone."""
    down, across = (_count(cell.element, f"table:number-{way}-spanned") for way in ("rows", "columns"))
    if cell.element.tag == _full("table:covered-table-cell") or down * across == 1:
        return None
    return Area(cell.row + 1, cell.column + 1, cell.row + down, cell.column + across)


def _coloured(root):
    """Names of styles that fill a cell with a colour."""
    for style in root.iter(_full("style:style")):
        fills = style.iterfind(_full("style:table-cell-properties"))
        if any(_get(p, "fo:background-color") not in ("", "transparent") for p in fills):
            yield _get(style, "style:name")


def _marks(cells, styles):
    """(how many cells are filled in, names of those below the first row that are coloured, of those with a comment)."""
    filled, styles = [c for c in cells if c.text], set(styles)
    coloured = [_named(c) for c in filled if c.row and _get(c.element, "table:style-name") in styles]
    return len(filled), coloured, [_named(c) for c in filled if c.element.find(_full("office:annotation")) is not None]


def _named(cell):
    return f"{letter(cell.column)}{cell.row + 1}"
