"""A colleague's package on screen: open it without trust, verify it, recompute every number, lay both side by side."""

import html

import ipywidgets as widgets

from palea import stamp
from palea.errors import EntryError
from palea.panels.panel import Panel, labelled, paragraphs, told
from palea.sharing.compare import VERDICTS
from palea.sharing.report import numbered

AT_HAND = (
    "The archive or folder as it was sent. It is opened read-only; nothing in it is executed, and nothing is fetched.",
)  # fmt: skip
SHOWN = 200
MEANING = {"differs": "error", "missing": "warning", "extra": "warning"}


class RerunPanel(Panel):
    """Name an archive, rerun it, read what is the same and what is not."""

    def __init__(self, package, path):
        super().__init__(package, "Rerun: a colleague's package", AT_HAND, (), stamp.now().who)
        self.path_box = labelled(widgets.Text, "Archive or folder", value=str(path), width="120px", layout={"width": "720px"})
        self.button = widgets.Button(description="Rerun it").add_class("palea-button")
        self.button.on_click(self.guarded(lambda _: self.rerun()))
        self.keep_button = widgets.Button(description="Keep the report", disabled=True).add_class("palea-button")
        self.keep_button.on_click(self.guarded(lambda _: self.keep()))
        self.report, self.found = widgets.HTML(), None
        self.work.children = [widgets.HBox([self.path_box, self.button, self.keep_button]).add_class("palea-choices")]
        self.computed.children = [self.report]
        self.bar.children = [self.who, self.status]

    def rerun(self):
        """Recompute and compare."""
        import palea

        path = self.path_box.value.strip()
        if not path:
            msg = "Name the archive that you were sent, as in their-trial.zip."
            raise EntryError(msg)
        self.found, self.keep_button.disabled, self.report.value = None, True, ""
        self.say("warning", "Recomputing; this can take a minute or two for a large package.")
        self.found = palea.rerun(path)
        self.report.value = _report(self.found)
        self.keep_button.disabled = False
        counts = ", ".join(f"{self.found.count(v)} {v}" for v in VERDICTS)
        self.say("saved" if self.found.agrees else "error", f"Manifest {self.found.manifest}; numbers: {counts}.")

    def keep(self):
        """Add the report to the package that was rerun; of a zip a copy is written."""
        if self.found is None:
            msg = "Rerun a package first; then its report can be kept."
            raise EntryError(msg)
        self.say("saved", f"The report is kept in {self.found.keep(stamp.now(self.who.value))}.")


def rerun(package, path=""):
    """Rerun a package that somebody sent. package : your own.  path : the archive; may be typed in the panel."""
    return RerunPanel(package, path)


def _report(report):
    """What is not identical, number beside number, drawn, with the reasons; all the rest is counted."""
    rows = numbered(report)
    shown = rows[rows["verdict"].ne("identical")].head(SHOWN).to_dict("records")
    altered = paragraphs(f"Not the file that was shared: {name}." for name in report.altered_files)
    reasons = paragraphs(f"{name}: {why}" for name, why in report.reasons.items())
    if not shown:
        return altered + paragraphs(["Every number came out the same."]) + reasons + _drawn(report)
    lines = "".join(_line(r) for r in shown)
    heads = "".join(f"<th>{h}</th>" for h in ("No.", "", "Analysis", "Quantity", "Of", "Published", "Rerun", "Why"))
    table = f'<div class="palea-table"><table><thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table></div>'
    return altered + table + reasons + _drawn(report)


def _line(r):
    cells = (r["analysis_id"], r["quantity"], r["group"], _number(r["was"]), _number(r["now"]), r["reason"])
    said = "".join(f"<td>{html.escape(str(cell))}</td>" for cell in cells)
    return f"<tr><td>{r['no'] or ''}</td><td>{told(MEANING.get(r['verdict'], 'gap'), r['verdict'])}</td>{said}</tr>"


def _number(value):
    return "" if value is None or value != value else f"{value:.6g}"


def _drawn(report):
    """Published against rerun as inline SVG with its text alternative."""
    from palea.figures import to_svg

    chart = report.chart()
    if chart is None:
        return ""
    return f'<div class="palea-figure" role="img" aria-label="{html.escape(chart.description)}">{to_svg(chart)}</div>'
