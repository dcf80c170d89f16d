"""A count sheet while it is being typed into: what its boxes hold, what stands beside them, and how it looks.

A Work is a sheet of dishes or of plots, what is typed over it, and whether the counter is blind. It turns all that into the
texts that the grid shows; it knows no widget and writes nothing.
"""

import html

import pandas as pd

from palea import schema
from palea.panels import dishes

MANY_BOXES = 4  # more than these leave no room for a sentence beside the line, so it stands below


class Work:
    """One sheet being typed.

    sheet : dishes.Sheet or plots.Sheet.  called : what its lines are.
    typed : {(unit, outcome): text} where it differs from what is saved.
    blind : whether codes stand in place of dishes and treatments.
    problems : {line: {outcome: sentence}} of the lines that cannot be saved as they are.
    """

    def __init__(self, sheet, typed, *, blind, called="dishes"):
        self.sheet, self.typed, self.blind, self.called, self.problems = sheet, dict(typed), blind, called, {}
        codes = sheet.lines["code"].fillna("").tolist()
        self.codes = [code or f"line {line + 1}" for line, code in enumerate(codes)]
        self.names = self.codes if blind else sheet.names

    @property
    def changes_saved(self):
        """Whether a count that is saved already would become another one."""
        return any(key in self.sheet.saved for key in self.typed)

    def take(self, edits):
        """Take edits [(line, outcome, text)] -> the lines that they touch, sorted."""
        for line, outcome, text in edits:
            key = self.sheet.names[line], outcome
            if text.strip() == self.sheet.shown_text(line, outcome):
                self.typed.pop(key, None)
            else:
                self.typed[key] = text
        return sorted({line for line, _, _ in edits})

    def marks(self, lines):
        """{line: what stands beside it}, as the grid wants it; remembers which lines cannot be saved."""
        found = {}
        for line, (total, left, sentences, reasons) in self.sheet.judge(self.typed, lines).items():
            told = {outcome: self._beside(line, s) for outcome, s in sentences.items()}
            self.problems.pop(line, None)
            if told:
                self.problems[line] = told
            sums = {"total": number(total), "left": number(left)} if self.sheet.sums else {}
            found[line] = {"sums": sums, "bad": told, "said": "; ".join(reasons)}
        return found

    def face(self):
        """All that the grid shows of this sheet, as arguments of its `lay_out`; the lines in view apart."""
        every = range(len(self.sheet))
        boxes = {f"{line}/{o}": self.text(line, o) for line in every for o in self.sheet.asked}
        return {
            "caption": f"Counts, {len(self.sheet)} {self.called}", "columns": self._columns(), "names": self.names,
            "lines": self._cells(), "typed": {k: t for k, t in boxes.items() if t}, "marks": self.marks(every),
        }

    def text(self, line, outcome):
        """What the box holds: what is typed, else what is saved."""
        return self.typed.get((self.sheet.names[line], outcome), self.sheet.shown_text(line, outcome))

    def counted(self, line):
        """Whether every box of the line is filled in."""
        return all(self.text(line, o).strip() for o in self.sheet.asked)

    def progress(self):
        """How far the sheet is, in a sentence."""
        done = sum(map(self.counted, range(len(self.sheet))))
        unsaved = f"{many(len(self.typed), 'count')} not saved yet" if self.typed else ""
        wrong = f"{many(len(self.problems), 'line')} to look at" if self.problems else ""
        return ", ".join(filter(None, (f"{done} of {len(self.sheet)} {self.called} counted", unsaved, wrong))) + "."

    def first_problem(self):
        """The first line that cannot be saved, as a sentence with its name; "" where there is none."""
        if not self.problems:
            return ""
        line = min(self.problems)
        more = f" {many(len(self.problems), 'line')} to look at." if len(self.problems) > 1 else ""
        return f"{self.names[line]}: {next(iter(self.problems[line].values()))}{more}"

    def _beside(self, line, sentence):
        """The sentence as it stands beside its dish, which need not be named again; its id would tell the treatment."""
        unit = self.sheet.lines["unit"].iloc[line]
        _, named, rest = sentence.partition(f"{unit}: ")
        plain = rest[:1].upper() + rest[1:] if named else sentence
        return plain.replace(unit, self.codes[line]) if self.blind else plain

    def _columns(self):
        treatment = [] if self.blind else [_column("treatment", "Treatment", "text")]
        place, sown = _column("place", "Place", "text"), _column("sown", "Sown", "number")
        first = [_column("unit", self.sheet.unit_title, "text"), *treatment, place, sown]
        boxes = [column for outcome in self.sheet.asked for column in _boxes(outcome)]
        note = _column("note", "", "note") | {"below": len(self.sheet.asked) > MANY_BOXES}
        sums = [_column("total", "Total", "sum"), _column("left", "Left", "sum")] if self.sheet.sums else []
        return [*first, *boxes, *sums, note]

    def _cells(self):
        """The fixed texts of every line, aligned with the columns."""
        part, blank = self.sheet.lines, [""] * len(self.sheet)
        fixed = {"unit": self.names, "treatment": part["treatment"], "place": part["place"]}
        fixed["sown"] = map(number, part["sown"])
        for k, outcome in enumerate(self.sheet.outcomes):
            fixed[f"last {outcome}"] = map(number, self.sheet.last[:, k])
        return [list(line) for line in zip(*(fixed.get(c["name"], blank) for c in self._columns()), strict=True)]


def _column(name, title, kind):
    return {"name": name, "title": title, "kind": kind}


def _boxes(outcome):
    """The box of an outcome, and before it what was written last, where it is looked for at every visit."""
    title = schema.word("outcome", outcome)["title"]
    box = _column(outcome, "today", "count") | {"group": title, "label": title}
    return [box] if dishes.at_the_end(outcome) else [_column(f"last {outcome}", "last", "grey") | {"group": title}, box]


def heading(visit, day):
    """Heading of a sheet as HTML: which visit, and how its counts are written."""
    when = "" if pd.isna(visit.at) else f"{visit.at:%Y-%m-%d}"
    parts = filter(None, (visit.id if when else "New visit", when if when not in visit.id else "", day, visit.by))
    named = f"<h3>{html.escape(' · '.join(parts))}</h3>"
    if not visit.counting:
        return named
    word = schema.word("counting", visit.counting)
    title, definition = html.escape(word["title"].lower()), html.escape(word["definition"])
    return f"{named}<p>In each box: <b>{title}</b>. {definition}</p>"


def hint():
    """How to type, as HTML under the sheet."""
    reasons = ", ".join(f"“{w}”" for w in schema.words("missing_reason"))
    return (
        '<p class="palea-hint"><kbd>Enter</kbd> next line, <kbd>Tab</kbd> next box, arrow keys any way, <kbd>Esc</kbd> '
        "undo. A block copied from a spreadsheet pastes from the box you are in. Blank: not looked at yet, and not "
        f"saved. 0: looked, none seen. If there will be no number, type why: {html.escape(reasons)}.</p>"
    )


def visit_label(visit):
    """A visit in a list of choices."""
    when = "no date" if pd.isna(visit.at) else f"{visit.at:%Y-%m-%d}"
    return f"{visit.id} · {when} · {visit.by}"


def number(value):
    """A count as text; "" where there is none."""
    return "" if pd.isna(value) else f"{value:.0f}"


def many(n, what):
    """A number of things, in the singular where it is one."""
    return f"1 {what}" if n == 1 else f"{n} {what}s"
