"""Counts out of a sheet of any shape: one column a visit, one row a count, one row a seed; as rows of visits and counts."""

from dataclasses import dataclass

import pandas as pd

from palea import schema
from palea.bench.take_in import mapping as mappings
from palea.bench.take_in import names, visiting
from palea.bench.take_in.recognise import COUNTS

SEEDS = ("germinated_at", "germinated_day")
TAKEN_IN = "import"  # the reason that does not say why a saved count should change


@dataclass(frozen=True)
class Record:
    """One count of the sheet. row, column : where it stands, from 0.  when : (kind, text), None where not said.

    called : how the sheet calls the unit; messages say that, so that one who counts blind stays so.
    """

    row: int
    column: int
    unit: str
    when: tuple | None
    outcome: str
    text: str
    reason: str = ""
    note: str = ""
    by: str = ""
    called: str = ""


class Sheet:
    """A count sheet being read: what its heading and the pairs above it say, what the package knows, what is to be told."""

    def __init__(self, package, layout, columns, mapping, cells, ids):
        self.package, self.columns, self.mapping, self.cells, self.ids = package, columns, mapping, cells, ids
        self.notes = cells.notes
        known = names.fields(COUNTS)
        self.above = {known.get(k) if known.get(k) == "visit_id" else names.meaning(k): v for k, v in layout.above.items()}
        self.by_field = {c.field: c for c in columns if c.field and not c.why}

    @property
    def by_seed(self):
        """Whether a row is a seed, with the day on which it was seen."""
        return bool(set(SEEDS) & set(self.by_field))

    def text(self, row, field):
        """Text of a row in the column that is `field`; "" where there is none."""
        column = self.by_field.get(field)
        return row[column.heading] if column else ""


def rows_of(sheet, rows, *, reason=TAKEN_IN, day="", file=""):
    """({table: rows as texts}, {(table, key): (row, column) of the sheet}) of all that could be read.

    rows : [(row, {heading: text})].  reason : of the journal.  day : of taking in.  file : the name of the sheet.
    """
    units = _units(sheet, rows)
    if units is None:
        return {}, {}
    records = _seeds(sheet, rows, units) if sheet.by_seed else _records(sheet, rows, units)
    visits, of = visiting.settle(sheet, records, units, day=day, file=file)
    if visits is None or sheet.notes.asks:
        return {}, {}
    return _as_rows(sheet, records, visits, of, reason)


def _units(sheet, rows):
    """Frame of the units of the trial by id; None where the trial must be asked."""
    frame = sheet.package["units"]
    wanted = {t for r, row in rows for c in _unit_columns(sheet) if (t := _unit_text(sheet, c, r, row))}
    if not wanted:
        sheet.notes.ask("columns.unit_id", "No column says which unit is meant.",
                        'Say --given "unit_id={Heading}" with its heading, or put it together of several.')  # fmt: skip
        return None
    trial = sheet.mapping.trial or sheet.above.get("trial_id", "")
    if trial:
        found = sheet.ids.find("trials", trial)
        if not found:
            sheet.notes.ask("trial", f"There is no trial “{trial}” in the package.",
                            f"Say --trial {' or '.join(sheet.package['trials']['trial_id'].dropna())}.")  # fmt: skip
            return None
        return frame[frame["trial_id"].eq(found).fillna(value=False)]
    low = {t.casefold() for t in wanted}
    hit = frame["unit_id"].str.casefold().isin(low) | frame["code"].str.casefold().isin(low)
    tally = frame[hit.fillna(value=False)].groupby("trial_id").size().sort_values(ascending=False)
    if not len(tally):
        first = ", ".join(sorted(wanted)[:5])
        sheet.notes.ask("columns.unit_id", f"None of the units of the sheet ({first} ...) is a unit_id or code of the package.",
                        'Say how they are called: --given "unit_id=G1-{Dish}"; or lay out the trial first.')  # fmt: skip
        return None
    if len(tally) > 1 and tally.iloc[0] == tally.iloc[1]:
        sheet.notes.ask("trial", f"The units of this sheet can be of {' or '.join(tally.index)}.", "Say --trial.", tally.index)
        return None
    sheet.notes.tell(f"The units are those of trial {tally.index[0]}.")
    return frame[frame["trial_id"].eq(tally.index[0]).fillna(value=False)]


def _unit_columns(sheet):
    return [c for c in sheet.columns if c.unit_id] or [None]


def _unit_text(sheet, column, number, row):
    """What a row calls its unit: by the column of the count, by the text for all rows, or in a column of its own."""
    template = (column.unit_id if column else "") or sheet.mapping.given.get("unit_id", "")
    if template:
        return mappings.filled(template, {**row, "row": str(number + 1)})
    return sheet.text(row, "unit_id")


class _Finder:
    """Finds the unit that a text means, and says once a row that there is none."""

    def __init__(self, sheet, units):
        self.sheet = sheet
        coded = units.dropna(subset=["code"]).drop_duplicates("code", keep=False)
        ids = units["unit_id"].dropna()
        self.known = dict(zip(coded["code"].str.casefold(), coded["unit_id"], strict=True))
        self.known |= dict(zip(ids.str.casefold(), ids, strict=True))
        self.told = set()

    def __call__(self, number, text):
        found = self.known.get(text.casefold())
        if found is None and (number, text) not in self.told:
            self.told.add((number, text))
            column = self.sheet.by_field.get("unit_id")
            at = column.position if column else None
            self.sheet.notes.cell(number, at, "unit", f"“{text}” is no unit_id or code of the trial.",
                                  "Correct it, or add the unit to the layout first.")  # fmt: skip
        return found


def _records(sheet, rows, units):
    """Records of a sheet with a column a visit, a column an outcome, or a row a count."""
    find, found = _Finder(sheet, units), []
    counted = [c for c in sheet.columns if c.counted and not c.why]
    if "count" in sheet.by_field:
        counted.append(sheet.by_field["count"])
    for number, row in rows:
        when = _when_of_row(sheet, number, row) if any(not c.is_timed for c in counted) else None
        for column in counted:
            text = row[column.heading]
            if not text and not (column.field == "count" and sheet.text(row, "missing")):
                continue  # blank is not zero: nothing was written there
            called = _unit_text(sheet, column, number, row)
            unit = find(number, called)
            outcome = column.outcome or _outcome(sheet, number, row)
            if unit is None or outcome is None:
                continue
            value, reason = sheet.cells.read(_count_field(), number, column.position, text) if text else ("", "")
            if value is None:
                continue
            reason = reason or (sheet.text(row, "missing") if not value else "")
            at = _when_of_column(sheet, column) if column.is_timed else when
            found.append(Record(number, column.position, unit, at, outcome, value, reason, sheet.text(row, "note"),
                                sheet.text(row, "visited_by"), called))  # fmt: skip
    return found


def _count_field():
    return schema.table(COUNTS)["count"]


def _outcome(sheet, number, row):
    """The outcome of a row; None where it is told that it is none."""
    text = sheet.text(row, "outcome")
    if text:
        found = names.outcome(text)
        if not found:
            at = sheet.by_field["outcome"].position
            sheet.notes.cell(number, at, "outcome", f"“{text}” is no outcome.",
                             f"Write one of: {', '.join(schema.words('outcome'))}; or map it under values.")  # fmt: skip
            return None
        return found
    if sheet.mapping.outcome:
        return schema.word("outcome", sheet.mapping.outcome)["name"]
    sheet.notes.ask("outcome", "What the numbers count is not said.",
                    f"Say --outcome with one of: {', '.join(schema.words('outcome'))}.", schema.words("outcome"))  # fmt: skip
    return ""


def _when_of_column(sheet, column):
    if column.visit:
        return "visit", column.visit
    if column.day is not None:
        return "day", column.day
    from palea.bench.take_in import written

    told, fault = written.moment(column.at, sheet.cells.order)
    if fault:
        sheet.notes.ask("dates", fault, "Say --dates “day first” or “month first”.", written.ORDERS)
        return None
    return "date", told


def _when_of_row(sheet, number, row):
    """When a row was counted: its own visit, date or day, else that of the whole sheet."""
    for field, kind in (("visit_id", "visit"), ("visited_at", "date"), ("day", "day")):
        column, own = sheet.by_field.get(field), sheet.text(row, field)
        text = own or sheet.mapping.given.get(field, "") or sheet.above.get(field, "")
        if text:
            return _read_when(sheet, number, column.position if own else None, kind, text)
    sheet.notes.ask("when", "When these counts were made is not said.",
                    "Say --given visit_id=... for a visit that is there, or --given visited_at=2026-05-04.")  # fmt: skip
    return None


def _read_when(sheet, number, position, kind, text):
    if kind == "visit":
        return kind, text
    of = schema.table("visits")["visited_at"]
    if kind == "date":
        told, _ = sheet.cells.read(of, number, position if position is not None else 0, text)
        return (kind, told) if told else None
    day = names.day(text)
    if day is None and position is not None:
        sheet.notes.cell(number, position, "day", f"“{text}” is no day.", "Write the number of days from day 0.")
    return (kind, day) if day is not None else None


def _seeds(sheet, rows, units):
    """Records of a sheet with a row a seed: per unit and day, how many were seen for the first time.

    A seed with a day was seen on that day and on no other, so a unit without one on a day of the sheet has 0 there.
    """
    find, seen, sown = _Finder(sheet, units), [], {}
    outcome = sheet.mapping.outcome
    if not outcome:
        ways = schema.words("outcome", seen="new since the last visit")
        sheet.notes.ask("outcome", "The sheet has a row a seed. What was seen on its day is not said.",
                        f"Say --outcome with one of: {', '.join(ways)}.", ways)  # fmt: skip
    for number, row in rows:
        unit = find(number, _unit_text(sheet, None, number, row))
        if unit is None:
            continue
        sown[unit] = sown.get(unit, 0) + 1
        for field, kind in (("germinated_at", "date"), ("germinated_day", "day")):
            text = sheet.text(row, field)
            if text and sheet.cells.meant(_count_field(), text)[1] == "":
                when = _read_when(sheet, number, sheet.by_field[field].position, kind, text)
                if when:
                    seen.append((number, sheet.by_field[field].position, unit, when))
    _compare_sown(sheet, units, sown)
    return _tallied(sheet, seen, sown, outcome)


def _compare_sown(sheet, units, sown):
    stated = units.set_index("unit_id")["sown_n"].reindex(list(sown)).dropna()
    other = [u for u, n in stated.items() if int(n) != sown[u]]
    if other:
        sheet.notes.tell(f"{other[0]} has {sown[other[0]]} rows and {int(stated[other[0]])} seed units sown"
                         + (f"; {len(other) - 1} more units differ so." if len(other) > 1 else "."))  # fmt: skip


def _tallied(sheet, seen, sown, outcome):
    tally = {}
    for number, column, unit, when in seen:
        tally.setdefault((unit, when), [number, column, 0])[2] += 1
    moments = sorted({when for _, _, _, when in seen}, key=str)
    sheet.notes.tell(f"A row is a seed: {sum(sown.values())} seeds in {len(sown)} units, {len(seen)} of them seen, on "
                     f"{len(moments)} days. A unit without one on such a day has 0 there; on what other days somebody "
                     "looked, the sheet does not say.")  # fmt: skip
    first = next(iter(seen), (0, 0))
    return [
        Record(*(tally[unit, when][:2] if (unit, when) in tally else first[:2]), unit, when, outcome,
               str(tally[unit, when][2]) if (unit, when) in tally else "0", called=unit)
        for when in moments for unit in sown
    ]  # fmt: skip


def _as_rows(sheet, records, visits, of, reason):
    """Rows of visits and counts as texts, and where each count came from."""
    units = sheet.package["units"].set_index("unit_id")
    taxon = sheet.package["lots"].drop_duplicates("lot_id").set_index("lot_id")["taxon_id"]
    saved, rows, origin, same = _saved(sheet.package), {}, {}, 0
    for record in records:
        visit = of.get(record.when)
        if visit is None or not record.outcome:
            continue
        observer = visiting.person(sheet, record.by) or visits[visit]["visited_by"]
        kind = taxon.get(units["lot_id"].get(record.unit)) if pd.notna(units["lot_id"].get(record.unit)) else None
        key = visit, record.unit, record.outcome, kind or "", observer
        row = dict(zip(schema.table(COUNTS).primary_key, key, strict=True))
        row |= {"count": record.text, "missing": record.reason, "note": record.note}
        if key in rows and rows[key] != row:
            sheet.notes.cell(record.row, record.column, "twice",
                             f"{record.called} has another {record.outcome} for the same visit above.",
                             "Keep one of the two.")  # fmt: skip
            continue
        before = saved.get(key)
        if before is not None and before == (record.text or record.reason):
            same += 1
        elif before is not None and reason == TAKEN_IN:
            said = f"{before} is saved, the sheet says {record.text or record.reason}."
            sheet.notes.cell(record.row, record.column, "saved", f"{record.called}, {record.outcome}, {visit}: {said}",
                             "Say why it changes (--reason misread, typing or re-count), or correct the sheet.")  # fmt: skip
        else:
            rows[key], origin[COUNTS, key] = {k: v for k, v in row.items() if v}, (record.row, record.column)
    if same:
        sheet.notes.tell(f"{same} {'count is' if same == 1 else 'counts are'} saved already, as the sheet says.")
    used = {key[0] for key in rows}
    made = [v for name, v in visits.items() if name in used and v.pop("new", "")]
    return {k: v for k, v in (("visits", made), (COUNTS, list(rows.values()))) if v}, origin


def _saved(package):
    """{primary key: count or reason as text} of the counts that the package holds."""
    frame = package[COUNTS]
    keys = frame[list(schema.table(COUNTS).primary_key)].astype("string").fillna("").itertuples(index=False, name=None)
    said = frame["count"].astype("string").fillna(frame["missing"].astype("string")).fillna("")
    return dict(zip(map(tuple, keys), said.tolist(), strict=True))
