"""Sheets as a workbook for a spreadsheet, in which no text is ever computed."""

import re

from palea import look
from palea.bench.sheet_files import FORMULA, steady

LONGEST = 32_767  # characters that a cell of the format holds
MOST_ROWS = 1_048_576  # rows that a sheet of the format holds, its heading among them
NAME = 31  # characters that the name of a sheet holds
NOT_IN_A_NAME = re.compile(r"[\[\]:*?/\\]")
NOT_IN_XML = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
FULL_WIDTH = ("＝", "＋", "－", "＠")  # some programs take them for the narrow ones
COMPUTED = (*FORMULA, *FULL_WIDTH, "\n")
WIDEST, NARROWEST, LOOKED_AT = 60, 8, 200  # of a column, in characters; rows that are looked at for it


def workbook(sheets):
    """(the bytes of a workbook, a sheet each with its heading frozen; sentences about what did not fit into it).

    Text is written as text whatever it begins with, and marked so that a program does not compute it when the cell is
    edited (CWE-1236). The same sheets give the same bytes.
    """
    import openpyxl

    book, said, taken = openpyxl.Workbook(write_only=True), [], set()
    for sheet in sheets:
        if len(sheet.rows) >= MOST_ROWS:
            said.append(f"{sheet.name} has {len(sheet.rows)} rows, more than a sheet holds, and was left out.")
            continue
        cut = _lay(book.create_sheet(_name(sheet.name, taken)), sheet)
        if cut:
            said.append(f"{sheet.name}: {cut} texts were cut at {LONGEST} characters.")
    return steady(book), said


def _lay(ws, sheet):
    """Put one sheet in place; how many of its texts had to be cut."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font, PatternFill
    from openpyxl.utils import get_column_letter

    ws.freeze_panes = "A2"
    for number, width in enumerate(_widths(sheet), 1):
        ws.column_dimensions[get_column_letter(number)].width = width
    heads = [_text(ws, name, WriteOnlyCell) for name in sheet.columns]
    for cell in heads:
        cell.font, cell.fill = Font(bold=True), PatternFill("solid", start_color=look.BAND.lstrip("#"))
    ws.append(heads)
    cut = 0
    for row in sheet.rows:
        cells = [_text(ws, value, WriteOnlyCell) if isinstance(value, str) else value for value in row]
        cut += sum(isinstance(value, str) and len(value) > LONGEST for value in row)
        ws.append(cells)
    return cut


def _text(ws, value, kind):
    """A cell that is text, and stays text when somebody edits it."""
    cell = kind(ws, value=None)
    cell.value = NOT_IN_XML.sub("\ufffd", value)[:LONGEST]
    cell.data_type = "s"  # the library takes "=1" for a formula and "#N/A" for an error
    if value.startswith(COMPUTED):
        cell.quotePrefix = True
    return cell


def _widths(sheet):
    """Width of each column, by its heading and the longest of its first values."""
    first = sheet.rows[:LOOKED_AT]
    for n, name in enumerate(sheet.columns):
        longest = max([len(name), *(len(str(row[n])) for row in first if row[n] is not None)])
        yield min(max(longest + 2, NARROWEST), WIDEST)


def _name(wanted, taken):
    """A name that a sheet may have and none has yet."""
    plain = NOT_IN_A_NAME.sub(" ", wanted).strip("' ")[:NAME] or "Sheet"
    number, name = 1, plain
    while name.casefold() in taken:
        number += 1
        name = f"{plain[: NAME - len(str(number)) - 1]} {number}"
    taken.add(name.casefold())
    return name
