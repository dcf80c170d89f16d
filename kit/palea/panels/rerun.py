"""A colleague's package on screen: open it without trust, verify it, recompute every number, lay both side by side."""

import html

import ipywidgets as widgets

from palea import stamp
from palea.errors import EntryError
from palea.panels.panel import Panel, labelled, paragraphs, told
from palea.sharing.compare import VERDICTS

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
        self.report = widgets.HTML()
        self.work.children = [widgets.HBox([self.path_box, self.button]).add_class("palea-choices")]
        self.computed.children = [self.report]
        self.bar.children = [self.status]

    def rerun(self):
        """Recompute and compare."""
        import palea

        path = self.path_box.value.strip()
        if not path:
            msg = "Name the archive that you were sent, as in their-trial.zip."
            raise EntryError(msg)
        self.say("warning", "Recomputing; this can take a minute or two for a large package.")
        told_ = palea.rerun(path)
        self.report.value = _report(told_)
        counts = ", ".join(f"{told_.count(v)} {v}" for v in VERDICTS)
        self.say("saved" if told_.agrees else "error", f"Manifest {told_.manifest}; numbers: {counts}.")


def rerun(package, path=""):
    """Rerun a package that somebody sent. package : your own.  path : the archive; may be typed in the panel."""
    return RerunPanel(package, path)


def _report(report):
    """What is not identical, number beside number; all the rest is counted."""
    rows = report.results[report.results["verdict"].ne("identical")].head(SHOWN).to_dict("records")
    if not rows:
        return paragraphs(["Every number came out the same."])
    lines = "".join(
        f"<tr><td>{told(MEANING.get(r['verdict'], 'gap'), r['verdict'])}</td><td>{html.escape(str(r['analysis_id']))}</td>"
        f"<td>{html.escape(str(r['quantity']))}</td><td>{html.escape(str(r['group']))}</td><td>{r['was']}</td><td>{r['now']}</td></tr>"
        for r in rows
    )
    heads = "".join(f"<th>{h}</th>" for h in ("", "Analysis", "Quantity", "Of", "Was", "Now"))
    return f'<div class="palea-table"><table><thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table></div>'
