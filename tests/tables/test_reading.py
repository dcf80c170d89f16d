"""Files as people send them. Nothing raises; what cannot be read is missing and told."""

import hashlib

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea import schema
from palea.tables import reading, writing
from palea.tables.sheet import DTYPES, TEXT

TAXA, LOTS, COUNTS = (schema.table(n) for n in ("taxa", "lots", "counts"))
HEAD = ",".join(COUNTS.fields)
ROW = "V1,U1,normal,AV,sorrel,12,,seen,,"


def counts(*rows, head=HEAD, end="\n"):
    return reading.read((end.join([head, *rows]) + end).encode(), COUNTS)


def told(sheet):
    return [(f.rule, f.row, f.field) for f in sheet.findings]


def test_every_column_is_there_in_order_and_typed():
    sheet = counts(ROW)
    assert list(sheet.frame) == list(COUNTS.fields)
    for name, field in COUNTS.fields.items():
        assert sheet.frame[name].dtype == DTYPES.get(field.type, TEXT)
    assert sheet.frame["count"].tolist() == [12]
    assert sheet.frame["note"].isna().all()
    assert sheet.findings == ()
    assert sheet.sha256 == hashlib.sha256(f"{HEAD}\n{ROW}\n".encode()).hexdigest()


@pytest.mark.parametrize("text", ["NA", "nan", "null", "None", "-", "N/A", "#N/A"])
def test_only_an_empty_cell_is_missing(text):
    sheet = counts(ROW + text)
    assert sheet.frame["note"].tolist() == [text]


@pytest.mark.parametrize(
    ("cell", "rule", "value"),
    [
        ("ca. 40", "cell.number", "ca. 40"),
        ("12.5", "cell.integer", "12.5"),
        ("1e3", "cell.integer", "1e3"),
        ("9" * 25, "cell.integer", "9" * 25),
        (" 12", "cell.number", " 12"),
        ("٣", "cell.number", "٣"),
        ("1_0", "cell.number", "1_0"),
    ],
)
def test_text_in_a_number_column_is_missing_and_told(cell, rule, value):
    sheet = counts(ROW, ROW.replace("U1", "U2").replace(",12,", f",{cell},"))
    assert sheet.frame["count"].tolist() == [12, pd.NA]
    assert told(sheet) == [(rule, 3, "count")]
    assert sheet.findings[0].value == value
    assert sheet.unread == {(1, "count"): value}


def test_a_decimal_comma_in_quotes_is_told_with_the_point():
    table = schema.table("movements")
    body = (
        ",".join(table.fields)
        + "\n"
        + ",".join({"movement_id": "M", "mass_g": '"79,0"'}.get(n, "") for n in table.fields)
        + "\n"
    )
    sheet = reading.read(body.encode(), table)
    assert sheet.findings[0].remedy == "In a file the decimal sign is a point: write 79.0."
    assert sheet.frame["mass_g"].isna().all()


def test_a_decimal_comma_without_quotes_shifts_cells_so_nothing_of_the_row_is_kept():
    sheet = counts(ROW.replace(",12,", ",1,2,"))
    assert told(sheet) == [("table.row", 2, "")]
    assert "11 cells, the header has 10" in sheet.findings[0].message
    assert sheet.frame.isna().all(axis=None)
    assert sheet.broken


def test_a_short_row_keeps_its_cells():
    sheet = counts("V1,U1,normal,AV,sorrel,12,,seen")
    assert told(sheet) == [("table.row", 2, "")]
    assert sheet.frame["count"].tolist() == [12]
    assert sheet.broken


@pytest.mark.parametrize("blank", ["", ",,,,,,,,,"])
def test_a_blank_row_stays_a_row_so_that_line_numbers_fit(blank):
    sheet = counts(ROW, blank, ROW.replace("12", "x"))
    assert told(sheet) == [("table.blank-row", 3, ""), ("cell.number", 4, "count")]


@pytest.mark.parametrize(
    ("head", "rules"),
    [
        (HEAD.replace("note", "nota"), [("table.column-missing", None, "note"), ("table.column-extra", None, "nota")]),
        (HEAD.replace("note", "Note"), [("table.column-missing", None, "note"), ("table.column-extra", None, "Note")]),
        (HEAD.replace("note", "count"), [("table.header", None, "count"), ("table.column-missing", None, "note")]),
        (HEAD.replace("note", ""), [("table.header", None, ""), ("table.column-missing", None, "note")]),
        (HEAD.replace("method,out_of", "out_of,method"), [("table.column-order", None, "")]),
    ],
)
def test_headers(head, rules):
    sheet = counts(ROW.replace("seen", ""), head=head)
    assert told(sheet) == rules
    assert sheet.frame["visit_id"].tolist() == ["V1"]
    assert sheet.frame["count"].tolist() == [12]


def test_a_near_label_is_named():
    assert counts(ROW, head=HEAD.replace("note", "Note")).findings[-1].remedy == "If it is “note”, name it so."


@pytest.mark.parametrize(("sign", "name"), [(";", "semicolons"), ("\t", "tabs"), ("|", "bars")])
def test_other_delimiters_are_named_and_nothing_is_read(sign, name):
    sheet = counts(ROW.replace(",", sign), head=HEAD.replace(",", sign))
    assert told(sheet) == [("table.delimiter", None, "")]
    assert name in sheet.findings[0].message
    assert len(sheet.frame) == 0


@pytest.mark.parametrize("data", [b"", b"\n\n", b"\xef\xbb\xbf", b"   "])
def test_an_empty_file_is_told(data):
    sheet = reading.read(data, COUNTS)
    assert [f.rule for f in sheet.findings] == ["table.empty"]
    assert list(sheet.frame) == list(COUNTS.fields)


def test_a_byte_order_mark_and_windows_line_ends_are_fine():
    sheet = reading.read(b"\xef\xbb\xbf" + f"{HEAD}\r\n{ROW}\r\n".encode(), COUNTS)
    assert sheet.findings == ()
    assert sheet.frame["visit_id"].tolist() == ["V1"]


@pytest.mark.parametrize("cell", [b"caf\xe9", b"a\x00b", b"\xff\xfe"])
def test_bytes_that_are_no_utf8_are_told_where_they_are(cell):
    sheet = reading.read(
        f"{HEAD}\n{ROW}".encode() + cell + b"\n" + ROW.replace("U1", "U2").encode() + b"good\n", COUNTS
    )
    assert told(sheet) == [("cell.encoding", 2, "note")]
    assert sheet.frame["note"].tolist() == [pd.NA, "good"]
    assert sheet.broken


def test_a_huge_cell_is_not_kept():
    sheet = counts(ROW + "x" * 200_000)
    assert told(sheet) == [("cell.size", 2, "note")]


def test_a_quotation_mark_that_never_closes():
    sheet = counts(ROW + '"abc', ROW, ROW)
    assert len(sheet.frame) == 1
    assert sheet.frame["note"].iloc[0].startswith("abc")


def test_words_ids_and_keys():
    """A word that is not allowed is missing, but a key column keeps its text, so that its row is still found."""
    sheet = counts(ROW.replace("normal", "norml").replace("seen", "sene").replace("U1", "U 1"))
    assert told(sheet) == [("cell.pattern", 2, "unit_id"), ("cell.word", 2, "outcome"), ("cell.word", 2, "method")]
    assert sheet.frame[["unit_id", "outcome"]].iloc[0].tolist() == ["U 1", "norml"]
    assert sheet.frame["method"].isna().all()


def test_a_million_equal_faults_fold_into_one():
    sheet = counts(*[ROW.replace("seen", "sene").replace("U1", f"U{n}") for n in range(5000)])
    assert [(f.count, f.rows) for f in sheet.findings] == [(5000, (2, 3, 4, 5, 6))]


CELLS = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=8) | st.sampled_from(
    ["", '"', ",", "\n", "a\r\nb", " x", "x ", "1", "-2.5", "2026-02", "it's", 'say "no"', "'"]
)


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(*[CELLS] * 3), min_size=1, max_size=6))
def test_what_is_written_reads_back_and_both_ways_of_reading_agree(rows):
    """Round trip, through pyarrow where the file is plain and through Python's csv module always."""
    names = ["taxon_id", "authorship", "notes"]
    columns = {name: [row[i] or None for row in rows] for i, name in enumerate(names)}
    import pyarrow as pa

    data = writing.csv_bytes({n: pa.array(values, pa.string()) for n, values in columns.items()})
    labels, quick, _ = reading.texts(data, TAXA)
    slow = reading._carefully(data, labels, reading.Found("taxa"))
    assert labels == names
    for name in names:
        assert quick[name].cast(pa.string()).to_pylist() == slow[name].cast(pa.string()).to_pylist() == columns[name]


@settings(max_examples=300, deadline=None)
@given(
    st.binary(max_size=200)
    | st.lists(
        st.sampled_from([b'"', b",", b"\n", b"\r", b"a", b"1", b"\xe9", b"\0", b";", b"taxon_id"]), max_size=40
    ).map(b"".join)
)
def test_no_bytes_raise(data):
    for body in (data, ",".join(TAXA.fields).encode() + b"\n" + data):
        sheet = reading.read(body, TAXA)
        assert list(sheet.frame) == list(TAXA.fields)


@settings(max_examples=300, deadline=None)
@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_read_back_to_the_last_bit(value):
    table = schema.table("movements")
    frame = pd.DataFrame(
        {
            n: pd.array([value if n == "mass_g" else pd.NA], dtype=DTYPES.get(f.type, TEXT))
            for n, f in table.fields.items()
        }
    )
    sheet = reading.read(writing.csv_bytes(writing.texts_of(frame)), table)
    assert sheet.frame["mass_g"].tolist() == [value]
