"""Sheets as free office programs keep them: what the file holds is taken in, what it points to is never opened.

`take_in/data/book.ods` was written by odfpy 1.4.1 on 26 November 2026; `pandas.read_excel(..., engine="odf")`, another reader,
found the same cells in it (it writes 40% as 0.4, and keeps the line feed of a note). One of its sheets is the copy of a sheet of
another file, as a link leaves it.
"""

import io
import socket
import zipfile
from pathlib import Path

import pytest

from palea.bench import take_in
from palea.bench.take_in import grid, open_document
from palea.bench.take_in.mapping import Mapping
from palea.errors import PaleaError

BOOK = Path(__file__).parent / "take_in" / "data" / "book.ods"
HEAD = " ".join(f'xmlns:{name}="{space}"' for name, space in open_document.SPACES.items())
LAUGHS = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 10))


def packed(content, name="content.xml"):
    """A spreadsheet with that content."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, content)
    return made.getvalue()


def sheet(rows, before=""):
    """A spreadsheet of one sheet with these rows."""
    table = f'<table:table table:name="S">{rows}</table:table>'
    return packed(f"<?xml version='1.0'?>{before}<office:document-content {HEAD}>{table}</office:document-content>")


def row(*cells, more=""):
    return f"<table:table-row{more}>{''.join(cells)}</table:table-row>"


def said(text, more=""):
    return f'<table:table-cell office:value-type="string"{more}><text:p>{text}</text:p></table:table-cell>'


def test_a_sheet_is_read_as_another_reader_finds_it():
    seen = grid.read(BOOK)
    assert [list(cells) for cells in seen.cells] == [
        ["Trial: G1", *[""] * 8],
        [""] * 9,
        ["Dish", "12 Mar 2025", "12 Mar 2025", "% germination", "Seen", "At", "Cut", "Price", "Notes"],
        ["", "normal", "abnormal", *[""] * 6],
        ["D05", "3", "0", "40%", "2025-03-12", "08:30:00", "true", "12.5", "two blanks and a line"],
        ["D01", "2", "1", "30%", "2025-03-12T09:05", "13:00:00", "false", "1000", "0,5 & <more>"],
        ["D02", "2", "2", "", "2025-03-13", "", "", "3", ""],
        [""] * 9,
        [""] * 9,
        ["D03", "2", "2", *[""] * 6],
    ]
    assert (seen.sheet, seen.sheets) == ("Counts", ("Counts", "Notes"))
    assert [(r, c) for r, c, _ in seen.odd] == [(6, 3)], "a formula without a result is told, and never computed"
    told = " ".join(seen.told)
    assert all(text in told for text in ("1 merged area", "C6: marked by colour", "B7: a comment"))
    assert grid.read(BOOK, "Notes").cells == (("Nothing to see",),)
    with pytest.raises(PaleaError, match="no sheet “Empty” with anything in it"):
        grid.read(BOOK, "Empty")


@pytest.mark.parametrize(("cell", "text"), [
    (said('a<text:a xlink:href="http://example.org/x" xmlns:xlink="http://www.w3.org/1999/xlink">link</text:a>'), "alink"),
    (said("seen<office:annotation><text:p>by whom?</text:p></office:annotation> twice"), "seen twice"),
    (said(f"{'<text:span>' * 5000}deep{'</text:span>' * 5000}"), "deep"),
    ('<table:table-cell office:value-type="float" office:value="x"><text:p>soon</text:p></table:table-cell>', "soon"),
    ('<table:table-cell office:value-type="float" office:value="0.30000000000000004"/>', "0.3"),
    ('<table:table-cell office:value-type="date" office:date-value="soon"/>', "soon"),
    ('<table:table-cell office:value-type="time" office:time-value="PT36H05M00S"/>', "36:05:00"),
    (said("was there", ' table:formula="of:=WEBSERVICE(&quot;http://example.org&quot;)"'), "was there"),
])  # fmt: skip
def test_a_cell_is_its_value_and_nothing_is_fetched(monkeypatch, cell, text):
    def never(*_, **__):
        pytest.fail("something was looked for elsewhere")

    monkeypatch.setattr(socket, "socket", never)
    assert open_document.read(sheet(row(cell)), "a.ods")["cells"] == [[text]]


MANY = ' table:number-{}-repeated="2000000000"'


@pytest.mark.parametrize(("data", "why"), [
    (b"PK\x03\x04", "damaged"),
    (packed("<a/>", "other.xml"), "KeyError"),
    (packed("<a>"), "ParseError"),
    (packed("<a/>".encode("utf-16")), "UnicodeDecodeError"),
    (sheet(row(said("x")), '<!DOCTYPE a [<!ENTITY e SYSTEM "file:///etc/hostname">]>'), "declares entities"),
    (sheet(row(said("&l9;")), f'<!DOCTYPE a [<!ENTITY l0 "ha">{LAUGHS}]>'), "declares entities"),
    (sheet(row(said("x"), more=MANY.format("rows"))), "reaches over"),
    (sheet(row(said("x", MANY.format("columns")))), "reaches over"),
    (sheet(row(more=MANY.format("rows")) + row(said("x"))), "reaches over"),
    (sheet(row(f"<table:table-cell{MANY.format('columns')}/>", said("x"))), "reaches over"),
    (sheet(row(said("x"), more=f' table:number-rows-repeated="{"9" * 400}"')), "reaches over"),
    (sheet(row(said("x")) + row(more=' table:number-rows-repeated="9000"') + row(
        '<table:table-cell table:number-columns-repeated="9000"/>', said("y"))), "reaches over"),
])  # fmt: skip
def test_what_would_grow_without_end_or_name_other_files_is_refused(data, why):
    with pytest.raises(PaleaError, match=why):
        open_document.read(data, "a.ods")


def test_many_rows_that_are_repeated_a_little_each_are_too_many_together(monkeypatch):
    monkeypatch.setattr(open_document, "MOST_CELLS", 30)
    rows = row(said("x", ' table:number-columns-repeated="3"'), more=' table:number-rows-repeated="5"')
    assert len(open_document.read(sheet(rows * 2), "a.ods")["cells"]) == 10
    with pytest.raises(PaleaError, match="reaches over 45 cells"):
        open_document.read(sheet(rows * 3), "a.ods")


def test_a_content_that_is_too_large_is_not_unpacked(monkeypatch):
    monkeypatch.setattr(open_document, "LARGEST", 100)
    with pytest.raises(PaleaError, match="far too large"):
        open_document.read(sheet(row(said("x"))), "a.ods")


def test_a_span_beyond_the_sheet_ends_with_it():
    spanned = said("T01", ' table:number-columns-spanned="2000000000" table:number-rows-spanned="2000000000"')
    found = open_document.read(sheet(row(spanned, said("b")) + row(said("c"))), "a.ods")
    assert found["cells"] == [["T01", "T01"], ["T01", "T01"]]


def test_counts_of_it_are_taken_in_as_those_of_a_workbook(small):
    seen = take_in.look(small, BOOK, take_in.Wishes(Mapping(by="sorrel", counting="new"), reason="import"))
    assert {(r["unit_id"], r["outcome"]): r["count"] for r in seen.rows["counts"]} == {
        ("G1-AV-T01-1-1", "normal"): "3", ("G1-AV-T01-1-1", "abnormal"): "0",
        ("G1-AV-T01-1-2", "normal"): "2", ("G1-AV-T01-1-2", "abnormal"): "1",
        ("G1-AV-T01-2-2", "normal"): "2", ("G1-AV-T01-2-2", "abnormal"): "2",
        ("G1-AV-T03-1-2", "normal"): "2", ("G1-AV-T03-1-2", "abnormal"): "2",
    }  # fmt: skip
    assert [(f.rule, f.row, f.field) for f in seen.not_understood] == [("take-in.cell", 7, "D")]
