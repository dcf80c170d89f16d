"""The record on screen: what is wrong or missing, how complete it is by stage, and writing and sharing it."""

import html

import ipywidgets as widgets

from palea import findings as found
from palea import schema, stamp
from palea.checks import checklist, sharing
from palea.errors import EntryError
from palea.panels.panel import Panel, choice, labelled, paragraphs
from palea.sharing import archive, redact

AT_HAND = (
    "Friday afternoon, and whoever knows what was not written down.",
    "A gap is no shame: it is shown where it lies, with who withholds it or why it was not recorded.",
)
WIDE = {"width": "560px"}
FORMATS = (("web page, to read and print", ".html"), ("word processor", ".docx"), ("plain text", ".md"))


class RecordPanel(Panel):
    """Check the package, write its methods record, share it as one archive."""

    def __init__(self, package, who):
        super().__init__(package, "Record: write it up, and share it", AT_HAND, (), who)
        self.sharing_box = widgets.Checkbox(description="as for sharing", indent=False, layout={"width": "auto"})
        self.check_button = self._button("Check", self.check)
        self.format_box = choice("Record as", 80, 340, FORMATS)
        self.write_button = self._button("Write the record", self.write)
        self.to_box = labelled(widgets.Text, "Archive", value=f"{package.folder.name}.zip", width="64px", layout=WIDE)
        self.share_button = self._button("Share", self.share)
        self.checklist = widgets.HTML()
        self.stay_boxes = {column: _stays(column) for column in redact.asked_of(package)}
        rows = (
            [self.check_button, self.sharing_box], [self.write_button, self.format_box], [self.share_button, self.to_box],
            [widgets.Label("Stays here:"), *self.stay_boxes.values()] if self.stay_boxes else [],
        )  # fmt: skip
        self.work.children = [widgets.HBox(row).add_class("palea-choices") for row in rows if row]
        self.computed.children = [self.checklist]
        self.bar.children = [self.who, self.status]

    def check(self):
        """All findings, worst first, and the checklist by stage."""
        import palea

        self.package = palea.open_package(self.package.folder)
        told_ = sharing.check(self.package) if self.sharing_box.value else palea.check(self.package)
        self.tell(told_)
        self.checklist.value = _checklist(self.package)
        self.say("saved" if not any(f.severity == "error" for f in told_) else "error", found.counted(told_))

    def write(self):
        """Write the methods record beside the package."""
        import palea

        to = self.package.folder.with_name(f"{self.package.folder.name}-methods{self.format_box.value}")
        palea.write_methods(palea.open_package(self.package.folder), to, replace=True)
        self.say("saved", f"The record is in {to}.")

    def share(self):
        """Write the archive and say what was withheld; while errors stand nothing is written, and they are listed."""
        import palea

        name = self.to_box.value.strip()
        if not name:
            msg = "Name the archive, as in my-trial.zip."
            raise EntryError(msg)
        to = self.package.folder.with_name(name)
        if to.exists():
            msg = f"{to.name} is there already. Give the archive another name."
            raise EntryError(msg)
        left = tuple(column for column, box in self.stay_boxes.items() if box.value)
        _, said = archive.told(palea.open_package(self.package.folder), to, leave_out=left)
        self.checklist.value = f"<h3>What was done before it left</h3>{paragraphs(said or ['Nothing had to be withheld.'])}"
        self.say("saved", f"The archive is {to}; a colleague reruns it with: palea rerun {to.name}")

    def _button(self, text, do):
        button = widgets.Button(description=text).add_class("palea-button")
        button.on_click(self.guarded(lambda _: do()))
        return button


def record(package, who=None):
    """Check, write the methods record, share. package : Package.  who : the name for the journal."""
    return RecordPanel(package, who or stamp.now().who)


def _stays(column):
    """A box to tick for a column of which one is to be asked before it leaves, as a price."""
    table, _, name = column.partition(".")
    told = f"{schema.table(table)[name].title} ({schema.table(table).title.lower()})"
    return widgets.Checkbox(description=told, indent=False, layout={"width": "auto"})


def _checklist(package):
    """The checklist as a table, a line a stage and weight; never one number for all."""
    import palea

    columns = ("applicable", "reported", "withheld", "not_recorded", "missing")
    titles = ("Stage", "Weight", "Asked", "Reported", "Withheld", "Not recorded", "Missing")
    heads = "".join(f"<th>{title}</th>" for title in titles)
    lines = "".join(
        f"<tr><td>{html.escape(schema.word('stage', row['stage'])['title'])}</td><td>{row['weight']}</td>"
        + "".join(f"<td>{row[c]}</td>" for c in columns) + "</tr>"
        for row in checklist.tally(palea.checklist(package)) if row["applicable"]
    )  # fmt: skip
    table = f'<div class="palea-table"><table><thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table></div>'
    return f"<h3>What the record tells, by stage</h3>{paragraphs(['Essential and recommended items are counted apart.'])}{table}"
