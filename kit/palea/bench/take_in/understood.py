"""The door: look at a sheet, see what was understood and what not, and keep what passes.

`look` writes nothing. `keep` writes the rows that pass, with their lines in the journal and the mapping that read them,
in one transaction.
"""

from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

from palea import schema
from palea.bench import entry
from palea.bench.take_in import counts, layout, recognise, rows, written
from palea.bench.take_in import grid as grids
from palea.bench.take_in import mapping as mappings
from palea.bench.take_in.cellwise import Cells, Ids
from palea.errors import EntryError, PaleaError
from palea.findings import Finding

HEADER_ROWS = 2
MOST_ROUNDS = 30
READ_FOR_SIGNS = 5000  # rows that are read to see decimal sign and order of dates


@dataclass(frozen=True)
class Wishes:
    """What a person says of a sheet beside its mapping; all may be left out.

    mapping : mapping.Mapping that stands over the kept one.  name : to keep the mapping under; "" for the file's name.
    reason : of the journal.  day : of taking in, for the visits' typed_at.
    """

    mapping: mappings.Mapping = field(default_factory=mappings.Mapping)
    name: str = ""
    reason: str = "import"
    day: str = ""


@dataclass(frozen=True, eq=False)
class Understood:
    """A sheet that was looked at; nothing of it is kept yet.

    table : that it goes into, "" where that is asked.  columns : recognise.Column of each column.
    rows : {table: rows as texts} that could be read.  origin : {(table, key): (row, column) of the sheet, from 0}.
    not_understood : Findings of cells and rows; `row` is that of the sheet.  asks : questions that must be answered.
    told : sentences on how it was read.  left_out : [(row as a spreadsheet shows it, why)].
    mapping : as it would be kept, under `name`; `known` is the name of the one that was found, "" for none.
    """

    package: object = field(repr=False)
    grid: grids.Grid = field(repr=False)
    table: str
    columns: tuple
    rows: dict = field(repr=False)
    origin: dict = field(repr=False)
    not_understood: tuple
    asks: tuple
    told: tuple
    left_out: tuple
    mapping: mappings.Mapping
    name: str
    known: str
    headings: tuple = field(repr=False)
    reason: str = "import"
    typed: dict = field(default_factory=dict, repr=False)

    @cached_property
    def _passing(self):
        return _passing(self)

    @property
    def proposal(self):
        """The entry of what passes as an entry.Proposal; None where there is nothing, or something is asked first."""
        return self._passing[0]

    @property
    def refused(self):
        """Findings of rows that could be read and that the checks do not let in; `row` is that of the sheet."""
        return self._passing[1]

    @property
    def taken(self):
        """{table: how many rows would be kept}."""
        return {name: len(r) for name, r in self.proposal.rows.items()} if self.proposal else {}

    def with_meanings(self):
        """[(letter, heading, what it is)] of the columns."""
        return [(grids.letter(c.position), c.heading, c.means(self.table) if self.table else c.why) for c in self.columns]


def look(package, path, wishes=None):
    """What a sheet says and what it does not -> Understood. Nothing is written.

    path : .csv, .tsv, .txt or .xlsx.  wishes : Wishes.
    Raises PaleaError where the file cannot be read or a mapping asks for what does not exist.
    """
    wishes = wishes or Wishes()
    sheet = grids.read(path, wishes.mapping.sheet)
    laid = layout.find(sheet, [n - 1 for n in wishes.mapping.headings if 0 < n <= len(sheet.cells)])
    known, before = mappings.known(package, laid.columns)
    mapping = wishes.mapping.over(before)
    if before.headings and not wishes.mapping.headings:
        laid = layout.find(sheet, [n - 1 for n in before.headings if 0 < n <= len(sheet.cells)])
    notes = recognise.Notes(sheet)
    if known:
        notes.tell(f"The heading is known: the mapping “{known}” was used.")
    for r, c, sentence in sheet.odd:
        notes.cell(r, c, "cell", sentence, "Then take the sheet in again; the other cells are read as they are.")
    counted = any(said.get("outcome") for said in mapping.columns.values())
    table = mapping.table or (recognise.COUNTS if counted else recognise.table_of(laid, notes))
    if table:
        schema.table(table)
        _refuse_own(table)
    made, origin, columns, typed = _read(package, sheet, laid, table, mapping, notes, wishes) if table else ({}, {}, (), {})
    return Understood(
        package, sheet, table, columns or _bare(laid), made, origin, tuple(notes.findings), tuple(notes.asks), tuple(notes.told),
        tuple((r + 1, why) for r, why in laid.left_out), replace(mapping, table=table), wishes.name or known or Path(path).stem,
        known, laid.columns, wishes.reason, typed,
    )  # fmt: skip


def _refuse_own(table):
    if table in ("journal", "results", "analyses"):
        msg = f"{table} is written by palea itself. A sheet can go into: {', '.join(t for t in schema.tables() if t != table)}."
        raise PaleaError(msg)


def _bare(laid):
    return tuple(recognise.Column(n, h, why="not looked at yet") for n, h in enumerate(recognise.headings(laid)))


def _read(package, sheet, laid, table, mapping, notes, wishes):
    """(rows by table, origin, columns, typed values that were converted)."""
    columns = recognise.columns(table, laid, mapping, notes)
    texts = recognise.kept_rows(sheet, laid, mapping, notes)
    cells = _cells(sheet, laid, table, columns, mapping, notes)
    ids = Ids(package)
    if table == recognise.COUNTS:
        one = counts.Sheet(package, laid, columns, mapping, cells, ids)
        made, origin = counts.rows_of(one, texts, reason=wishes.reason, day=wishes.day, file=sheet.name)
    else:
        made, origin = rows.rows_of(table, laid, columns, texts, mapping, cells, ids)
    return made, origin, columns, _typed(cells.typed, table, origin)


def _cells(sheet, laid, table, columns, mapping, notes):
    """How cells of this file are read: the decimal sign and the order of dates, as said or as the cells show."""
    body = [sheet.cells[r] for r in laid.body[:READ_FOR_SIGNS]]
    numeric = [c.position for c in columns if c.counted or _type(table, c.field) in ("number", "integer")]
    decimal = mapping.decimal or written.decimal_of([row[p] for row in body for p in numeric if row[p]], sheet.separator)
    if decimal == ",":
        notes.tell("A comma is the decimal sign.")
    dated = [c.position for c in columns if _is_date_column(table, c.field)]
    texts = [row[p] for row in body for p in dated if row[p]] + [c.at for c in columns if c.at] + list(laid.above.values())
    order = written.order_of([t for t in texts if written.is_date(t)])
    said = mapping.dates or order.order
    if not mapping.dates and order.order:
        notes.tell(f"Dates are read {order.order}, since “{order.proof}” can be nothing else.")
    elif order.mixed and not mapping.dates:
        notes.ask("dates", f"“{order.proof}” is written day first, “{order.mixed}” month first.",
                  "Say --dates, or correct one of them.", written.ORDERS)  # fmt: skip
    elif order.unsure and not said:
        example = next(filter(_two_ways, texts), "")
        notes.ask("dates", f"{order.unsure} dates can be read in two ways, and none shows which, as in “{example}”.",
                  'Say --dates "day first" or "month first".', written.ORDERS)  # fmt: skip
    if any(map(written.has_short_year, texts)):
        notes.tell("Years of two digits are read as 20..")
    return Cells(notes, mapping, decimal=decimal, order=said)


def _two_ways(text):
    return written.is_date(text) and "can be" in written.moment(text, "")[1]


def _type(table, name):
    of = schema.table(table).fields.get(name)
    return of.type if of else ""


def _is_date_column(table, name):
    of = schema.table(table).fields.get(name)
    return name in ("visited_at", "germinated_at") or bool(of and of.parse == "partial date")


def _typed(typed, table, origin):
    """{column: {"value": {key: text}, "unit", "factor"}} for the journal, by key in place of row of the sheet."""
    key_of = {row: key for (name, key), (row, _) in origin.items() if name == table}
    return {
        column: {**said, "value": {key_of[r]: text for r, text in said["value"].items() if r in key_of}}
        for column, said in typed.items()
    }


def _passing(understood):
    """(Proposal of the rows that the checks let in or None, Findings of those they do not)."""
    left, refused = {t: list(r) for t, r in understood.rows.items()}, []
    if understood.asks:
        return None, ()
    for _ in range(MOST_ROUNDS):
        proposal = _propose(understood.package, left)
        if proposal is None or not proposal.new_errors:
            return proposal, tuple(refused)
        fewer, gone = _without(proposal.package, left, proposal.new_errors)
        refused += _told_once(understood, gone)
        if sum(map(len, fewer.values())) == sum(map(len, left.values())):
            return None, (*refused, *proposal.new_errors)
        left = _without_idle_visits(fewer)
    return None, tuple(refused)


def _propose(package, made):
    proposal = None
    for table, own in made.items():
        if own:
            proposal = proposal.then(table, own) if proposal else entry.propose(package, table, own)
    return proposal


def _without(package, made, errors):
    """(rows without those that errors are about, [(finding, table, row)] taken out): its own row, or all that name that row."""
    about = {}
    for finding in errors:
        for key in _keys_of(package, finding):
            about.setdefault(finding.table, {}).setdefault(key, finding)
    days = {v: str(at)[:10] for v, at in zip(package["visits"]["visit_id"], package["visits"]["visited_at"], strict=True)}
    gone, kept = [], {}
    for table, own in made.items():
        found = [(_fault_of(table, row, about), row) for row in own]
        found = _only_that_day(found, days)
        kept[table] = [row for fault, row in found if fault is None]
        gone += [(fault, table, row) for fault, row in found if fault is not None]
    return kept, gone


def _keys_of(package, finding):
    """Primary keys, as texts, of the rows that a finding is about."""
    lines = {n - HEADER_ROWS for n in (finding.row, *finding.rows) if n}
    if finding.table not in package.names or not lines:
        return
    frame, key = package[finding.table], list(schema.table(finding.table).primary_key)
    for line in lines & set(frame.index):
        yield tuple(_plain(frame.at[line, k]) for k in key)


def _fault_of(table, row, about):
    """The Finding of an error that is about a row, or about a row that it names; None where there is none."""
    known = schema.table(table)
    own = about.get(table, {}).get(tuple(row.get(k, "") for k in known.primary_key))
    links = (about.get(k.table, {}).get(tuple(row.get(f, "") for f in k.fields)) for k in known.foreign_keys)
    return own or next(filter(None, links), None)


def _only_that_day(found, days):
    """Where an error about a unit names a day, only what was counted on that day is meant by it.

    found : [(Finding or None, row)].  days : {visit_id: day}.
    """
    named = {id(f) for f, _ in found if f is not None and any(day in f.message for day in set(days.values()))}
    return [
        (None if f is not None and id(f) in named and days.get(row.get("visit_id"), "") not in f.message else f, row)
        for f, row in found
    ]


def _plain(value):
    return "" if value is None or value != value or str(value) == "<NA>" else str(value)


def _without_idle_visits(made):
    """Visits of which no count is left are not made."""
    if "counts" not in made:
        return made
    used = {row["visit_id"] for row in made["counts"]}
    return {**made, "visits": [v for v in made.get("visits", ()) if v["visit_id"] in used]}


def _told_once(understood, gone):
    """Findings of the rows that were taken out; of a fault that cells of the sheet stand for, those alone."""
    placed = [(one, _place(understood, *one[1:])[0] is not None) for one in gone]
    of_cells = {id(finding) for (finding, _, _), there in placed if there}
    return [_at(understood, *one) for one, there in placed if there or id(one[0]) not in of_cells]


def _at(understood, finding, table, row):
    """The Finding with the row of the sheet in place of that of the table."""
    line, column = _place(understood, table, row)
    place = f"Row {line + 1}: " if line is not None else ""
    field_ = grids.letter(column) if column is not None else finding.field
    value = understood.grid.cells[line][column] if line is not None and column is not None else finding.value
    return Finding(finding.rule, finding.severity, table, None if line is None else line + 1, field_, value,
                   f"{place}{finding.message}", finding.remedy)  # fmt: skip


def _place(understood, table, row):
    """(row, column) of the sheet from which a row came; None for what stands in no one cell."""
    key = tuple(row.get(k, "") for k in schema.table(table).primary_key)
    return understood.origin.get((table, key), (None, None))


def keep(understood, stamp, words=""):
    """Write what passes, with its mapping -> the Package, opened anew.

    Raises EntryError where something must be asked first, or nothing passes; nothing is written then.
    """
    if understood.asks:
        msg = f"Nothing was written. {understood.asks[0]}"
        raise EntryError(msg, understood.not_understood)
    if understood.proposal is None:
        msg = f"Nothing was written: no row of {understood.grid.name} is new and passes the checks."
        raise EntryError(msg, (*understood.not_understood, *understood.refused))
    told = f"From {understood.grid.name} (SHA-256 {understood.grid.sha256})."
    kept = {key for own in understood.proposal.rows.values() for key in _keys(understood.table, own)}
    typed = {c: {**said, "value": {k: t for k, t in said["value"].items() if k in kept}} for c, said in understood.typed.items()}
    return entry.save(understood.proposal, stamp, understood.reason, " ".join(filter(None, (words, told))), as_typed=typed,
                      files=mappings.file_of(understood.name, understood.mapping, understood.headings))  # fmt: skip


def _keys(table, own):
    key = schema.table(table).primary_key
    return [tuple(_plain(row.get(k)) for k in key) for row in own]
