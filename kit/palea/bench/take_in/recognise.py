"""Which table a sheet goes into, and what each of its columns is; what must be asked is asked, not guessed."""

from dataclasses import dataclass, replace

from palea import schema
from palea.bench.take_in import mapping as mappings
from palea.bench.take_in import names, written
from palea.findings import Finding

COUNTS, LOGGED = "counts", "conditions"
ENOUGH = 2  # columns that must be known before a table is thought of
MOST_UNKNOWN = 5  # of so many columns one at least must be known
NEVER = ("journal", "results", "analyses", "counts", "conditions", "visits", "trial_factors", "run_steps", "material_parts")


@dataclass(frozen=True)
class Column:
    """One column of the sheet and what it is.

    position : from 0.  heading : its texts in one line.  field : column of the table, or one of the meanings of a count
    sheet, "" for none.  outcome, day, at, visit : what the numbers in it count, and when.  unit : of the heading.
    factor : what a value is multiplied by.  unit_id : which unit, with {Heading} for what stands there; "" for the
    row's own.  why : why it is not taken in, "" where it is.
    """

    position: int
    heading: str
    field: str = ""
    outcome: str = ""
    day: int | None = None
    at: str = ""
    visit: str = ""
    unit: str = ""
    factor: float = 1.0
    unit_id: str = ""
    why: str = ""

    @property
    def is_timed(self):
        """Whether the heading says when its numbers were counted."""
        return self.day is not None or bool(self.at or self.visit)

    @property
    def counted(self):
        """Whether its cells are counts."""
        return self.is_timed or bool(self.outcome)

    def means(self, table):
        """What it is, in words."""
        if self.why:
            return self.why
        if self.counted:
            what = schema.word("outcome", self.outcome)["title"] if self.outcome else "counts"
            when = self.visit or self.at or (f"day {self.day}" if self.day is not None else "")
            return f"{what}, {when}" if when else what
        known = schema.table(table).fields
        title = known[self.field].title if self.field in known else self.field.replace("_", " ")
        return f"{title}, {self.unit} × {self.factor:g}" if self.factor != 1 else title


@dataclass(frozen=True)
class Ask:
    """Something that the sheet does not say. what : key of the mapping.  says : the question.  option : how to say it."""

    what: str
    says: str
    option: str
    choices: tuple = ()

    def __str__(self):
        """The question with how to answer it."""
        return f"{self.says} {self.option}"


class Notes:
    """What is to be said of a sheet while it is read: cells that are not understood, questions, sentences."""

    def __init__(self, grid):
        self.grid, self.findings, self.asks, self.told = grid, [], [], list(grid.told)

    def cell(self, row, column, rule, says, remedy):
        """A cell that cannot be taken in as it is. row, column : from 0."""
        from palea.bench.take_in.grid import letter

        text = self.grid.cells[row][column] if column is not None else None
        place = f"Row {row + 1}" + (f", column {letter(column)}" if column is not None else "")
        field = letter(column) if column is not None else ""
        self.findings.append(Finding(f"take-in.{rule}", "error", "", row + 1, field, text, f"{place}: {says}", remedy))

    def ask(self, what, says, option, choices=()):
        """Ask once."""
        if all(asked.what != what for asked in self.asks):
            self.asks.append(Ask(what, says, option, tuple(choices)))

    def tell(self, sentence):
        """Say a sentence once."""
        if sentence and sentence not in self.told:
            self.told.append(sentence)


def headings(layout):
    """Each column's heading in one line; one that is there twice gets its number."""
    lines = [" / ".join(parts) for parts in layout.columns]
    return tuple(f"{h} ({lines[: n + 1].count(h)})" if h and lines[:n].count(h) else h for n, h in enumerate(lines))


def table_of(layout, notes):
    """The table that a sheet goes into; "" where that must be asked."""
    lines = headings(layout)
    if _is_count_sheet(layout):
        return COUNTS
    logged = names.fields(LOGGED)
    if {"logged_at", "value"} <= {logged.get(names.plain(written.heading(h)[0])) for h in lines} and len(lines) <= 6:
        return LOGGED
    fits = {t: _fit(t, lines) for t in schema.tables() if t not in NEVER}
    best = max(fits.values(), default=(0, 0))
    found = [t for t, fit in fits.items() if fit == best]
    if not best[0] or len(found) > 1:
        near = [t for t, fit in sorted(fits.items(), key=lambda x: x[1], reverse=True) if fit[1]][:6]
        notes.ask("table", "Which table this sheet goes into cannot be told from its heading.",
                  f"Say --table {' or '.join(near) if near else 'and its name'}.", near)  # fmt: skip
        return ""
    notes.tell(f"The columns are those of {schema.table(found[0]).title.lower()} (table {found[0]}).")
    return found[0]


def _is_count_sheet(layout):
    """Whether the heading names units and counts of them."""
    known = names.fields(COUNTS)
    bare = [parts[-1] if parts else "" for parts in layout.columns]
    said = {known.get(names.plain(b)) for b in bare}
    timed = [p for p in layout.columns if any(names.day(x) is not None or written.is_date(x) for x in p)]
    outcomes = [p for p in layout.columns if any(names.outcome(x) or names.day_and_outcome(x)[1] for x in p)]
    seeds = {names.meaning(b) for b in bare} & {"germinated_at", "germinated_day"}
    return bool(seeds) or ("unit_id" in said and bool(timed or outcomes or {"count", "outcome"} <= said))


def _fit(table, lines):
    known = names.fields(table)
    found = {known[p] for h in lines if (p := names.plain(written.heading(h)[0])) in known}
    keys = sum(k in found for k in schema.table(table).primary_key)
    few = len(found) < ENOUGH or len(found) * MOST_UNKNOWN < len(lines)
    return (0 if few else len(found) + keys), round(len(found) / len(known), 3)


def columns(table, layout, mapping, notes):
    """The Columns of a sheet that goes into `table`."""
    find = _of_count_sheet if table == COUNTS else _of_table
    found, taken = [], set()
    for position, (parts, heading) in enumerate(zip(layout.columns, headings(layout), strict=True)):
        column = _said(table, position, heading, mapping, notes) or find(table, position, heading, parts)
        if column.field and column.field in taken and not column.counted:
            column = replace(column, field="", why=f"not taken in: another column is {column.field} already")
        taken.add(column.field)
        found.append(_with_factor(table, column, notes) if column.field else column)
    return tuple(found)


def _said(table, position, heading, mapping, notes):
    """The Column as a mapping says it; None where it says nothing."""
    said = mapping.of_column(heading)
    if not said:
        return None
    if said.get("leave_out"):
        return Column(position, heading, why="left out, as the mapping says")
    field = str(said.get("field", ""))
    if field and field not in schema.table(table).fields and not (table == COUNTS and field in names.synonyms()["meanings"]):
        notes.ask(f"columns.{heading}", f"The mapping calls “{heading}” {field}, which {table} does not have.",
                  f"It has: {', '.join(schema.table(table).fields)}.")  # fmt: skip
        return None
    if outcome := str(said.get("outcome", "")):
        schema.word("outcome", outcome)
    day = said.get("day")
    return Column(position, heading, field, outcome, day if isinstance(day, int) else None, str(said.get("at", "")),
                  str(said.get("visit", "")), str(said.get("unit", "")) or written.heading(heading)[1],
                  unit_id=str(said.get("unit_id", "")))  # fmt: skip


def _of_count_sheet(table, position, heading, parts):
    day = next((d for p in parts if (d := names.day(p)) is not None), None)
    at = next((p for p in parts if written.is_date(p)), "")
    outcome = next((o for p in parts if (o := names.outcome(p))), "")
    if day is None and not at:
        both = [names.day_and_outcome(p) for p in parts]
        day, outcome = next((b for b in both if b[1]), (None, outcome))
    if day is not None or at:
        return Column(position, heading, outcome=outcome, day=None if at else day, at=at)
    bare = parts[-1] if parts else ""
    known, plain = names.fields(table), names.plain(bare)
    if known.get(plain) in ("unit_id", "visit_id", "taxon_id", "count", "note", "missing"):
        return Column(position, heading, known[plain])
    meaning = names.meaning(bare)
    if meaning == "row_total":
        return Column(position, heading, why="not taken in: a total, which follows from the counts")
    if meaning:
        return Column(position, heading, meaning)
    if plain in known and known[plain] == "outcome":
        return Column(position, heading, "outcome")
    if outcome:
        return Column(position, heading, outcome=outcome)
    if plain in known and known[plain] != "observer":
        return Column(position, heading, known[plain])
    return Column(position, heading, why="not taken in: the counts have no such column" if heading else "no heading")


def _of_table(table, position, heading, parts):
    known = names.fields(table)
    whole = " ".join(parts)
    name, unit = written.heading(whole)
    if not unit and len(parts) > 1:
        unit = written.unit(parts[-1].strip("()[] "))
        name = " ".join(parts[:-1]) if unit else whole
    field = known.get(names.plain(whole)) or known.get(names.plain(name)) or ""
    if field:
        return Column(position, heading, field, unit=unit)
    return Column(position, heading, why="not taken in: no column of that name" if heading else "no heading")


def _with_factor(table, column, notes):
    """The Column with what its values are multiplied by, from the unit of the heading to the unit of the table."""
    of = schema.table(table).fields.get(column.field)
    if of is None or not column.unit or not of.unit or of.type not in ("number", "integer"):
        return column
    factor, fault = written.factor(column.unit, of.unit)
    if fault:
        notes.ask(f"columns.{column.heading}", f"“{column.heading}” cannot become {of.label}: {fault}",
                  "Say its unit or another column in the mapping, under columns.")  # fmt: skip
        return replace(column, field="", why="not taken in: its unit does not fit")
    if factor != 1:
        notes.tell(f"“{column.heading}” becomes {of.label}: × {factor:g}.")
    return replace(column, factor=factor)


def rows_as_texts(grid, layout):
    """[{heading: text}] of the body, beside its row numbers; values are as written."""
    lines = headings(layout)
    return [(r, dict(zip(lines, grid.cells[r], strict=True))) for r in layout.body]


def kept_rows(grid, layout, mapping, notes):
    """The rows as texts without those that the mapping skips, values put as the mapping means them."""
    rows, skipped = [], 0
    for r, row in rows_as_texts(grid, layout):
        if any(row.get(h, "") in texts for h, texts in mapping.skip.items()):
            skipped += 1
            continue
        rows.append((r, {h: str(mapping.values.get(h, {}).get(t, t)) for h, t in row.items()}))
    if skipped:
        notes.tell(f"{skipped} {'row was' if skipped == 1 else 'rows were'} left out, as the mapping says.")
    for h in {h for part in (mapping.skip, mapping.values) for h in part} - set(headings(layout)):
        notes.tell(f"The mapping speaks of “{h}”, and no column is called that.")
    wanted = {h for text in mapping.given.values() for h in mappings.needs(text)} - {"row"}
    for h in wanted - set(headings(layout)):
        notes.ask("given", f"“{{{h}}}” stands in a text for all rows, and no column is called {h}.", "Say --given anew.")
    return rows
