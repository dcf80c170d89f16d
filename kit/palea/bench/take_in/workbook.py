"""One sheet of a workbook as texts: dates as dates, percentages as they are shown, merged headings in each of their cells."""

import io
import zipfile
from datetime import date, datetime, time

from palea.errors import PaleaError

LARGEST = 300 * 1024**2  # bytes when unpacked
MOST_PARTS = 5_000
MOST_CELLS = 3_000_000
NAMED = 8  # cells that are named one by one in a sentence


def read(data, name, sheet=""):
    """Cells, sheets, sentences and odd cells of a workbook. PaleaError where it cannot be read or has no such sheet."""
    refuse_bomb(data, name)
    values, formulas = (_opened(data, name, data_only=way) for way in (True, False))
    filled = [ws.title for ws in values.worksheets if _size(ws, name)]
    if not filled:
        return {"cells": []}
    chosen, told = choose(filled, sheet, name)
    ws = values[chosen]
    cells = [[_text(cell) for cell in row] for row in ws.iter_rows()]
    computed = ((r, c) for r, row in enumerate(formulas[chosen].iter_rows()) for c, cell in enumerate(row) if cell.data_type == "f")
    odd = without_value((r, c) for r, c in computed if not cells[r][c])
    odd += spread(ws.merged_cells.ranges, cells, told)
    told += marked(*_marks(ws))
    return {"cells": cells, "sheet": chosen, "sheets": tuple(filled), "told": tuple(told), "odd": tuple(odd)}


def choose(filled, sheet, name):
    """(the sheet that is read, [a sentence on it where there are several]). filled : names of sheets that hold anything."""
    if sheet and sheet not in filled:
        msg = f"{name} has no sheet “{sheet}” with anything in it. It has: {', '.join(filled)}."
        raise PaleaError(msg)
    chosen = sheet or filled[0]
    which = f"“{chosen}” was read" + ("." if sheet else ", the first.")
    return chosen, [f"The workbook has the sheets {', '.join(filled)}; {which}"] if len(filled) > 1 else []


def refuse_bomb(data, name):
    """PaleaError for what is no archive, and for one that would unpack to far more than a workbook is."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
    except (zipfile.BadZipFile, OSError, ValueError):
        refuse(name, "it is damaged, or no workbook")
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > LARGEST:
        refuse(name, "unpacked it would be far too large")


def _opened(data, name, *, data_only):
    import warnings

    import openpyxl

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # styles and drawings that are not read
            return openpyxl.load_workbook(io.BytesIO(data), data_only=data_only, keep_links=False)
    except Exception as fault:  # noqa: BLE001 - the library raises whatever it stumbles over in a damaged file
        refuse(name, f"it cannot be opened ({type(fault).__name__})")


def refuse(name, why):
    """Raise a PaleaError that says why a file was not read, and what to do."""
    msg = f"{name} was not read: {why}. Open it in a spreadsheet program and save it anew as .xlsx or .csv."
    raise PaleaError(msg) from None


def _size(ws, name):
    """Whether a sheet holds anything; PaleaError for one that is too large."""
    if not hasattr(ws, "iter_rows"):
        return False
    if ws.max_row * ws.max_column > MOST_CELLS:
        refuse(name, f"the sheet “{ws.title}” reaches to row {ws.max_row}, column {ws.max_column}")
    return any(cell.value not in (None, "") for row in ws.iter_rows() for cell in row)


def _text(cell):
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == time() else value.isoformat(timespec="minutes")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, int | float):
        return f"{number(value * 100)}%" if "%" in (cell.number_format or "") else number(value)
    return " ".join(str(value).split())


def number(value):
    """A number as it was typed: workbooks keep 0.1 + 0.2 with its tail, which nobody wrote."""
    return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else f"{value:.15g}"


def without_value(places):
    """Odd cells: those that hold a formula and no result, as a program leaves them that never computed."""
    says = "It holds a formula without a result. Open the workbook in a spreadsheet program, save it, and take it in again."
    return [(row, column, says) for row, column in places]


def spread(areas, cells, told):
    """Put the text of merged cells into each of them; a number merged over rows stays where it is and is told."""
    odd, merged = [], 0
    for area in areas:
        top, left = area.min_row - 1, area.min_col - 1
        text = cells[top][left] if top < len(cells) and left < len(cells[top]) else ""
        if not text:
            continue
        if area.max_row > area.min_row and text.replace(".", "", 1).isdigit():
            says = f"{area.coord} is merged, and whether {text} belongs to each row is not said. Write it in each."
            odd.append((top, left, says))
            continue
        merged += 1
        for r in range(top, min(area.max_row, len(cells))):
            for c in range(left, min(area.max_col, len(cells[r]))):
                cells[r][c] = text
    if merged:
        told.append(f"{merged} merged {'area was' if merged == 1 else 'areas were'} read as if the text stood in each cell.")
    return odd


def _marks(ws):
    """(how many cells are filled in, names of those below the first row that are coloured, of those with a comment)."""
    filled = [cell for row in ws.iter_rows() for cell in row if cell.value not in (None, "")]
    coloured = [c.coordinate for c in filled if c.fill is not None and c.fill.fill_type == "solid" and c.row > 1]
    return len(filled), coloured, [c.coordinate for c in filled if c.comment is not None]


def marked(filled, coloured, commented):
    """Sentences on cells that say something by colour or in a comment, which no table holds."""
    if coloured and len(coloured) * 3 < filled:
        yield f"{_list(coloured)}: marked by colour. What the colour means is not taken in; write it as a note."
    if commented:
        yield f"{_list(commented)}: a comment of the workbook stands there and is not taken in."


def _list(names):
    return ", ".join(names[:NAMED]) + (f" and {len(names) - NAMED} more" if len(names) > NAMED else "")
