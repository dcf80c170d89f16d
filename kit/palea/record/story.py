"""A package as the record reads it: rows as mappings, ids as names, blank cells as gaps that say where they are.

Each cell that a reader needs has one place in the record. There its value is told, or a Gap stands, whose anchor names
the cell; the list of open cells at the end of the record is made from those anchors.
"""

import math
import re
from collections import defaultdict
from functools import cached_property

from palea import schema
from palea.checks import checklist
from palea.derived.facts import Facts
from palea.documents.page import Emphasis, Gap, Link
from palea.record.spread import with_symbol
from palea.words.numbers import short
from palea.words.prose import inside

VAGUE = ("hand tool", "other")  # kinds of equipment that say little without the model
FIRST_LINE = 2  # a spreadsheet shows the header as line 1


class Story:
    """What the record asks of a package. Rows are dicts; what is missing is None, and their line is added as "line"."""

    def __init__(self, package):
        self.package = package
        self.facts = Facts(package)
        self._rows, self._having, self._by_key, self._children = {}, {}, {}, {}
        self.memory = {}  # what rooms of the record have worked out of it once

    def rows(self, table, **having):
        """Rows of a table, in order, that hold the given values."""
        if table not in self._rows:
            whole = {name for name, field in schema.table(table).fields.items() if field.type == "integer"}
            self._rows[table] = [
                {k: _whole(v) if k in whole else v for k, v in row.items()} for row in records(self.facts[table])
            ]
        if not having:
            return self._rows[table]
        asked = (table, *having)
        if asked not in self._having:
            self._having[asked] = defaultdict(list)
            for row in self._rows[table]:
                self._having[asked][tuple(row[k] for k in having)].append(row)
        return self._having[asked].get(tuple(having.values()), [])

    def row(self, table, key):
        """The row of a table with a single key, by that key; None where there is none."""
        if table not in self._by_key:
            (column,) = schema.table(table).primary_key
            self._by_key[table] = {row[column]: row for row in self.rows(table)}
        return self._by_key[table].get(key)

    def frame(self, view):
        """Rows of a view."""
        return records(self.facts[view])

    def steps(self, run):
        """Rows of run_steps of one run, in order."""
        return self._under("run_steps", "run_id")[run]

    def readings(self, test):
        """Rows of readings of one test, in order."""
        return self._under("readings", "test_id")[test]

    def _under(self, table, column):
        """Rows of a table by the row of another that they belong to, in the order of its own key."""
        if table not in self._children:
            self._children[table] = defaultdict(list)
            for row in sorted(self.rows(table), key=lambda row: row[schema.table(table).primary_key[1]]):
                self._children[table][row[column]].append(row)
        return self._children[table]

    @cached_property
    def answers(self):
        """The reporting checklist, evaluated: one answer an item and subject."""
        return checklist.evaluate(self.package)

    @cached_property
    def _due(self):
        """{(item, line)} of checklist items that are asked of a row."""
        return {(a.item, a.row) for a in self.answers if a.state is not checklist.State.NOT_APPLICABLE}

    def due(self, table, row, column):
        """Whether the checklist asks for a cell of this row; True for a column that it does not ask about at all."""
        asking = [
            item["id"]
            for item in schema.checklist()
            if item.get("table") == table and column in item.get("columns", ()) and not item.get("link")
        ]
        return not asking or any((item, row["line"]) in self._due for item in asking)

    def value(self, table, row, column):
        """A cell in words, with its unit and its word's title; "" where it is blank."""
        return told(schema.table(table)[column], row[column])

    def cell(self, table, row, column, of=""):
        """A cell in words, or the Gap that says it is blank. of : what the row is about, for the gap's words."""
        return self.value(table, row, column) or gap(table, [row], column, of)

    def person(self, key):
        """A person's name where it may be published, else the id."""
        row = self.row("people", key)
        if row is None:
            return key
        return row["name"] if row["name"] and (row["consent_to_publish"] or row["kind"] == "organisation") else key

    def species(self, key):
        """Scientific name, set apart, without its author; the id where there is none."""
        row = self.row("taxa", key)
        return Emphasis(row["scientific_name"]) if row and row["scientific_name"] else key or "a mixture"

    def species_short(self, key):
        """As `species`, with the genus as one letter where no other species here is shortened to the same."""
        name = _shortened((self.row("taxa", key) or {"scientific_name": None})["scientific_name"])
        same = [row for row in self.rows("taxa") if _shortened(row["scientific_name"]) == name]
        return Emphasis(name) if name and len(same) == 1 else self.species(key)

    def material(self, key):
        """A material's name; the id where there is none."""
        row = self.row("materials", key)
        return row["name"] if row else key

    def brief(self, key):
        """A material's name up to its first comma or colon, where no other material's name begins so."""
        heads = [re.split("[,:]", row["name"])[0] for row in self.rows("materials") if row["name"]]
        head = re.split("[,:]", self.material(key))[0]
        return inside(head if heads.count(head) == 1 else self.material(key))

    def setting(self, key):
        """The conditions of an environment in a few words, as “20/10 °C, -0.4 MPa”; its id where it says none."""
        row = self.row("environments", key) or {"day_c": None, "night_c": None, "water_potential_mpa": None}
        warm = (
            f"{short(row['day_c'])}/{short(row['night_c'] if row['night_c'] is not None else row['day_c'])} °C"
            if (row["day_c"] is not None)
            else ""
        )
        wet = f"{short(row['water_potential_mpa'])} MPa" if row["water_potential_mpa"] is not None else ""
        return ", ".join(filter(None, (warm, wet))) or key

    def machine(self, key):
        """The kind of an instrument, with its model where the kind alone says little, and a link to its row."""
        row = self.row("equipment", key)
        if row is None:
            return key
        kind = inside(schema.word("equipment_kind", row["kind"])["title"])
        return Link(
            f"{kind} ({row['model']})" if row["kind"] in VAGUE and row["model"] else kind, anchor("equipment", key)
        )

    def how(self, key, action):
        """Whether something is done in a machine or with it."""
        row = self.row("equipment", key)
        inside_it = row and "machinery" in schema.word("equipment_kind", row["kind"])["hazard"]
        return "in" if inside_it or action.startswith(("soak", "dry")) else "with"


def _shortened(name):
    genus, _, rest = (name or "").partition(" ")
    return f"{genus[0]}. {rest}" if rest else ""


def records(frame):
    """A frame as dicts, one a row, blanks as None, with the line that a spreadsheet shows."""
    columns = list(frame.columns)
    plain = [[_plain(x) for x in frame[c].tolist()] for c in columns]
    lines = [int(i) + FIRST_LINE for i in frame.index]
    rows = zip(*plain, strict=True) if plain else ()
    return [dict(zip(columns, cells, strict=True)) | {"line": line} for cells, line in zip(rows, lines, strict=True)]


def _whole(x):
    return x if x is None else int(x)


def _plain(x):
    if isinstance(x, float):
        return None if math.isnan(x) else x
    return x if isinstance(x, str | bool | int) else None


def anchor(table, key):
    """The place of a row in the record."""
    return f"{table}-{key}"


def cell_anchor(table, rows, column):
    """The place of blank cells of one column in the list of open cells."""
    return f"cell!{table}!{','.join(str(row['line']) for row in rows)}!{column}"


def open_cells(name):
    """(table, lines, column) that a gap's anchor stands for; None for any other anchor.

    >>> open_cells("cell!runs!3,4!room_c")
    ('runs', (3, 4), 'room_c')
    """
    first, *rest = name.split("!")
    return (rest[0], tuple(map(int, rest[1].split(","))), rest[2]) if first == "cell" else None


def why_blank(row, column):
    """The reason that the row itself gives for a blank cell; "" where it gives none."""
    told = (row.get("why_blank") or "").split(";")
    return next((why.strip() for name, _, why in (t.partition(":") for t in told) if name.strip() == column), "")


def applies(row, column):
    """Whether a blank cell leaves something open: not where its row says that the column does not apply to it."""
    return why_blank(row, column) not in schema.words("missing_reason", applies=False)


def gap(table, rows, column, of=""):
    """The mark for blank cells of one column, in the words of the schema; the rows' own reason, where they give one."""
    what = inside(schema.table(table)[column].title)
    reason = why_blank(rows[0], column) or Gap.reason
    return Gap(f"{what}, {of}" if of else what, cell_anchor(table, rows, column), reason)


def gaps(table, rows, column, names, together):
    """A gap for each row where the cell is blank and applies; one for all where no row of several has it.

    names : what each row is called, by its position.  together : what all of them are called.
    """
    blank = [(row, name) for row, name in zip(rows, names, strict=True) if row[column] is None and applies(row, column)]
    if len(blank) == len(rows) > 1:
        return [gap(table, rows, column, together)]
    return [gap(table, [row], column, name) for row, name in blank]


def told(field, value):
    """A value in words: with its unit, or by its word's title; "" for None."""
    if value is None:
        return ""
    if field.vocabulary:
        return inside(schema.word(field.vocabulary, value)["title"])
    if isinstance(value, bool):
        return "yes" if value else "no"
    return with_symbol(short(value), field.unit) if isinstance(value, int | float) else value
