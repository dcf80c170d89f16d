"""Logged conditions of millions of rows: read and checked in blocks, and told day by day.

A table this long is never held whole. Each block of the file is checked as it passes; what stays is a row a logger,
quantity and day, with how much of the day was logged, the longest silence, and where a clock was put forward or back.
"""

import hashlib
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
import pandas as pd
import pyarrow as pa
from pyarrow import csv as arrow_csv

from palea import schema
from palea.tables import formats, moments, writing
from palea.tables.found import MANY, Found
from palea.tables.series import Series
from palea.tables.sheet import frame_of

LARGE = 64 * 1024**2  # bytes of a file beyond which it is read in blocks
BLOCK = 2 * 1024**2  # bytes; a few blocks are read ahead, so this decides how much memory is taken
_TEXT = pa.dictionary(pa.int32(), pa.string())
_FEW = ("equipment_id", "quantity", "environment_id", "site_id", "unit", "of_the_day")  # few distinct texts each


@dataclass(frozen=True, eq=False)
class Logged:
    """What a file of logged conditions says.

    days : one row a logger, quantity, place, kind of value and day: equipment_id, quantity, environment_id, site_id,
        unit, of_the_day, day (text), n (readings), coverage_pct (of the readings that a day has at the usual step, at
        most 100), hole_h (longest silence that ended on that day), lowest, mean, highest, total.
    findings : as of any table; rows are those of the file.  rows : how many it has.
    """

    days: pd.DataFrame
    findings: tuple
    rows: int


def read(source, known=None):
    """Read a CSV file of conditions in blocks -> Logged.

    source : path, or bytes.  known : {column: ids} that its links may name; a column that is not there is not checked.
    Days are those of the clock on the wall; steps are true time where the offset is written. A file whose header is not
    exactly the schema's raises ValueError: it is for the usual reader.
    """
    table = schema.table("conditions")
    whole = _Whole(table, known or {})
    try:
        whole.take(_blocks(source, table))
    except pa.ArrowInvalid:  # somewhere a number cannot be read, or a row is uneven: now with care, and slower
        whole = _Whole(table, known or {})
        whole.take(_blocks(source, table, whole.ragged))
    return whole.told()


class _Whole:
    """What is kept while blocks pass."""

    def __init__(self, table, known):
        self._table, self._known = table, {name: set(ids) for name, ids in known.items()}
        self._rows, self._faults, self._series = 0, {}, Series()
        self._misfits = {}
        self.ragged = []  # [(position, sentence)] of uneven rows, which are in no block

    def take(self, blocks):
        """All blocks of a file."""
        for block in blocks:
            self._take_block(block)

    def _take_block(self, block):
        codes = {name: _codes(block[name]) for name in _FEW}
        for name, (code, distinct) in codes.items():
            self._check_few(name, code, distinct)
        written = block["logged_at"]
        at = moments.of(written)
        self._check_moments(written, at.readable)
        value = self._values(block["value"])
        self._series.take(codes, at, value, self._rows)
        self._rows += block.num_rows

    def _check_few(self, name, code, distinct):
        """Blanks, words, patterns and links of a column with few texts, text by text."""
        of = self._table.fields[name]
        if of.required:
            self._note("value.required", name, np.flatnonzero(code < 0))
        for number, text in enumerate(distinct):
            rule = self._fault(of, text)
            if rule:
                self._note(rule, name, np.flatnonzero(code == number), text)

    def _fault(self, of, text):
        if (of.name, text) not in self._misfits:
            misfit = formats.read(of, text)[1]
            unknown = of.name in self._known and text not in self._known[of.name]
            self._misfits[of.name, text] = f"cell.{misfit.rule}" if misfit else "link.broken" if unknown else ""
        return self._misfits[of.name, text]

    def _check_moments(self, written, readable):
        blank = np.asarray(written.is_null())
        self._note("value.required", "logged_at", np.flatnonzero(blank))
        self._note("cell.date", "logged_at", at := np.flatnonzero(~readable & ~blank), _first(written, at))

    def _values(self, column):
        """The values as float64, nan where blank or unreadable."""
        if pa.types.is_floating(column.type):
            return column.to_numpy(zero_copy_only=False)
        texts = column.to_pandas()
        value = pd.to_numeric(texts, errors="coerce").to_numpy(np.float64)
        odd = texts.notna().to_numpy() & ~texts.str.fullmatch(formats.NUMBER).fillna(value=False).to_numpy(bool)
        self._note("cell.number", "value", at := np.flatnonzero(odd | np.isinf(value)), _first(column, at))
        return np.where(odd | np.isinf(value), np.nan, value)

    def _note(self, rule, column, at, text=None):
        """Keep how many rows have a fault, and the first of them."""
        if len(at):
            rows, number, first = self._faults.get((rule, column), ([], 0, text))
            rows += (at[: MANY - len(rows)] + self._rows).tolist()
            self._faults[rule, column] = rows, number + len(at), first

    def told(self):
        """All that was kept, as Logged."""
        for at in self._series.repeated():
            self._faults["key.duplicate", self._table.primary_key[-1]] = at.tolist()[:MANY], len(at), None
        found = Found(self._table.name)
        for position, says in self.ragged[:MANY]:
            found.row(position, "table.row", says, "Each row has as many cells as the header; look for commas in cells.")
        for (rule, column), (rows, number, text) in self._faults.items():
            _tell(found, self._table.fields[column], rule, self._in_file(rows), number, text)
        self._series.tell(found, self._in_file)
        return Logged(self._series.days(), tuple(found.findings), self._rows + len(self.ragged))

    def _in_file(self, rows):
        """Positions in the file of rows that were counted without the uneven ones before them."""
        uneven = np.array([position for position, _ in self.ragged], np.int64)
        rows = np.asarray(rows, np.int64)
        return (rows + np.searchsorted(uneven - np.arange(len(uneven)), rows, side="right")).tolist()


def _blocks(source, table, ragged=None):
    """Yield record batches of a CSV file with the schema's own header.

    ragged : a list that takes uneven rows. Then values are left as text, and nothing in a row raises; without it,
    whatever cannot be read raises ArrowInvalid.
    """
    names = list(table.fields)
    _check_header(source, names)

    def odd(row):
        if ragged is None or row.number is None:
            return "error"
        ragged.append((row.number - 2, f"The row has {row.actual_columns} cells, the header has {row.expected_columns}."))
        return "skip"

    number = pa.float64() if ragged is None else pa.string()
    yield from arrow_csv.open_csv(
        pa.BufferReader(source) if isinstance(source, bytes) else str(source),
        arrow_csv.ReadOptions(column_names=names, skip_rows=1, block_size=BLOCK, use_threads=ragged is None),
        arrow_csv.ParseOptions(ignore_empty_lines=False, invalid_row_handler=odd),
        arrow_csv.ConvertOptions(
            column_types={n: _TEXT if n in _FEW else number if n == "value" else pa.string() for n in names},
            strings_can_be_null=True, null_values=[""],
        ),
    )


def _check_header(source, names):
    with pa.BufferReader(source) if isinstance(source, bytes) else source.open("rb") as opened:
        head = opened.read(65536)
    first = head.removeprefix(b"\xef\xbb\xbf").split(b"\n", 1)[0].decode("utf-8", "replace").strip("\r")
    if first.split(",") != names:
        msg = "the header is not the schema's"
        raise ValueError(msg)


def _codes(column):
    """Number of each row's text among the distinct ones, -1 for a blank, and those."""
    return np.asarray(column.indices.fill_null(-1)), column.dictionary.to_pylist()


def _first(column, at):
    return column[int(at[0])].as_py() if len(at) else None


def _tell(found, of, rule, rows, number, text):
    """One kind of fault in one column as a Finding, with how many rows have it."""
    says, remedy = {
        "value.required": (f"{of.title} is blank, and every row needs it.", f"Fill it in, as in {of.example}."),
        "link.broken": (f"{of.title} “{text}” is not in the table that it names.", "Add it there, or correct it."),
        "key.duplicate": ("The same logger wrote the same quantity at the same moment twice.", "Delete one of the two rows."),
    }.get(rule) or _misfit(of, text)
    positions = [*rows, *([rows[0]] * max(number - len(rows), 0))] if number > MANY else rows
    found.cells(rule, of.name, positions, lambda _: says, lambda _: remedy, None if text is None else [text] * len(positions))


def _misfit(of, text):
    misfit = formats.read(of, text)[1]
    return misfit.message, misfit.remedy


def as_rows(logged):
    """The days as rows of the table itself (columns of text), as they travel with a package: one a value of the day."""
    days, parts = logged.days, []
    adds_up = days["quantity"].isin(schema.words("condition", adds_up=True))
    for word, column in (("sum", "total"), ("lowest", "lowest"), ("mean", "mean"), ("highest", "highest")):
        rows = days[adds_up if word == "sum" else ~adds_up]
        if len(rows):
            parts.append(rows.assign(of_the_day=word, value=rows[column], logged_at=rows["day"]))
    names = list(schema.table("conditions").fields)
    laid = pd.concat(parts) if parts else days.assign(value=[], logged_at=[])
    return laid[names].sort_values(["equipment_id", "quantity", "logged_at"], kind="stable").reset_index(drop=True)


def sheet(path, known):
    """The Sheet of a table that is too long to hold: its days in place of its readings, and what its readings say.

    It cannot be edited: `whole` is False.
    """
    logged = read(path, known)
    days = as_rows(logged)
    laid = frame_of(schema.table("conditions"), writing.texts_of(days), len(days))
    with path.open("rb") as source:
        sha256 = hashlib.file_digest(source, "sha256").hexdigest()
    return replace(laid, findings=logged.findings, unread=MappingProxyType({}), sha256=sha256, broken=True, whole=False)
