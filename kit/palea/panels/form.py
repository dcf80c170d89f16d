"""A form: one row a field, made from the schema alone.

Label, unit, help, allowed words and limits come from the Field; the text is kept as typed and read by bench.entry, so
a box never changes or swallows what somebody wrote. The boxes are our own and not ipywidgets': its number boxes cannot
be empty, and its text boxes may hand over the last letter after a click on Save.
"""

from pathlib import Path

import anywidget
import pandas as pd
import traitlets

from palea import schema
from palea.bench.proposals import key_text
from palea.panels.panel import UNSAID

HERE = Path(__file__).parent
LONGEST_LIST = 500  # choices; beyond that a person types the id
LONG = ("notes", "prior_treatment_text", "question", "rationale", "purpose", "deviations")  # boxes of two lines
NUMBERS = ("number", "integer")


class Form(anywidget.AnyWidget):
    """Boxes for the fields `ask` of a table; or, where `table` is None, for rows as `row_for` gives them.

    ask : names of fields; one of another table is written "movements.mass_g".  typed : {name: text} to begin with.
    folded : names of those that stand under “More fields”, which is open where one of them holds more than `kept`, {name:
    text} of what is saved and need not be seen.  headings : {name: text} above a row.
    on_change : called without arguments after every change.  on_save : called when Enter is pressed in the last box, or
    Ctrl+Enter in any.  `texts` gives what is typed now, `tell` puts sentences under the rows.
    """

    _esm = HERE / "form.js"
    rows = traitlets.List().tag(sync=True)
    typed = traitlets.Dict().tag(sync=True)
    marks = traitlets.Dict().tag(sync=True)
    edition = traitlets.Int(0).tag(sync=True)

    def __init__(self, package, table, ask, typed, on_change, *, folded=(), kept=None, headings=None, on_save=None):
        super().__init__()
        heads = headings or {}
        rows = ask if table is None else [row_for(package, table, n, folded=n in folded, heading=heads.get(n, "")) for n in ask]
        self._on_change, self._on_save = on_change, on_save or (lambda: None)
        self.rows = [row | {"kept": (kept or {}).get(row["name"], "")} for row in rows]
        self.typed = {row["name"]: typed.get(row["name"], "") for row in rows}
        self.on_msg(self._heard)

    @property
    def texts(self):
        """{name: text as typed}."""
        return dict(self.typed)

    def narrow(self, name, words):
        """Offer only these words in a choice; one that is chosen already stays."""
        kept = {*words, self.typed[name]}
        self.rows = [r | {"options": [o for o in r["options"] if o[0] in kept]} if r["name"] == name else r for r in self.rows]
        self.edition += 1

    def put(self, texts):
        """Set texts from Python, as an answer to a choice; what else is typed stays."""
        with self.hold_sync():
            self.typed = {**self.typed, **texts}
            self.edition += 1

    def set(self, texts):
        """Set texts without drawing the form anew, so that the caret stays where it is."""
        self.typed.update(texts)
        self.send({"set": texts})

    def tell(self, sentences):
        """Show {name: sentence, or (meaning, sentence)} under the rows, and nothing under the others."""
        told = {name: ["error", s] if isinstance(s, str) else list(s) for name, s in sentences.items() if s}
        if told != self.marks:
            self.marks = told

    def edit(self, edits, at=0):
        """Take edits [(name, text)] as the browser sends them."""
        self.typed.update(dict(edits))  # changed in place: the browser has these values already
        self._on_change()
        self.send({"at": at})

    def _heard(self, _, content, buffers):  # noqa: ARG002 - ipywidgets hands over three arguments
        if content.get("act") == "save":
            self._on_save()
            self.send({"at": content["at"]})
        else:
            self.edit(content["edits"], content["at"])


def field_of(table, name):
    """(table, Field) of a name in a form: a field of its own table, or "movements.mass_g" of another."""
    other, _, column = name.rpartition(".")
    return other or table, schema.table(other or table)[column]


def row_for(package, table, name, *, folded=False, heading=""):
    """What the browser needs to know of one field, as plain data."""
    own, field = field_of(table, name)
    row = {
        "name": name, "label": field.label, "help": " ".join(filter(None, (field.description, limits_of(field)))),
        "required": field.required, "folded": folded, "heading": heading, "options": [], "separator": "",
        "example": "" if field.example is None else f"as in {field.example}",
    }  # fmt: skip
    if field.list_of and field.parse == "list":
        words = schema.vocabulary(field.list_of).words.items()
        return row | {  # in a file they stand with semicolons; here they are ticked
            "kind": "ticks", "help": row["help"].replace(", separated by semicolons", ""),
            "separator": schema.word("text_format", field.parse)["separator"],
            "options": [[name, w["title"], w["definition"]] for name, w in words],
        }  # fmt: skip
    choices = choices_of(field) or linked(package, own, field.name)
    if choices is not None:
        return row | {"kind": "choice", "options": choices}
    return row | {"kind": "number" if field.type in NUMBERS else "long" if field.name in LONG else "text"}


def choices_of(field):
    """[[value, label, definition]] of a field with a closed choice, beginning with “not said”; None for another field."""
    if field.vocabulary:
        found = [[name, w["title"], w["definition"]] for name, w in schema.vocabulary(field.vocabulary).words.items()]
    elif field.type == "boolean":
        found = [["true", "Yes", ""], ["false", "No", ""]]
    else:
        return None
    return [["", UNSAID, ""], *found]


def linked(package, table, name):
    """[[id, label, ""]] of the rows that a foreign key of one column can point to; None where there is none, or too many."""
    link = schema.table(table).link(name)
    frame = package[link.table] if link else None
    if frame is None or len(frame) > LONGEST_LIST:
        return None
    return [["", UNSAID, ""], *([own, label, ""] for own, label in labels_of(link.table, frame))]


def labels_of(table, frame):
    """[(key, label)] of rows of a table, by the columns that a person knows them by."""
    known = schema.table(table)
    rows = frame.dropna(subset=list(known.primary_key)).to_dict("records")
    return [(key_text(table, row), _label(row, known.label_fields, known.primary_key[0])) for row in rows]


def limits_of(field):
    """The allowed range as a sentence; "" where any value is."""
    low, high = field.constraints.get("minimum"), field.constraints.get("maximum")
    if low is None and high is None:
        return ""
    unit = f" {field.symbol}" if field.symbol else ""
    if high is None:
        return f"{low}{unit} or more."
    return f"Up to {high}{unit}." if low is None else f"{low} to {high}{unit}."


def _label(row, columns, key):
    """What a row is called: its label fields in order, and its id in brackets where that is none of them."""
    said = ", ".join(str(row[c]) for c in columns if not (row[c] is None or pd.isna(row[c])))
    return said if key in columns else f"{said} ({row[key]})" if said else str(row[key])
