"""Out of the package on screen: count sheets and labels to print, and files kept beside the rows."""

import ipywidgets as widgets

from palea import schema, stamp
from palea.bench import attach, labels, sheet_files, sheets
from palea.derived.subject import known_trials
from palea.documents import files
from palea.errors import EntryError
from palea.panels.choosing import button, row
from palea.panels.panel import UNSAID, Panel, choice, labelled

AT_HAND = ("A printer set to 100 %, without margins of its own, for labels.", "The photograph or file, and what it shows.")
KINDS = (("to fill in on screen (.xlsx)", ".xlsx"), ("to print (.html)", ".html"))
FOR = (("units of a trial", "units"), ("lots", "lots"))


class OutPanel(Panel):
    """Write a count sheet, write labels, attach a file. Files that are written lie beside the package."""

    def __init__(self, package, who):
        super().__init__(package, "Sheets, labels, pictures", AT_HAND, (), who)
        trials = [(t, t) for t in known_trials(package)] or [(UNSAID, "")]
        self.trial_box, self.kind_box = choice("Trial", 64, 300, trials), choice("Sheet", 64, 340, KINDS)
        self.sheet_button = button(self, "Write a count sheet", self.sheet)
        self.label_box = choice("Labels for", 84, 300, FOR)
        self.label_button = button(self, "Write labels", self.label)
        self.file_box = labelled(widgets.Text, "File", width="64px", layout={"width": "480px"})
        self.about_box = choice("About", 64, 300, [(w["title"], n) for n, w in schema.vocabulary("about").words.items()])
        self.id_box = labelled(widgets.Text, "Its id", width="64px", layout={"width": "260px"})
        self.shows_box = labelled(widgets.Text, "Shows", width="64px", layout={"width": "480px"})
        self.share_box = widgets.Checkbox(description="It may be shared", indent=False, layout={"width": "auto"})
        self.bare_box = widgets.Checkbox(description="Without place, owner and camera", indent=False, layout={"width": "auto"})
        self.attach_button = button(self, "Attach", self.attach)
        self.work.children = [
            row(self.trial_box, self.kind_box, self.sheet_button), row(self.label_box, self.label_button),
            row(self.file_box, self.about_box, self.id_box, self.shows_box, self.share_box, self.bare_box,
                self.attach_button),
        ]  # fmt: skip
        self.bar.children = [self.who, self.status]

    def sheet(self):
        """A blank count sheet of the next visit of a trial, in walking order."""
        trial = self._trial()
        to = self._beside(f"{trial}-sheet{self.kind_box.value}")
        made = sheets.lay_out(self.package, trial)
        sheet_files.save(made, to, replace=True)
        self.say("saved", f"{to}: {len(made.lines)} lines, {'codes only' if made.blind else 'with their ids'}.")

    def label(self):
        """Labels with the id as text and as a code that a telephone reads."""
        what = self.label_box.value
        made = labels.lay_out(self.package, what, trial=self._trial() if what == "units" else "")
        to = self._beside(f"labels-{what}.html")
        files.put(lambda: labels.page(made), to, replace=True)
        self.say("saved", f"{to}: {len(made)} labels.")

    def attach(self):
        """Keep a file beside the rows: copied, with its checksum and what it shows."""
        path, of = self.file_box.value.strip(), self.id_box.value.strip()
        if not path or not of:
            msg = "Name the file, and what it is about: a table and an id."
            raise EntryError(msg)
        proposed = attach.propose(self.package, path, about=f"{self.about_box.value}:{of}", shows=self.shows_box.value.strip(),
                                  may_share=self.share_box.value, bare=self.bare_box.value)  # fmt: skip
        self.package = attach.save(proposed, stamp.now(self.who.value.strip() or None))
        self.say("saved", f"{proposed.row['path']}. {' '.join(proposed.told)}".strip())

    def _trial(self):
        if not self.trial_box.value:
            msg = "There is no trial yet whose units could be listed. Lay one out first."
            raise EntryError(msg)
        return self.trial_box.value

    def _beside(self, name):
        return self.package.folder.with_name(f"{self.package.folder.name}-{name}")


def out(package, who=None):
    """Count sheets, labels, attached files. package : Package.  who : the name for the journal."""
    return OutPanel(package, who or stamp.now().who)
