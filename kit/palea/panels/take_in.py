"""Taking in on screen: a laboratory's own sheet, what was understood of it and what not, and only then: keep."""

import html

import ipywidgets as widgets

from palea import schema, stamp
from palea.bench import take_in as taking
from palea.bench.take_in.mapping import Mapping
from palea.derived.subject import known_trials
from palea.errors import EntryError
from palea.panels.choosing import button, row
from palea.panels.panel import UNSAID, Panel, choice, labelled, paragraphs

AT_HAND = (
    "The file: .csv, .tsv, .txt, .xlsx or .ods, as it is. It is read and never changed.",
    "What the sheet does not say itself: what was counted, whether counts are new or running totals, who counted.",
)
SHOWN = 40
NOT_SAID = [(UNSAID, "")]


class TakeInPanel(Panel):
    """Name a file, look at what was understood, answer what is asked, keep what passes. `understood` is the last look."""

    def __init__(self, package, path, who):
        super().__init__(package, "Take in: a sheet of your own", AT_HAND, (), who)
        self.understood = None
        self.path_box = labelled(widgets.Text, "File", value=str(path), width="72px", layout={"width": "640px"})
        self.look_button = button(self, "Look at it", self.look)
        trials = [(t, t) for t in known_trials(package)]
        tables = [(t.title, n) for n, t in schema.tables().items() if n != "journal"]
        counting = schema.vocabulary("counting").words.items()
        self.boxes = {
            "table": choice("Into table", 84, 340, [*NOT_SAID, *tables]),
            "trial": choice("Trial", 64, 280, [*NOT_SAID, *trials]),
            "outcome": choice("Counted", 72, 320, [*NOT_SAID, *_titles("outcome")]),
            "counting": choice("Counts are", 84, 320, [*NOT_SAID, *((w["title"], n) for n, w in counting)]),
            "dates": choice("Dates", 64, 280, [*NOT_SAID, ("day first", "day first"), ("month first", "month first")]),
            "by": labelled(widgets.Text, "Counted by", width="84px", layout={"width": "320px"}),
            "day_zero": labelled(widgets.Text, "Day 0 is", width="72px", layout={"width": "300px"}),
        }  # fmt: skip
        self.shown = widgets.HTML()
        self.work.children = [row(self.path_box, self.look_button), row(*self.boxes.values())]
        self.computed.children = [self.shown]
        self.save_button.description = "Keep what passes"

    def look(self):
        """Read the file anew, with what is answered; nothing is written."""
        path = self.path_box.value.strip()
        if not path:
            msg = "Name the file, as in counts.xlsx."
            raise EntryError(msg)
        said = Mapping(**{name: box.value.strip() for name, box in self.boxes.items() if box.value.strip()})
        by = stamp.now(self.who.value.strip() or None)
        self.understood = taking.look(self.package, path, taking.Wishes(said, day=by.day))
        self.shown.value = _told(self.understood)
        self.tell(list(self.understood.refused))
        ready = not self.understood.asks and self.understood.taken
        many = ", ".join(f"{n} rows of {table}" for table, n in self.understood.taken.items() if n)
        nothing = "Nothing can be kept yet: answer what is asked, or mend the file."
        self.say("warning", f"Not kept yet: {many} would be." if ready else nothing)

    def save(self):
        """Keep what passes, and the mapping for next time."""
        self.look()
        if self.understood.asks or not self.understood.taken:
            msg = "Nothing was kept: answer what is asked, or mend the file, and look at it again."
            raise EntryError(msg)
        by = stamp.now(self.who.value.strip() or None)
        self.package = taking.keep(self.understood, by)
        many = ", ".join(f"{n} rows of {table}" for table, n in self.understood.taken.items() if n)
        self.say("saved", f"{many}, {by.when[:16].replace('T', ' ')}, {by.who}. The mapping is kept for next time.")


def take_in(package, path="", who=None):
    """Take in a sheet of your own. package : Package.  path : the file; may be typed in the panel."""
    return TakeInPanel(package, path, who or stamp.now().who)


def _titles(vocabulary):
    return [(w["title"], name) for name, w in schema.vocabulary(vocabulary).words.items()]


def _told(understood):
    """Columns as a table, then what is asked, what was seen, what is left out, what is not understood."""
    rows = "".join(
        f"<tr><td>{letter}</td><td>{html.escape(str(heading))}</td><td>{html.escape(str(means))}</td></tr>"
        for letter, heading, means in understood.with_meanings()
    )
    heads = "".join(f"<th>{h}</th>" for h in ("Column", "Heading", "Read as"))
    table = f'<div class="palea-table palea-done"><table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>'
    left = [f"Row {number} is left out: {why}." for number, why in understood.left_out]
    unread = [f"{f.message} {f.remedy}" for f in understood.not_understood]
    parts = (("Asked", map(str, understood.asks)), ("Seen", understood.told), ("Left out", left), ("Not understood", unread))
    return table + "".join(_part(title, lines) for title, lines in ((t, list(found)) for t, found in parts) if lines)


def _part(title, lines):
    more = [f"and {len(lines) - SHOWN} more."] if len(lines) > SHOWN else []
    return f"<h3>{title}</h3>{paragraphs([*lines[:SHOWN], *more])}"
