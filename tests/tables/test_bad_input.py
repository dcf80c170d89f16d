"""What people and ill-wishers hand in, one test each: told in a sentence; nothing is lost, altered, run or fetched."""

import contextlib
import json
import os
import shutil
import socket
import tempfile
import time
import unicodedata
import zipfile
from pathlib import Path

import pytest

from palea import schema
from palea.errors import PackageError, UnsafePackage
from palea.stamp import Stamp
from palea.tables import custom, reading, saving, unpacking, validate
from palea.tables.opening import open_package

WHEN = Stamp("sorrel", "2026-05-06T08:00:00+00:00")
COUNTS, MOVEMENTS, VISITS = (schema.table(n) for n in ("counts", "movements", "visits"))
HEAD, ROW = ",".join(COUNTS.fields), "V1,U1,normal,AV,sorrel,12,,seen,,"
PLAIN = f"{HEAD}\n{ROW}\n"


def told(data, table=COUNTS):
    """(rule, row, field) and the sentences of what is found in the bytes of a file."""
    sheet = reading.read(data, table)
    for finding in sheet.findings:
        for text in (finding.message, finding.remedy):
            assert text[:1].isupper() or not text[:1].isalpha()
            assert text.endswith((".", "?"))
    return [(f.rule, f.row, f.field) for f in sheet.findings], sheet


def cell(table, **cells):
    """The bytes of a file with one row."""
    row = dict.fromkeys(table.fields, "") | {"visit_id": "V1", "movement_id": "M1"} | cells
    row = [row[name] for name in table.fields]
    return (",".join(table.fields) + "\n" + ",".join(f'"{c}"' if "," in c else c for c in row) + "\n").encode()


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32"])
def test_another_encoding_is_named_once_and_nothing_is_read(encoding):
    found, sheet = told(PLAIN.encode(encoding))
    assert found == [("table.encoding", None, "")]
    assert (len(sheet.frame), sheet.broken) == (0, True)


def test_latin_1_is_told_cell_by_cell_with_what_it_may_be():
    found, sheet = told((PLAIN.rstrip() + "café\n").encode("latin-1"))
    assert found == [("cell.encoding", 2, "note")]
    assert sheet.findings[0].message == "“café” is no clean UTF-8 text."
    assert sheet.frame["count"].tolist() == [12]


def test_a_byte_order_mark_is_no_fault_and_survives_no_save(small):
    path = small.folder / "data/taxa.csv"
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    package = saving.adopt(small, WHEN, "from a spreadsheet")
    assert validate.structure(package) == []
    after = saving.save(package.having("taxa", [{"taxon_id": "AM", "scientific_name": "Armeria"}]), WHEN, "entry")
    assert path.read_bytes().startswith(b"taxon_id,")
    assert after["taxa"]["taxon_id"].tolist() == ["AV", "CC", "AM"]


@pytest.mark.parametrize("sign", [";", "\t"])
def test_other_delimiters_with_decimal_commas(sign):
    text = PLAIN.replace(",", sign).replace("12", "1,5")
    assert told(text.encode())[0] == [("table.delimiter", None, "")]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"PK\x03\x04" + b"\0" * 40, "a workbook or a zip"),
        (b"\xd0\xcf\x11\xe0" + b"\0" * 40, "an old workbook"),
        (b"%PDF-1.7\n", "a PDF"),
        (b"\n<!DOCTYPE html><p>Sign in", "a web page"),
        (b"\x1f\x8b\x08\0", "a compressed file"),
        (b"PAR1\x15", "a Parquet file"),
    ],
)
def test_a_file_of_another_kind_is_named(data, says):
    found, sheet = told(data)
    assert found == [("table.kind", None, "")]
    assert f"The file is {says} and no CSV" in sheet.findings[0].message


def test_a_missing_file_is_told_and_the_table_is_empty(small):
    (small.folder / "data/counts.csv").unlink()
    package = open_package(small.folder)
    assert len(package["counts"]) == 0
    assert [f.rule for f in validate.structure(package)] == ["package.file-missing"]


def test_a_label_that_is_there_twice_keeps_the_first_column():
    found, sheet = told(f"{HEAD},count\n{ROW},99\n".encode())
    assert found == [("table.header", None, "count")]
    assert (sheet.frame["count"].tolist(), sheet.broken) == ([12], True)


def test_a_cell_of_10_mb_is_told_by_its_size_and_soon():
    begun = time.perf_counter()
    found, sheet = told(PLAIN.encode().rstrip() + b"x" * 10_000_000 + b"\n")
    assert found == [("cell.size", 2, "note")]
    assert "10000000 characters" in sheet.findings[0].message
    assert len(sheet.findings[0].value) <= 200
    assert time.perf_counter() - begun < 5


def test_a_nul_byte_is_told_where_it_is():
    assert told(PLAIN.replace("seen", "se\0en").encode())[0] == [("cell.encoding", 2, "method")]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("03/04/2026", "“03/04/2026” can be 3 April 2026 or 4 March 2026."),
        ("11/820", "“11/820” is not a date that palea reads."),
        ("45123", "“45123” is how a spreadsheet keeps 2023-07-16 (or, in a workbook that counts from 1904, another day)."),
        ("45123.75", "“45123.75” is how a spreadsheet keeps 2023-07-16 (or, in a workbook that counts from 1904, another day)."),
        ("2026-02-30", "There is no day 2026-02-30 in the calendar."),
    ],
)
def test_dates_that_a_spreadsheet_made_are_never_guessed(text, says):
    found, sheet = told(cell(MOVEMENTS, moved_at=text), MOVEMENTS)
    assert found == [("cell.date", 2, "moved_at")]
    assert sheet.findings[0].message == says
    assert sheet.frame["moved_at"].isna().all()
    assert sheet.unread == {(0, "moved_at"): text}


@pytest.mark.parametrize("first", ["Where,,What,,,,,,,", "Counts of trial G1", "", ",,,,,,,,,", "\n\n"])
def test_a_header_under_merged_cells_or_a_title_is_found(first):
    found, sheet = told(f"{first}\n{PLAIN}".encode())
    assert found == [("table.header-place", None, "")]
    assert (len(sheet.frame), sheet.broken) == (0, True)


@pytest.mark.parametrize("second", ["names", "titles", "units"])
def test_a_second_header_is_one_finding_and_no_row(second):
    table = MOVEMENTS
    says = {
        "names": list(table.fields),
        "titles": [f.title for f in table.fields.values()],
        "units": [f"[{f.unit}]" if f.unit else "" for f in table.fields.values()],
    }[second]
    header, row = cell(table, lot_id="AV-0", moved_at="2024", kind="received").decode().splitlines()
    found, sheet = told("\n".join([header, ",".join(says), row, ""]).encode(), table)
    assert found == [("table.second-header", 2, "")]
    assert sheet.frame["movement_id"].isna().tolist() == [True, False]


def test_a_row_that_only_resembles_a_header_is_a_row():
    found, sheet = told(PLAIN.replace("V1", "visit_id").encode())
    assert (found, sheet.frame["visit_id"].tolist()) == ([], ["visit_id"])


def test_an_empty_file_and_a_header_alone():
    assert told(b"")[0] == [("table.empty", None, "")]
    found, sheet = told(f"{HEAD}\n".encode())
    assert (found, len(sheet.frame), sheet.broken) == ([], 0, False)


def test_columns_that_nobody_describes_are_told_and_kept(small):
    path = small.folder / "data/counts.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("\n", ",x\n"), encoding="utf-8")
    package = saving.adopt(small, WHEN, "a column more")
    assert [f.rule for f in package.misfits("counts")] == ["table.column-extra"]
    after = saving.save(package.having("counts", [{**dict(package["counts"].iloc[0]), "count": 13}]), WHEN, "misread")
    assert after.extra_columns("counts")["x"].tolist() == ["x"] * 4


@pytest.mark.parametrize("word", ["None", "NA", "n/a", "-", "#N/A", "nan"])
def test_words_for_nothing_are_no_numbers_and_no_blanks(word):
    found, sheet = told(cell(MOVEMENTS, mass_g=word, notes=word), MOVEMENTS)
    assert found == [("cell.number", 2, "mass_g")]
    assert sheet.findings[0].remedy.endswith("or leave it blank.")
    assert sheet.frame["notes"].tolist() == [word], "in a text it is a text"


@pytest.mark.parametrize(
    ("text", "remedy"),
    [
        ("12 g", "Write the number alone, 12, since the column is in g."),
        ("12g", "Write the number alone, 12, since the column is in g."),
        ("12 mg", "Write the number alone, converted if need be, since the column is in g."),
        ("ca. 40", "Write 300.0, or leave it blank."),
        ("79,0", "In a file the decimal sign is a point: write 79.0."),
        ("1.234,5", "Write 300.0, or leave it blank."),
        ("< 5", "Write 300.0, or leave it blank."),
    ],
)
def test_numbers_with_something_beside_them_are_never_cut_to_a_number(text, remedy):
    found, sheet = told(cell(MOVEMENTS, mass_g=text), MOVEMENTS)
    assert found == [("cell.number", 2, "mass_g")]
    assert sheet.findings[0].remedy == remedy
    assert sheet.frame["mass_g"].isna().all()


@pytest.mark.parametrize(("text", "value"), [("yes", None), ("No", None), ("1", True), ("0", False), ("TRUE", True)])
def test_truth_in_other_words(text, value):
    found, sheet = told(cell(VISITS, blind=text), VISITS)
    assert found == ([] if value is not None else [("cell.boolean", 2, "blind")])
    assert sheet.frame["blind"].tolist() == [value] or sheet.frame["blind"].isna().all()


def test_line_feeds_in_quotation_marks_and_windows_line_ends_keep_rows_apart():
    found, sheet = told(f'{HEAD}\r\n{ROW}"one\r\ntwo"\r\n{ROW.replace("U1", "U2")}\r\n'.encode())
    assert found == []
    assert sheet.frame["note"].tolist()[0] == "one\r\ntwo"
    assert sheet.frame["unit_id"].tolist() == ["U1", "U2"]


def test_uneven_rows_are_told_and_not_shifted():
    found, sheet = told(f"{HEAD}\n{ROW},\n{ROW[:-2]}\n{ROW}\n".encode())
    assert found == [("table.row", 2, ""), ("table.row", 3, "")]
    assert sheet.frame["count"].isna().tolist() == [True, False, False]


ARMERIA = [{"taxon_id": "AM", "scientific_name": "Armeria"}]


@pytest.fixture
def anyones(built):
    """A copy of a package in a place that every user can reach."""
    with tempfile.TemporaryDirectory() as place:
        os.chmod(place, 0o755)  # noqa: PTH101
        # Once with all rights: what is read when first asked for, as the schema, may lie where nobody else can look.
        saved = saving.save(open_package(shutil.copytree(built, f"{place}/first")).having("taxa", ARMERIA), WHEN, "entry")
        assert len(saved["taxa"]) > 0
        yield Path(shutil.copytree(built, f"{place}/p"))


@contextlib.contextmanager
def without_rights():
    """As somebody without rights: the tests may run as root, who has all of them."""
    root = os.geteuid() == 0
    try:
        if root:
            os.seteuid(65534)
        yield
    finally:
        if root:
            os.seteuid(0)


@pytest.mark.skipif(os.name != "posix", reason="permissions are set in another way there")
@pytest.mark.parametrize("kept_out", [".", "datapackage.json", "data/taxa.csv", "data"])
def test_a_place_without_permission_is_told(kept_out, anyones):
    (anyones / kept_out).chmod(0)
    with without_rights(), pytest.raises(PackageError, match=r"Permission denied.*permissions") as error:
        open_package(anyones)["taxa"]
    (anyones / kept_out).chmod(0o755)
    assert str(error.value).count(".") < 6
    assert len(open_package(anyones)["taxa"]) == 2


@pytest.mark.skipif(os.name != "posix", reason="permissions are set in another way there")
def test_a_folder_that_cannot_be_written_is_told_and_stays(anyones):
    before = {p: p.read_bytes() for p in anyones.rglob("*") if p.is_file()}
    if os.geteuid():
        anyones.chmod(0o555)
    with without_rights():
        package = open_package(anyones).having("taxa", ARMERIA)
        with pytest.raises(PackageError, match="Nothing was changed; look at its permissions"):
            saving.save(package, WHEN, "entry")
    anyones.chmod(0o755)
    assert {p: p.read_bytes() for p in anyones.rglob("*") if p.is_file()} == before


def zip_of(path, entries, **how):
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, **how) as archive:
        for name, data in entries:
            archive.writestr(name, data)
    return path


REFUSED = {
    "climbs out": [("../x.csv", "x")],
    "absolute": [("/x.csv", "x")],
    "hidden": [(".x/a.csv", "x")],
    "device": [("data/aux.csv", "x")],
    "case": [("data/a.csv", "x"), ("data/A.csv", "x")],
    "two ways to write é": [(f"data/{unicodedata.normalize(form, 'é')}.csv", "x") for form in ("NFC", "NFD")],
    "a file that is a folder": [("data", "x"), ("data/a.csv", "x")],
    "a bomb by its ratio": [("data/a.csv", b"0" * 20_000_000)],
    "a bomb of many small files": [(f"data/{n}.csv", b"0" * 1_000_000) for n in range(100)],
}


@pytest.mark.parametrize("trick", REFUSED)
def test_zips_with_tricks_are_refused_before_anything_is_written(tmp_path, trick, monkeypatch):
    made = []
    monkeypatch.setattr(unpacking.tempfile, "mkdtemp", lambda **k: made.append(k))
    with pytest.raises(UnsafePackage, match="Nothing was unpacked; ask whoever sent it"):
        open_package(zip_of(tmp_path / "a.zip", REFUSED[trick]))
    assert made == []


def test_a_zip_under_a_password_is_refused(tmp_path):
    path = zip_of(tmp_path / "a.zip", [("datapackage.json", "{}")])
    data = bytearray(path.read_bytes())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):  # bit 0 of the flags, as the format's paper says
        data[data.index(mark) + offset] |= 1
    path.write_bytes(data)
    with pytest.raises(UnsafePackage, match="under a password"):
        open_package(path)


def test_a_zip_in_a_zip_is_a_file_that_nobody_opens(built, tmp_path):
    inner = zip_of(tmp_path / "inner.zip", [("../slipped-out", "x")])
    files = [(p.relative_to(built).as_posix(), p.read_bytes()) for p in built.rglob("*") if p.is_file()]
    outer = zip_of(
        tmp_path / "a.zip", [*((n, d) for n, d in files if not n.startswith(".")), ("more.zip", inner.read_bytes())]
    )
    package = open_package(outer)
    assert package.file("more.zip").read_bytes() == inner.read_bytes()
    assert not (package.folder.parent / "slipped-out").exists()
    with pytest.raises(PackageError, match=r"holds no datapackage\.json"):
        open_package(zip_of(tmp_path / "b.zip", [("a.zip", outer.read_bytes())]))


def test_a_link_out_of_the_folder_is_not_followed(small, tmp_path):
    (tmp_path / "secret.csv").write_text("taxon_id\nX\n", encoding="utf-8")
    (small.folder / "data/taxa.csv").unlink()
    (small.folder / "data/taxa.csv").symlink_to(tmp_path / "secret.csv")
    with pytest.raises(UnsafePackage, match="goes through a link"):
        open_package(small.folder)["taxa"]


@pytest.mark.parametrize("key", ["path", "schema", "dialect", "profile"])
def test_an_address_is_never_fetched(build, small, key, monkeypatch):
    monkeypatch.setattr(socket, "getaddrinfo", lambda *a, **_: pytest.fail(f"asked the network for {a}"))
    own = {"name": "own", "path": "data/own.csv", key: "http://example.org/x.json"}
    build.edit(small.folder, lambda raw: raw["resources"].append(own))
    with pytest.raises(UnsafePackage, match="points to the network"):
        open_package(small.folder)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b'{"a":' * 5000 + b"1" + b"}" * 5000, "cannot be read as JSON"),
        (b'{"a": "' + b"x" * 9_000_000 + b'"}', "palea reads 8388608 at most"),
        ('{"title": "café", "resources": []}'.encode("latin-1"), "it is no UTF-8 text"),
        ('{"resources": []}'.encode("utf-16"), "it is no UTF-8 text"),
        (b'{"resources": [], "version": NaN}', "NaN is no number"),
        (b'{"resources": [{"name": ["a"], "path": 7}]}', "does not list its files"),
        (b'{"resources": "all"}', "does not list its files"),
        (b'{"version": ' + b"9" * 6000 + b', "resources": []}', "cannot be read as JSON"),
        (b"\0\1\2", "cannot be read as JSON"),
    ],
)
def test_hostile_and_broken_descriptors_are_refused(tmp_path, data, says):
    (tmp_path / "datapackage.json").write_bytes(data)
    with pytest.raises(PackageError, match=says) as error:
        open_package(tmp_path)
    assert "codec" not in str(error.value)
    assert str(error.value).endswith(".")


@pytest.mark.parametrize("where", ["column", "table"])
def test_a_pattern_that_would_run_for_years_is_stopped(build, small, monkeypatch, where):
    """Catastrophic backtracking: OWASP on regular expression denial of service, (a+)+$ against aaaa...!"""
    monkeypatch.setattr(custom, "PATIENCE", 2)
    evil, victim = {"type": "string", "constraints": {"pattern": "(a+)+b"}}, "a" * 40 + "!"
    if where == "column":
        path = small.folder / "schema/lots.json"
        raw = json.loads(path.read_text(encoding="utf-8"))
        raw["fields"].append({"name": "own", **evil})
        path.write_text(json.dumps(raw), encoding="utf-8")
        lots = small.folder / "data/lots.csv"
        head, *rows = lots.read_text(encoding="utf-8").splitlines()
        lots.write_text("\n".join([f"{head},own", *(f"{row},{victim}" for row in rows)]) + "\n", encoding="utf-8")
    else:
        (small.folder / "data/own.csv").write_text(f"a\n{victim}\n", encoding="utf-8")
        own = {"name": "own", "path": "data/own.csv", "schema": {"fields": [{"name": "a", **evil}]}}
        build.edit(small.folder, lambda raw: raw["resources"].append(own))
    begun = time.perf_counter()
    found = [f for f in validate.structure(open_package(small.folder)) if f.rule == "custom.invalid"]
    assert [f.message for f in found] == [
        f"{'lots' if where == 'column' else 'own'} cannot be checked: one of its patterns takes longer than 2 seconds."
    ]
    assert time.perf_counter() - begun < 20


def test_a_pattern_of_ones_own_still_counts(build, small):
    (small.folder / "data/own.csv").write_text("a\nx1\nyy\n", encoding="utf-8")
    fields = [{"name": "a", "type": "string", "constraints": {"pattern": "[a-z][0-9]"}}]
    own = {"name": "own", "path": "data/own.csv", "schema": {"fields": fields}}
    build.edit(small.folder, lambda raw: raw["resources"].append(own))
    found = [f for f in validate.structure(open_package(small.folder)) if f.rule == "custom.invalid"]
    assert [(f.table, f.row, f.field) for f in found] == [("own", 3, "a")]


def test_a_formula_is_text_and_stays_text(small):
    """OWASP on CSV injection: nothing here runs it, and nothing alters what was archived."""
    formula = '=HYPERLINK("http://example.org","x")'
    after = saving.save(small.having("lots", [{"lot_id": "AV-1", "notes": formula}]), WHEN, "entry")
    assert after["lots"]["notes"].tolist()[1] == formula
    assert validate.structure(after) == []
