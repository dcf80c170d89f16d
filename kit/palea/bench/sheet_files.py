"""A count sheet as a workbook that is filled in and taken in again, or as a page to print and write on."""

import html
import io
import re
import zipfile

from palea import look
from palea.documents import files

EPOCH = (1980, 1, 1, 0, 0, 0)
STAMPED = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
FORMULA = ("=", "+", "-", "@", "\t", "\r")  # a cell that begins so is computed by some programs (CWE-1236)
WIDE = {"name": 20, "place": 9, "sown": 7, "last": 9, "open": 11, "note": 24}
HEAD, SOFT = look.BAND.lstrip("#"), look.QUIET.lstrip("#")


def save(sheet, path, *, replace=False):
    """Write a CountSheet to a .xlsx or .html file; its path. PaleaError for another ending or a file that is there."""
    from pathlib import Path

    from palea.errors import PaleaError

    ways = {".xlsx": workbook, ".html": page}
    way = ways.get(Path(path).suffix.lower())
    if way is None:
        msg = f"{path} ends in “{Path(path).suffix}”. A sheet can be written as .xlsx or .html."
        raise PaleaError(msg)
    return files.put(lambda: way(sheet), path, replace=replace)


def workbook(sheet):
    """The bytes of a workbook: A4, heading repeated on every page, page numbers; the same sheet gives the same bytes."""
    import openpyxl
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    book = openpyxl.Workbook()
    ws = book.active
    ws.title = "Counts"
    for what, text in sheet.facts:
        ws.append([what, ""])
        _put(ws.cell(ws.max_row, 1), what).font = Font(color=SOFT)
        _put(ws.cell(ws.max_row, 2), text).font = Font(bold=True)
    ws.append([])
    first = ws.max_row + 1 if ws.max_row > len(sheet.facts) else len(sheet.facts) + 2
    thin = Side(style="thin", color=SOFT)
    box = Border(left=thin, right=thin, top=thin, bottom=thin)
    for c, (heading, kind) in enumerate(sheet.headings, 1):
        cell = _put(ws.cell(first, c), heading)
        cell.font, cell.border = Font(bold=True, color=SOFT if kind == "last" else None), box
        cell.fill, cell.alignment = PatternFill("solid", start_color=HEAD), Alignment(wrap_text=True, vertical="bottom")
        ws.column_dimensions[openpyxl.utils.get_column_letter(c)].width = WIDE[kind]
    for r, line in enumerate(sheet.lines, first + 1):
        for c, (text, (_, kind)) in enumerate(zip(sheet.cells(line), sheet.headings, strict=True), 1):
            cell = _put(ws.cell(r, c), text, number=kind in ("sown", "last"))
            cell.border = box
            if kind in ("last", "sown", "place"):
                cell.font = Font(color=SOFT)
    _to_print(ws, first, sheet)
    return steady(book)


def _put(cell, text, *, number=False):
    """Put a text into a cell so that no program takes it for a formula; whole numbers as numbers."""
    if number and text.isdigit():
        cell.value = int(text)
        return cell
    cell.value = text or None
    if text:
        cell.data_type = "s"
        cell.quotePrefix = text.startswith(FORMULA)
    return cell


def _to_print(ws, first, sheet):
    last = ws.cell(first + len(sheet.lines), len(sheet.headings)).coordinate
    ws.print_area = f"A1:{last}"
    ws.print_title_rows = f"{first}:{first}"
    ws.freeze_panes = ws.cell(first + 1, 2)
    ws.page_setup.paperSize = ws.PAPERSIZE_A4
    ws.page_setup.orientation = "landscape" if len(sheet.headings) > 8 else "portrait"
    ws.page_setup.fitToWidth, ws.page_setup.fitToHeight = 1, 0
    ws.sheet_properties.pageSetUpPr.fitToPage = True
    ws.oddFooter.left.text = f"{_plain(sheet.trial)} {_plain(sheet.visit)}".strip()
    ws.oddFooter.right.text = "&P / &N"


def _plain(text):
    """A text in a footer, where & begins a code."""
    return text.replace("&", "&&")


def steady(book):
    """The workbook's bytes without the hour at which it was made."""
    made = io.BytesIO()
    book.save(made)
    steady = io.BytesIO()
    with zipfile.ZipFile(made) as source, zipfile.ZipFile(steady, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            data = source.read(name)
            if name == "docProps/core.xml":
                data = STAMPED.sub(rb"\g<1>2000-01-01T00:00:00Z", data)
            target.writestr(zipfile.ZipInfo(name, EPOCH), data, zipfile.ZIP_DEFLATED)
    return steady.getvalue()


def page(sheet):
    """The sheet as HTML for A4 paper: boxes to write in, the heading on every page, pages numbered."""
    facts = "".join(
        f"<div><dt>{html.escape(what)}</dt><dd>{html.escape(text) or '&nbsp;' * 24}</dd></div>" for what, text in sheet.facts
    )
    heads = "".join(f'<th class="{kind}" scope="col">{html.escape(heading)}</th>' for heading, kind in sheet.headings)
    kinds = [kind for _, kind in sheet.headings]
    lines = "\n".join(
        "<tr>" + "".join(
            f'<{_tag(kind)} class="{kind}">{html.escape(text)}</{_tag(kind)[:2]}>'
            for text, kind in zip(sheet.cells(line), kinds, strict=True)
        ) + "</tr>"
        for line in sheet.lines
    )  # fmt: skip
    since = f"<p>In grey: what was written at {html.escape(sheet.since)}.</p>" if sheet.since else ""
    wide = "landscape" if len(sheet.headings) > 8 else "portrait"
    title = html.escape(f"{sheet.trial} {sheet.visit}".strip())
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<meta name="generator" content="palea">\n'
        f"<title>Count sheet {title}</title>\n<style>\n{_style(wide)}</style>\n</head>\n<body>\n"
        f"<header><h1>Count sheet {title}</h1><p>{html.escape(sheet.title)}</p><dl>{facts}</dl>"
        f"<p>Blank: not looked at. 0: looked, none seen.</p>{since}</header>\n"
        f"<table>\n<thead><tr>{heads}</tr></thead>\n<tbody>\n{lines}\n</tbody>\n</table>\n</body>\n</html>\n"
    )


def _tag(kind):
    return 'th scope="row"' if kind == "name" else "td"


def _style(wide):
    return f"""@page {{
  size: A4 {wide}; margin: 14mm; @bottom-right {{ content: counter(page) " / " counter(pages); font: 8.5pt sans-serif; }}
}}
* {{ box-sizing: border-box; }}
body {{ font: 10.5pt/1.35 {look.FONT}; color: {look.INK}; background: {look.PAPER}; }}
body {{ margin: 0 auto; max-width: 270mm; padding: 4mm; }}
h1 {{ font-size: 15pt; margin: 0; }}
p {{ margin: 0 0 4px; }}
dl {{ display: flex; flex-wrap: wrap; gap: 2px 24px; margin: 6px 0; }}
dl div {{ display: flex; gap: 8px; }}
dt {{ color: {look.QUIET}; }}
dd {{ margin: 0; font-weight: 600; border-bottom: 1px solid {look.QUIET}; min-width: 20mm; }}
table {{ border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; margin-top: 8px; }}
thead {{ display: table-header-group; }}
tr {{ break-inside: avoid; height: 8.5mm; }}
th, td {{ border: 1px solid {look.QUIET}; padding: 1px 6px; text-align: left; }}
thead th {{ background: {look.BAND}; vertical-align: bottom; font-size: 9pt; print-color-adjust: exact; }}
.last, .sown, .place {{ color: {look.QUIET}; text-align: right; width: 12mm; }}
.place, .open {{ white-space: nowrap; }}
.open {{ width: 20mm; border: 1.5px solid {look.INK}; }}
.note {{ min-width: 35mm; }}
tbody th {{ white-space: nowrap; }}
@media print {{ body {{ padding: 0; max-width: none; }} }}
"""
