"""Rows that belong to one entry, typed as a sheet below its form: readings of a test, parts of a preparation.

A Lines object knows what the sheet's boxes hold, which rows of which table they make, and what is wrong with a cell; it
knows no widget. The last line is always blank, so there is room for one more.
"""

from palea import schema
from palea.panels.form import choices_of, linked
from palea.tables import formats


class Lines:
    """Lines of one table: a line is a row, a column one of its fields.

    table : its name.  ask : fields that are typed, each a column.  key : the field that numbers the lines from 1, or ""
    where what is typed makes the key.  given : {field: text} of every row.  typed : {(line, field): text}.
    least : lines to begin with.
    """

    def __init__(self, package, table, ask, *, key="", given=None, typed=None, least=4):
        self.package, self.table, self.ask, self.key = package, schema.table(table), tuple(ask), key
        self.given, self.typed, self.least = dict(given or {}), dict(typed or {}), least

    @property
    def count(self):
        """How many lines the sheet shows: those typed into, one more, and never fewer than `least`."""
        return max(self.least, max((line for (line, _), text in self.typed.items() if text.strip()), default=-1) + 2)

    def columns(self):
        """The columns of the sheet as the grid wants them."""
        number = [{"name": "number", "title": "No.", "kind": "text"}]
        return [*number, *map(self._column, self.ask), {"name": "note", "title": "", "kind": "note"}]

    def take(self, edits):
        """Take edits [(line, column, text)]."""
        for line, column, text in edits:
            self.typed[line, column] = text

    def rows(self):
        """The rows as texts, blank lines left out."""
        return [self._row(line) for line in self._filled()]

    def problems(self):
        """{line: {column: sentence}} of cells that cannot be read, or must be filled in on a line that is begun."""
        found = {line: {name: said for name in self.ask if (said := self._wrong(line, name))} for line in self._filled()}
        return {line: told for line, told in found.items() if told}

    def face(self, caption):
        """All that the grid shows, as arguments of its `lay_out`."""
        every = range(self.count)
        return {
            "caption": caption, "columns": self.columns(), "names": [f"Line {n + 1}" for n in every], "shown": list(every),
            "lines": [[str(n + 1), *[""] * (len(self.columns()) - 1)] for n in every],
            "typed": {f"{line}/{column}": text for (line, column), text in self.typed.items()},
            "marks": {line: {"bad": told} for line, told in self.problems().items()},
        }  # fmt: skip

    def load(self, texts_of_rows):
        """Show rows that are saved already, given as a list of {field: text}."""
        self.typed = {(n, name): row.get(name, "") for n, row in enumerate(texts_of_rows) for name in self.ask}

    def _column(self, name):
        field = self.table[name]
        options = choices_of(field) or linked(self.package, self.table.name, name)
        kind = {"kind": "choice", "options": options} if options else {"kind": "count" if _is_number(field) else "entry"}
        return {"name": name, "title": field.label, "label": field.label, **kind}

    def _filled(self):
        return [n for n in range(self.count) if any(self.typed.get((n, name), "").strip() for name in self.ask)]

    def _row(self, line):
        typed = {name: self.typed.get((line, name), "") for name in self.ask}
        return {**self.given, **({self.key: str(line + 1)} if self.key else {}), **typed}

    def _wrong(self, line, name):
        return formats.parse(self.table[name], self.typed.get((line, name), ""))[1]


class Readings(Lines):
    """Readings of one test: a line is a replicate, a column what is read there, as the test's quantity asks for.

    quantity : a word of test_quantity.  Beside the items stands how many were looked at, where that is asked.
    """

    OUT_OF = "out_of"

    def __init__(self, package, quantity, *, given=None, typed=None, least=4):
        self.items = tuple(schema.word("test_quantity", quantity)["items"])
        super().__init__(package, "readings", (*self.items, self.OUT_OF), given=given, typed=typed, least=least)

    def rows(self):
        """A row a replicate and item that was read."""
        return [
            {**self.given, "replicate": str(line + 1), "item": item, "value": self.typed[line, item],
             "unit": schema.word("reading_item", item)["unit"], "out_of": self.typed.get((line, self.OUT_OF), "")}
            for line in self._filled() for item in self.items if self.typed.get((line, item), "").strip()
        ]  # fmt: skip

    def load(self, texts_of_rows):
        """Show readings that are saved already."""
        self.typed = {}
        for row in texts_of_rows:
            line = int(row["replicate"]) - 1
            self.typed[line, row["item"]] = row["value"]
            self.typed[line, self.OUT_OF] = row["out_of"]

    def _column(self, name):
        if name == self.OUT_OF:
            return super()._column(name)
        unit = schema.word("unit", schema.word("reading_item", name)["unit"])["symbol"]
        title = schema.word("reading_item", name)["title"]
        label = f"{title}, {unit}" if unit else title
        return {"name": name, "title": label, "label": label, "kind": "count"}

    def _wrong(self, line, name):
        field = self.table["out_of" if name == self.OUT_OF else "value"]
        text = self.typed.get((line, name), "")
        return formats.parse(field, text)[1] if text.strip() else ""


def readings(package, texts):
    """The Readings of a test, by what is tested; None until that is chosen."""
    return Readings(package, texts["quantity"]) if texts.get("quantity") else None


def _is_number(field):
    return field.type in ("number", "integer")
