"""A laboratory's own sheets, in the styles that laboratories write them; expected rows were read off them by hand."""

import json
from pathlib import Path

import openpyxl
import pytest
from openpyxl.styles import PatternFill

from palea.bench import take_in
from palea.bench.take_in import grid, layout, names, written
from palea.bench.take_in.mapping import Mapping, parse
from palea.errors import EntryError, PaleaError

DATA = Path(__file__).parent / "take_in" / "data"
BY = {"by": "sorrel"}


def look(package, sheet, reason="import", **said):
    return take_in.look(package, sheet if isinstance(sheet, Path) else DATA / sheet, take_in.Wishes(Mapping(**said), reason=reason))


def counted(package, visit):
    """{(code of the dish, outcome): number} of a visit."""
    codes = package["units"].set_index("unit_id")["code"]
    rows = package["counts"][lambda c: c["visit_id"].eq(visit)]
    return {(codes[u], o): n for u, o, n in zip(rows["unit_id"], rows["outcome"], rows["count"], strict=True)}


def test_two_rows_of_headings_with_semicolons_and_a_row_of_totals(small, stamp):
    seen = look(small, "two_headings.csv", **BY)
    assert [c.means("counts") for c in seen.columns[2:4]] == ["Normal seedling, day 3", "Abnormal seedling, day 3"]
    assert [row for row, _ in seen.left_out] == [7, 8]
    assert "totals" in seen.left_out[0][1]
    assert [(f.row, f.field, f.value) for f in seen.not_understood] == [(4, "G", "nd")]
    assert "no running total" in " ".join(seen.told)
    after = take_in.keep(seen, stamp)
    assert counted(after, "G1-D11") == {("D05", "normal"): 3, ("D05", "abnormal"): 0, ("D01", "abnormal"): 0,
                                        ("D07", "normal"): 1, ("D07", "abnormal"): 1}  # fmt: skip
    visit = after["visits"].set_index("visit_id").loc["G1-D11"]
    assert (visit["visited_at"], visit["counting"], visit["looked_for"]) == ("2025-03-12", "new", "normal; abnormal")
    assert "two_headings.csv" in after.journal()[-1]["words"]


def test_what_a_code_means_is_said_once_and_kept_with_the_mapping(small, stamp):
    seen = look(small, "two_headings.csv", **BY, codes={"nd": "not looked"})
    assert seen.not_understood == ()
    after = take_in.keep(seen, stamp)
    blank = after["counts"][lambda c: c["visit_id"].eq("G1-D11") & c["count"].isna()]
    assert blank["missing"].tolist() == ["not looked"]
    kept = json.loads((after.folder / "mappings" / "two_headings.json").read_text(encoding="utf-8"))
    assert (kept["codes"], kept["by"], kept["table"]) == ({"nd": "not looked"}, "sorrel", "counts")
    again = look(after, "two_headings.csv")
    assert (again.known, again.asks, again.not_understood, again.taken) == ("two_headings", (), (), {})


def test_a_count_that_is_saved_changes_only_with_a_reason(small, stamp, tmp_path):
    sheet = tmp_path / "again.csv"
    sheet.write_text("dish,visit,normal\nD05,G1-D07,8\nD01,G1-D07,6\n", encoding="utf-8")
    seen = look(small, sheet)
    assert [(f.rule, f.row, f.field) for f in seen.not_understood] == [("take-in.saved", 2, "C")]
    assert seen.taken == {}
    with pytest.raises(EntryError, match=r"no row of again\.csv is new"):
        take_in.keep(seen, stamp)
    after = take_in.keep(look(small, sheet, reason="misread"), stamp)
    assert counted(after, "G1-D07")["D05", "normal"] == 8
    assert (after.journal()[-1]["old"], after.journal()[-1]["reason"]) == ("5", "misread")


def test_long_rows_with_dates_day_first_and_what_is_not_understood_by_row_and_column(small, tmp_path):
    sheet = tmp_path / "latin.csv"
    sheet.write_bytes((DATA / "long_day_first.csv").read_text(encoding="utf-8").replace("Remarks", "Remarks é").encode("cp1252"))
    seen = look(small, sheet, counting="new")
    assert "Windows-1252" in " ".join(seen.told)
    assert "day first, since “18.3.2025”" in " ".join(seen.told)
    assert [(f.rule, f.row, f.field) for f in seen.not_understood] == [
        ("take-in.unit", 4, "A"), ("take-in.outcome", 5, "C"), ("take-in.twice", 7, "D"),
    ]  # fmt: skip
    rows = {(r["visit_id"], r["outcome"]): r["count"] for r in seen.rows["counts"]}
    assert rows == {("G1-2025-03-12", "normal"): "1", ("G1-2025-03-12", "abnormal"): "0", ("G1-2025-03-18", "normal"): "2"}
    assert {r["observer"] for r in seen.rows["counts"]} == {"sorrel"}


def test_counts_that_only_rise_are_asked_about(small, stamp):
    seen = look(small, "rising.csv", **BY, outcome="germinated")
    assert [a.what for a in seen.asks] == ["counting"]
    assert seen.proposal is None
    with pytest.raises(EntryError, match="--counting"):
        take_in.keep(seen, stamp)
    after = look(small, "rising.csv", **BY, outcome="germinated", counting="cumulative")
    assert {v["counting"] for v in after.rows["visits"]} == {"cumulative"}
    assert after.taken == {"visits": 3, "counts": 9}


def test_what_nothing_says_is_asked_and_not_guessed(small):
    asks = {a.what for a in look(small, "rising.csv").asks}
    assert asks == {"outcome", "counting", "by"}
    dates = look(small, "two_ways.csv", **BY, outcome="normal", counting="new")
    assert [a.what for a in dates.asks] == ["dates"]
    assert "04/03/2025" in dates.asks[0].says
    said = look(small, "two_ways.csv", **BY, outcome="normal", counting="new", dates="day first")
    assert (said.asks, said.rows) == ((), {})
    assert "2 counts are saved already, as the sheet says." in said.told


def test_a_row_a_seed_becomes_counts_of_days(small, stamp):
    asked = look(small, "a_row_a_seed.csv", **BY)
    assert [a.what for a in asked.asks] == ["outcome"]
    seen = look(small, "a_row_a_seed.csv", **BY, outcome="germinated")
    assert "6 seeds in 2 units, 4 of them seen, on 2 days" in " ".join(seen.told)
    assert "3 rows and 25 seed units sown" in " ".join(seen.told)
    after = take_in.keep(seen, stamp)
    assert counted(after, "G1-D11") == {("D05", "germinated"): 1, ("D01", "germinated"): 0}
    assert counted(after, "G1-D14") == {("D05", "germinated"): 1, ("D01", "germinated"): 2}


def test_rows_of_a_table_with_units_decimal_commas_and_typed_values_in_the_journal(small, stamp):
    given = {"movement_id": "M-{row}"}
    seen = look(small, "movements.csv", given=given, codes={"NA": "not recorded"})
    assert (seen.table, seen.asks) == ("movements", ())
    assert "× 0.001" in " ".join(seen.told)
    assert [(f.row, f.field, f.value) for f in seen.not_understood] == [(4, "D", "ca. 40")]
    assert [(f.rule, f.row) for f in seen.refused] == [("link.broken", 5)]
    after = take_in.keep(seen, stamp)
    rows = after["movements"].set_index("movement_id")
    assert rows["mass_g"].dropna().to_dict() == {"M-2": 1.2505, "M-3": 0.9}
    assert rows["moved_at"].tolist()[:2] == ["2025-01-13", "2025-02-05"]
    assert rows.loc["M-3", ["lot_id", "kind", "seed_units"]].tolist() == ["AV-T01-2", "received", 120]
    line = next(entry for entry in after.journal() if entry["table"] == "movements" and "M-2" in entry["row"])
    assert json.loads(line["typed_value"]) == {"mass_g": "1250,5"}
    assert (line["typed_unit"], line["typed_factor"]) == ("mg", 0.001)


def test_a_logger_with_lines_above_its_table(small, stamp):
    small = small.having("equipment", [{"equipment_id": "L1", "kind": "logger", "serial": "77A1"}])
    seen = look(small, "logger.csv")
    assert {a.what for a in seen.asks} == {"given.quantity", "given.equipment_id"}
    given = {"quantity": "temperature", "equipment_id": "77A1", "environment_id": "G1-20"}
    seen = look(small, "logger.csv", given=given)
    assert "PDT, -07:00" in " ".join(seen.told)
    assert "Years of two digits are read as 20.." in seen.told
    assert [(f.rule, f.row) for f in seen.not_understood] == [("take-in.twice", 8)]
    assert [(r["logged_at"], r["value"], r["unit"], r["equipment_id"]) for r in seen.rows["conditions"]] == [
        ("2025-03-15T11:55-07:00", "18.5", "Cel", "L1"), ("2025-03-15T12:55-07:00", "20.0", "Cel", "L1"),
        ("2025-03-16T00:55-07:00", "9.0", "Cel", "L1"),
    ]  # fmt: skip
    assert seen.taken == {"conditions": 3}


@pytest.fixture
def book(tmp_path):
    """A workbook as people make them: a title, a heading merged over columns, a percentage, a formula, a coloured cell."""
    made = openpyxl.Workbook()
    ws = made.active
    ws.append(["Trial: G1"])
    ws.append([])
    ws.append(["Dish", "12 Mar 2025", None, "% germination"])
    ws.append([None, "normal", "abnormal", None])
    ws.append(["D05", 3, 0, 0.4])
    ws.append(["D01", "=1+1", 1, 0.3])
    ws.merge_cells("B3:C3")
    ws["C6"].fill = PatternFill("solid", start_color="FFFF00")
    made.create_sheet("Notes").append(["Nothing to see"])
    made.save(tmp_path / "book.xlsx")
    return tmp_path / "book.xlsx"


def test_a_workbook_with_merged_headings_says_what_it_cannot_hand_over(small, book):
    seen = look(small, book, **BY, counting="new")
    told = " ".join(seen.told)
    assert "Worksheet" not in told
    assert all(text in told for text in ("the sheets Sheet, Notes", "merged", "C6: marked by colour"))
    assert [(f.rule, f.row, f.field) for f in seen.not_understood] == [("take-in.cell", 6, "B")]
    assert {(r["unit_id"], r["outcome"]): r["count"] for r in seen.rows["counts"]} == {
        ("G1-AV-T01-1-1", "normal"): "3", ("G1-AV-T01-1-1", "abnormal"): "0", ("G1-AV-T01-1-2", "abnormal"): "1",
    }  # fmt: skip
    assert seen.rows["visits"][0]["visited_at"] == "2025-03-12"
    assert seen.columns[3].why.startswith("not taken in: a total")


def test_a_dish_merged_over_its_rows_is_read_in_each_and_a_merged_number_is_not(small, tmp_path):
    made = openpyxl.Workbook()
    for row in (["Dish", "Visit", "Category", "Count"], ["D05", "G1-D11", "normal", 3], [None, "G1-D11", "abnormal", None]):
        made.active.append(row)
    made.active.merge_cells("A2:A3")
    made.active.merge_cells("D2:D3")
    made.save(tmp_path / "m.xlsx")
    seen = grid.read(tmp_path / "m.xlsx")
    assert seen.cells[2][0] == "D05"
    assert [(r, c) for r, c, _ in seen.odd] == [(1, 3)]


@pytest.mark.parametrize(
    ("text", "order", "told"),
    [
        ("4/3/2025", "day first", "2025-03-04"), ("4/3/2025", "month first", "2025-04-03"),
        ("4.3.25 9:05", "day first", "2025-03-04T09:05+01:00"),
        ("4 Mar 2025", "", "2025-03-04"), ("2025/3/4", "", "2025-03-04"), ("12/31/20 12:05:30 AM", "", "2020-12-31T00:05:30+01:00"),
        ("2025-03-04T09:00Z", "", "2025-03-04T09:00Z"), ("2025-03-04T09:00-07:00", "", "2025-03-04T09:00-07:00"),
        ("31/2/2025", "", ""),
        ("5/5/2025", "", "2025-05-05"), ("4/3/2025", "", ""), ("soon", "", ""),
    ],
)  # fmt: skip
def test_dates_as_people_write_them(text, order, told):
    assert written.moment(text, order, "+01:00")[0] == told


def test_only_what_passes_is_kept_and_the_rest_is_told_with_its_row(small, stamp, tmp_path):
    sheet = tmp_path / "many.csv"
    sheet.write_text("dish,2025-03-20\nD05,2\nD01,40\n", encoding="utf-8")
    seen = look(small, sheet, **BY, outcome="normal", counting="new")
    assert [(f.rule, f.row, f.field) for f in seen.refused] == [("germination.more-than-sown", 3, "B")]
    after = take_in.keep(seen, stamp)
    assert counted(after, "G1-2025-03-20") == {("D05", "normal"): 2}


def test_a_visit_before_sowing_takes_its_own_counts_alone(small, tmp_path):
    sheet = tmp_path / "early.csv"
    sheet.write_text("plot,2025-02-20,2025-03-20\nD05,2,1\nD01,0,1\n", encoding="utf-8")
    plots = small.having("units", [{"unit_id": u, "kind": "plot"} for u in small["units"]["unit_id"]])
    seen = look(plots, sheet, **BY, outcome="emerged", counting="new")
    assert {f.row for f in seen.refused} == {2, 3}
    assert seen.taken == {"visits": 1, "counts": 2}
    assert {r["visit_id"] for r in seen.proposal.rows["counts"]} == {"G1-2025-03-20"}


def test_units_put_together_of_several_columns_and_rows_that_are_skipped(small, tmp_path):
    sheet = tmp_path / "parts.csv"
    sheet.write_text("Kind,Rep,No,Stand A\nT01,1,1,3\nT01,1,2,4\nblank,0,0,9\n", encoding="utf-8")
    seen = look(small, sheet, given={"unit_id": "G1-AV-{Kind}-{Rep}-{No}"}, skip={"Kind": ["blank"]},
                columns={"Stand A": {"outcome": "normal", "visit": "G1-D07"}}, reason="re-count")  # fmt: skip
    assert {r["unit_id"]: r["count"] for r in seen.rows["counts"]} == {"G1-AV-T01-1-1": "3", "G1-AV-T01-1-2": "4"}
    assert "1 row was left out" in " ".join(seen.told)


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("a.ods", b"PK\x03\x04", "damaged"),
        ("a.xls", b"\xd0\xcf\x11\xe0", "old workbook"),
        ("a.xlsx", b"PK\x03\x04 broken", "damaged"),
        ("a.csv", b"\n\n , \n", "no cell"),
        ("a.csv", b'"' + b"a,b\n" * 30_000, "quotation mark"),
        ("a.csv", b"a,b\nc," + b"x" * 20_000, "row 2: a cell is longer"),
        ("a.exe", b"MZ", ".csv or .xlsx"),
    ],
)
def test_a_file_that_cannot_be_read_says_what_to_do(small, tmp_path, name, data, says):
    (tmp_path / name).write_bytes(data)
    with pytest.raises(PaleaError, match=says.replace(".", r"\.")):
        look(small, tmp_path / name)


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"{", "JSON"), (b"[]", "no mapping"), (b'{"tabel": "x"}', "tabel"), (b'{"dates": "us"}', "day first or month first"),
        (b'{"codes": []}', "pairs"), (b'{"headings": "1"}', "row numbers"), (b'{"skip": {"A": "x"}}', "wrong kind"),
    ],
)  # fmt: skip
def test_a_mapping_that_makes_no_sense_is_refused_by_name(raw, says):
    with pytest.raises(PaleaError, match=says):
        parse(raw, "my.json")


def test_a_text_in_braces_is_put_in_and_nothing_else_is_run():
    from palea.bench.take_in.mapping import filled

    assert filled("{A}-{B.__class__}-{row}", {"A": "x", "row": "3"}) == "x-{B.__class__}-3"


def test_separators_encodings_and_repeated_headings(tmp_path):
    (tmp_path / "t.tsv").write_bytes("a\tb\n1\t2\na\tb\n3\t4\n".encode("utf-8-sig"))
    read = grid.read(tmp_path / "t.tsv")
    assert read.separator == "\t"
    laid = layout.find(read)
    assert (laid.body, laid.left_out) == ((1, 3), ((2, "the heading again"),))
    (tmp_path / "u.csv").write_bytes("a;b\n1,5;2,5\n".encode("utf-16"))
    assert grid.read(tmp_path / "u.csv").cells == (("a", "b"), ("1,5", "2,5"))
    (tmp_path / "v.csv").write_text("a;b;c\n" + "1,5;2,5;3\n" * 4, encoding="utf-8")  # by commas it would be three cells, too
    assert grid.read(tmp_path / "v.csv").cells[1] == ("1,5", "2,5", "3")


@pytest.mark.parametrize(
    ("text", "name", "unit"),
    [
        ("Mass (mg)", "Mass", "mg"), ("Temp [°C]", "Temp", "Cel"), ("Volume, ml", "Volume", "mL"),
        ("Moisture (%)", "Moisture", "%"), ("Dose (kg/ha)", "Dose", "kg/har"),
        ("Plot (old)", "Plot (old)", ""), ("Depth (in)", "Depth", "[in_i]"),
    ],
)  # fmt: skip
def test_units_in_headings(text, name, unit):
    assert written.heading(text) == (name, unit)


@pytest.mark.parametrize(
    ("text", "day"),
    [("d7", 7), ("Day 14", 14), ("21", 21), ("Tag 3", 3), ("w2", 14), ("D031", None), ("T05", None), ("normal", None)],
)
def test_days_in_headings(text, day):
    assert names.day(text) == day


def test_counts_with_decimals_or_signs_of_per_cent_are_told_and_never_rounded(small, tmp_path):
    sheet = tmp_path / "odd.csv"
    sheet.write_text("dish,2025-03-20\nD05,3.0\nD01,50%\nD07,2.5\nD03,1e2\n", encoding="utf-8")
    seen = look(small, sheet, **BY, outcome="normal", counting="new")
    assert [f.value for f in seen.not_understood] == ["50%", "2.5", "1e2"]
    assert [r["count"] for r in seen.rows["counts"]] == ["3"]


def test_decimal_signs_are_told_by_numbers_that_can_be_nothing_else():
    assert written.decimal_of(["1,234", "3,5"]) == ","
    assert written.decimal_of(["1,234", "3.5"]) == "."
    assert written.decimal_of(["1,234"], ";") == ","
    assert written.decimal_of(["1,234"], ",") == "."
    assert written.number("1.234,56", ",") == "1234.56"
    assert written.number("1,234", ".") == "1,234"  # left for the reader of the field, which says that it has two meanings
