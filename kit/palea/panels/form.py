"""A form: one row a field, made from the schema alone.

Label, unit, help, allowed words and limits come from the Field; the text is kept as typed and read by bench.entry, so
a box never changes or swallows what somebody wrote. Number boxes are not used: they cannot be empty, and blank is not
zero.
"""

import html

import ipywidgets as widgets
import pandas as pd

from palea import schema
from palea.panels.panel import labelled, told

UNSAID = "–"
WIDE = {"width": "480px"}
LONGEST_LIST = 500  # choices; beyond that a person types the id


class Form(widgets.VBox):
    """Boxes for the fields `ask` of a table.

    typed : {field: text} to begin with.  on_change : called without arguments after every change.
    boxes : {field: its widget}.  `texts` gives what is typed now, `tell` puts sentences under the rows.
    """

    def __init__(self, package, table, ask, typed, on_change):
        self.table = schema.table(table)
        self.boxes, self._told = {}, {}
        rows = [self._row(package, self.table[name], typed.get(name, ""), on_change) for name in ask]
        super().__init__(rows)

    @property
    def texts(self):
        """{field: text as typed}."""
        return {name: _text_of(box) for name, box in self.boxes.items()}

    def tell(self, sentences):
        """Show {field: sentence} under the rows, and nothing under the others."""
        for name, place in self._told.items():
            place.value = told("error", sentences[name]) if sentences.get(name) else ""

    def _row(self, package, field, text, on_change):
        box = box_for(package, self.table.name, field, text)
        self.boxes[field.name] = box
        self._told[field.name] = widgets.HTML().add_class("palea-told")
        explain = widgets.HTML(help_of(field, text)).add_class("palea-help")

        def changed(_):
            explain.value = help_of(field, _text_of(box))
            on_change()

        for part in getattr(box, "parts", [box]):
            part.observe(changed, "value")
        beside = [box] if isinstance(box, Ticks) else [box, explain]  # ticks need the width, and explain themselves
        row = widgets.HBox(beside).add_class("palea-field")
        return widgets.VBox([row, self._told[field.name]])


class Ticks(widgets.HBox):
    """Several words of a list, a tick box each; its text is the words with the format's separator between them."""

    def __init__(self, field, text):
        self.separator = schema.word("text_format", field.parse)["separator"]
        chosen = {w.strip() for w in text.split(self.separator.strip())}
        words = schema.vocabulary(field.list_of).words
        self.parts = [_tick(w, chosen=name in chosen) for name, w in words.items()]
        self.names = list(words)
        ticks = widgets.HBox(self.parts).add_class("palea-boxes")
        super().__init__([widgets.Label(field.label, layout={"width": "200px", "flex": "0 0 auto"}), ticks])

    @property
    def value(self):
        """The words ticked, in the order of the list."""
        return self.separator.join(n for n, part in zip(self.names, self.parts, strict=True) if part.value)


def _tick(word, *, chosen):
    return widgets.Checkbox(value=chosen, description=word["title"], indent=False, tooltip=word["definition"])


def box_for(package, table, field, text):
    """The widget for a field: a choice for words, links and yes or no, ticks for a list, else a text box."""
    if field.list_of and field.parse == "list":
        return Ticks(field, text)
    choices = choices_of(field) or linked(package, table, field.name)
    if choices is None:
        return labelled(widgets.Text, field.label, value=text, placeholder=f"as in {field.example}", layout=WIDE)
    known = [value for _, value in choices]
    options = choices if text in known else [*choices, (f"{text} (not in the list)", text)]
    return labelled(widgets.Dropdown, field.label, options=options, value=text, layout=WIDE)


def choices_of(field):
    """[(label, value)] of a field with a closed choice, beginning with “not said”; None for any other field."""
    if field.vocabulary:
        found = [(w["title"], name) for name, w in schema.vocabulary(field.vocabulary).words.items()]
    elif field.type == "boolean":
        found = [("Yes", "true"), ("No", "false")]
    else:
        return None
    return [(UNSAID, ""), *found]


def linked(package, table, name):
    """[(label, id)] of the rows that a foreign key of one column can point to; None where it has none, or too many."""
    link = schema.table(table).link(name)
    frame = package[link.table] if link else None
    if frame is None or len(frame) > LONGEST_LIST:
        return None
    labels = [c for c in schema.table(link.table).label_fields if c not in link.to]
    rows = [(row, row[link.to[0]]) for row in frame.to_dict("records")]
    return [(UNSAID, ""), *((_label(row, labels, own), own) for row, own in rows)]


def help_of(field, text):
    """What the field means, in grey: the definition of the chosen word, else the description and what is allowed."""
    if field.vocabulary and text in schema.vocabulary(field.vocabulary).words:
        return html.escape(schema.word(field.vocabulary, text)["definition"])
    return html.escape(" ".join(filter(None, (field.description, limits_of(field)))))


def limits_of(field):
    """The allowed range as a sentence; "" where any value is."""
    low, high = field.constraints.get("minimum"), field.constraints.get("maximum")
    if low is None and high is None:
        return ""
    unit = f" {field.unit}" if field.unit not in ("", "1") else ""
    if high is None:
        return f"{low}{unit} or more."
    return f"Up to {high}{unit}." if low is None else f"{low} to {high}{unit}."


def _label(row, columns, own):
    said = [str(row[c]) for c in columns if not _missing(row[c])]
    return f"{', '.join(said)} ({own})" if said else str(own)


def _missing(value):
    return value is None or pd.isna(value)


def _text_of(box):
    return box.value or ""
