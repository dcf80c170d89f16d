"""Blank count sheets: what stands on them, that nothing tells the treatment, and that a filled one comes back the same."""

import io
import re

import openpyxl
import pytest

from palea.bench import sheet_files, sheets, take_in
from palea.bench.take_in.mapping import Mapping
from palea.errors import PaleaError

HEAD = {"visit": "", "day": "2025-03-12", "by": "sorrel"}


def test_lines_stand_in_walking_order_with_the_last_count_beside_an_open_box(small):
    laid = sheets.lay_out(small, "G1", **HEAD)
    assert [line.name for line in laid.lines] == ["D05", "D07", "D01", "D03", "D06", "D08", "D02", "D04"]
    assert [line.place for line in laid.lines[:3]] == ["1 / 1", "1 / 2", "2 / 1"]
    assert laid.lines[0].last == {"normal": "5", "abnormal": "0"}  # of G1-D07, tests/bench/small.json
    assert (laid.visit, laid.since, laid.counting, laid.blind) == ("G1-D11", "G1-D07", "new", True)
    assert [h for h, _ in laid.headings] == [
        "Code", "Place", "Sown", "Last normal seedling", "Normal seedling", "Last abnormal seedling", "Abnormal seedling", "Note",
    ]  # fmt: skip
    assert laid.cells(laid.lines[0]) == ["D05", "1 / 1", "25", "5", "", "0", "", ""]


def test_the_sheet_of_a_visit_that_is_there_shows_what_was_before_it(small):
    laid = sheets.lay_out(small, "G1", visit="G1-D07")
    assert (laid.day, laid.by, laid.since) == ("2025-03-08", "sorrel", "G1-D03")
    assert laid.lines[0].last["normal"] == "2"
    first = sheets.lay_out(small, "G1", visit="G1-D03")  # what came after it is not shown beside it
    assert (first.since, first.lines[0].last["normal"]) == ("", "")


def test_a_blind_sheet_says_nothing_of_treatment_or_lot(small):
    ids = {*small["units"]["unit_id"], *small["units"]["treatment_id"], *small["units"]["lot_id"], *small["treatments"]["label"]}
    laid = sheets.lay_out(small, "G1", **HEAD)
    printed = sheet_files.page(laid)
    filled = {c.value for row in openpyxl.load_workbook(io.BytesIO(sheet_files.workbook(laid))).active for c in row}
    assert not [name for name in ids if name in printed]
    assert not ids & filled
    opened = sheets.lay_out(small, "G1", **HEAD, blind=False)
    assert opened.lines[0].name == "G1-AV-T01-1-1"
    assert opened.headings[0][0] == "Unit"


def test_a_blind_sheet_needs_a_code_of_its_own_for_every_unit(small):
    units = small["units"]
    bare = small.having("units", [{"unit_id": units["unit_id"][0], "code": ""}])
    with pytest.raises(PaleaError, match="1 units have no code"):
        sheets.lay_out(bare, "G1", **HEAD)
    twice = small.having("units", [{"unit_id": units["unit_id"][0], "code": "D01"}])
    with pytest.raises(PaleaError, match="D01 is there twice"):
        sheets.lay_out(twice, "G1", **HEAD)


def test_what_no_visit_says_must_be_said(empty, small):
    with pytest.raises(PaleaError, match="no trial “G1”"):
        sheets.lay_out(empty, "G1")
    fresh = small.replacing("counts", small["counts"][:0]).replacing("visits", small["visits"][:0])
    with pytest.raises(PaleaError, match="--counting"):
        sheets.lay_out(fresh, "G1")
    laid = sheets.lay_out(fresh, "G1", counting="cumulative", look_for="germinated", blind=True)
    assert (laid.visit, laid.day, [h for h, _ in laid.headings][3:]) == ("", "", ["Germinated", "Note"])


def test_plots_are_walked_along_one_line_and_back_along_the_next(frames):
    places = [(1, 1), (1, 2), (2, 1), (2, 2), (3, 1)]
    rows = [{"unit_id": f"P{r}{c}", "trial_id": "F", "kind": "plot", "grid_row": r, "grid_column": c} for r, c in places]
    units = frames({"units": rows})["units"]
    assert sheets.walk(units)["unit_id"].tolist() == ["P11", "P12", "P22", "P21", "P31"]
    assert sheets.walk(units.assign(kind="dish"))["unit_id"].tolist() == ["P11", "P12", "P21", "P22", "P31"]


def test_printed_filled_and_taken_in_gives_the_same_table(small, stamp, tmp_path):
    """The whole way round: what a hand writes into the boxes is what stands in the tables afterwards."""
    laid = sheets.lay_out(small, "G1", **HEAD)
    path = sheet_files.save(laid, tmp_path / "G1-D11.xlsx")
    boxes = [(line.name, outcome) for line in laid.lines for outcome in laid.outcomes]
    written = {box: n % 4 for n, box in enumerate(boxes)}
    book = openpyxl.load_workbook(path)
    ws = book.active
    top = next(r for r in range(1, 20) if ws.cell(r, 1).value == "Code")
    for r, line in enumerate(laid.lines, top + 1):
        assert ws.cell(r, 1).value == line.name
        ws.cell(r, 5).value, ws.cell(r, 7).value = written[line.name, "normal"], written[line.name, "abnormal"]
    ws.cell(top + 1, 8).value = "lid off"
    book.save(path)
    seen = take_in.look(small, path)
    assert (seen.asks, seen.not_understood, seen.refused) == ((), (), ())
    after = take_in.keep(seen, stamp)
    codes = after["units"].set_index("unit_id")["code"]
    rows = after["counts"][lambda c: c["visit_id"].eq("G1-D11")]
    assert {(codes[u], o): n for u, o, n in zip(rows["unit_id"], rows["outcome"], rows["count"], strict=True)} == written
    assert rows["note"].dropna().unique().tolist() == ["lid off"]
    visit = after["visits"].set_index("visit_id").loc["G1-D11"]
    assert (visit["visited_at"], visit["visited_by"], visit["counting"], visit["blind"]) == ("2025-03-12", "sorrel", "new", True)


def test_a_sheet_left_blank_brings_nothing(small, tmp_path):
    path = sheet_files.save(sheets.lay_out(small, "G1", **HEAD), tmp_path / "blank.xlsx")
    seen = take_in.look(small, path, take_in.Wishes(Mapping()))
    assert (seen.taken, seen.not_understood) == ({}, ())


def test_the_workbook_prints_on_a4_with_its_heading_on_every_page(small):
    laid = sheets.lay_out(small, "G1", **HEAD)
    data = sheet_files.workbook(laid)
    assert data == sheet_files.workbook(laid)  # the same sheet, the same bytes
    ws = openpyxl.load_workbook(io.BytesIO(data)).active
    assert (ws.page_setup.paperSize, ws.page_setup.fitToWidth, ws.page_setup.fitToHeight) == (9, 1, 0)  # 9: A4, ECMA-376 18.3.1.63
    assert ws.print_title_rows == "$9:$9"
    assert ws.print_area.endswith("$A$1:$H$17")
    assert ws.oddFooter.right.text == "&P / &N"
    page = sheet_files.page(laid)
    assert "size: A4 portrait" in page
    assert "table-header-group" in page
    assert page.count("<tr>") == 9


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_a_cell_that_begins_as_a_formula_stays_text(small, start):
    code = f"{start}HYPERLINK(1)"
    evil = small.having("units", [{"unit_id": small["units"]["unit_id"][0], "code": code}])
    ws = openpyxl.load_workbook(io.BytesIO(sheet_files.workbook(sheets.lay_out(evil, "G1", **HEAD)))).active
    cell = next(c for row in ws for c in row if c.value == code)
    assert (cell.data_type, cell.quotePrefix) == ("s", True)


def test_marks_in_texts_are_no_tags_on_the_printed_page(small):
    evil = small.having("units", [{"unit_id": small["units"]["unit_id"][0], "code": "<script>x</script>"}])
    page = sheet_files.page(sheets.lay_out(evil, "G1", **HEAD))
    assert "<script" not in page
    assert re.search(r"&lt;script&gt;", page)


def test_only_known_endings_are_written_and_nothing_is_overwritten(small, tmp_path):
    laid = sheets.lay_out(small, "G1", **HEAD)
    with pytest.raises(PaleaError, match=r"\.xlsx or \.html"):
        sheet_files.save(laid, tmp_path / "a.pdf")
    sheet_files.save(laid, tmp_path / "a.html")
    with pytest.raises(PaleaError, match="--replace"):
        sheet_files.save(laid, tmp_path / "a.html")
