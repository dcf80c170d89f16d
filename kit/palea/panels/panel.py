"""The frame of every panel, the same in each stage so that the hand learns it once.

From the top: title and where the data lie; what to have at hand, and hazards; form or grid; what is computed at once;
findings; save bar. A panel holds nothing that is not on disk: what is typed is a draft beside the tables, what is saved
is read back from them.
"""

import html
import logging
import re
from functools import cache, wraps
from pathlib import Path

import ipywidgets as widgets

from palea import findings as found
from palea import look, schema
from palea.errors import PaleaError, WithFindings
from palea.words.prose import listed

LOG = logging.getLogger(__name__)
SHOWN_FINDINGS = 12
UNSAID = "–"
AGED = (
    "{} {} changed since this panel read it, by another program or another panel. What stands here is older: run all cells to "
    "read anew. What you typed is kept as a draft."
)


class Panel(widgets.VBox):
    """The frame.

    title : the stage and what is done here.  at_hand : sentences; hazards : sentences, shown with a mark.
    Subclasses fill `work` and `computed`, and say what `save` does.
    """

    def __init__(self, package, title, at_hand=(), hazards=(), who=""):
        self.package = package
        self.head = widgets.HTML(_head(title, package))
        self.hand = widgets.HTML(_at_hand(at_hand, hazards))
        self.work, self.computed = widgets.VBox(), widgets.VBox()
        self.findings, self.aged = widgets.HTML(), widgets.HTML()
        self.status = widgets.HTML().add_class("palea-status")
        self.who = labelled(widgets.Text, "Who", value=who, layout={"width": "260px"}, width="40px")
        self.save_button = widgets.Button(description="Save")
        self.save_button.on_click(self.guarded(lambda _: self.save()))
        self.bar = widgets.HBox([self.save_button, self.who, self.status]).add_class("palea-bar")
        super().__init__([style(), self.head, self.hand, self.work, self.computed, self.findings, self.aged, self.bar])
        self.add_class("palea-panel")

    def save(self):
        """Keep what was typed. A panel that saves nothing has no save bar."""
        raise NotImplementedError

    def guarded(self, handler):
        """The handler, made so that no failure vanishes: a sentence in the status line, the traceback in the log.

        ipywidgets swallows what a click handler raises; here a refusal is shown with its findings, and anything else
        says that it is our fault and that nothing was saved.
        """

        @wraps(handler)
        def safe(*args, **kwargs):
            try:
                return handler(*args, **kwargs)
            except PaleaError as refusal:
                self.say("error", str(refusal))
                if isinstance(refusal, WithFindings):
                    self.tell(refusal.findings)
            except Exception as error:
                self.say("error", f"This did not work, and nothing was saved: {type(error).__name__}: {error}. "
                                  "What you typed is kept in the draft; the log holds the details.")
                LOG.exception("A handler of the panel failed")
            finally:
                self._tell_age()
            return None

        return safe

    def _tell_age(self):
        """Say which files were changed since this panel read them: what it answers is then older than the disk."""
        files = [Path(self.package.table_path(name)).name for name in self.package.stale()]
        note = told("warning", AGED.format(listed(files), "was" if len(files) == 1 else "were")) if files else ""
        if note != self.aged.value:
            self.aged.value = note

    def say(self, meaning, sentence):
        """One sentence in the status line, with its mark and word."""
        self.status.value = f'<div role="status">{told(meaning, sentence)}</div>' if sentence else ""

    def tell(self, findings):
        """The findings, worst first, equal ones folded together."""
        grouped = found.group(findings)
        more = len(grouped) - SHOWN_FINDINGS
        rest = f"<li>and {more} more; <code>palea check</code> lists them all.</li>" if more > 0 else ""
        lines = "".join(map(_line, grouped[:SHOWN_FINDINGS]))
        self.findings.value = f'<ul class="palea-findings">{lines}{rest}</ul>' if grouped else ""


def labelled(kind, label, *, width="200px", **more):
    """A widget of that kind with its label before it, tied to it for a screen reader."""
    return kind(description=label, style={"description_width": width}, **more)


def choice(label, label_px, width_px, options=()):
    """A drop-down with its label before it."""
    return labelled(widgets.Dropdown, label, width=f"{label_px}px", layout={"width": f"{width_px}px"}, options=options)


def reasons():
    """[(title, word)] of why a saved value may change, beginning with “not said”."""
    why = schema.vocabulary(schema.table("journal")["reason"].vocabulary).words
    return [(UNSAID, ""), *((w["title"], name) for name, w in why.items() if name != "entry")]


def told(meaning, sentence):
    """A sentence as HTML, in one of the four meanings: mark, word and colour."""
    mark, word, _ = look.MEANINGS[meaning]
    return f'<span class="palea-{meaning}"><b>{mark} {word}</b></span> {html.escape(sentence)}'


def paragraphs(sentences, kind=""):
    """Sentences as HTML, a paragraph each."""
    return "".join(f'<p class="{kind}">{html.escape(s)}</p>' for s in sentences)


def taught(text):
    r"""A text of several sentences as HTML, a paragraph for each part that ends its line with a full stop.

    >>> taught("One line\nand its rest.\nAnother.")
    '<p class="">One line and its rest.</p><p class="">Another.</p>'
    """
    return paragraphs(part.replace("\n", " ") for part in re.split(r"(?<=\.)\n", text.strip()))


def figure(outcome):
    """The figure of an Outcome as inline SVG with its text alternative: no script, no network, prints as it looks."""
    from palea.figures import alternative, to_svg

    svg = to_svg(outcome.figure())
    text = alternative(outcome.result, outcome.names)
    return f'<div class="palea-figure" role="img" aria-label="{html.escape(text)}">{svg}</div>'


@cache
def _style_sheet():
    return (Path(__file__).parent / "panel.css").read_text(encoding="utf-8")


def style():
    """The style sheet of the panels, as a widget that shows nothing itself."""
    return widgets.HTML(f"<style>{_style_sheet()}</style>", layout={"display": "none"})


def _head(title, package):
    where = html.escape(f"{package.title} · {package.folder}")
    return f'<h2>{html.escape(title)}</h2><div class="palea-where">{where}</div>'


def _at_hand(at_hand, hazards):
    if not at_hand and not hazards:
        return ""
    mark = look.MEANINGS["warning"][0]
    danger = "".join(f'<li class="palea-warning"><b>{mark} Hazard</b> {html.escape(h)}</li>' for h in hazards)
    lines = "".join(f"<li>{html.escape(a)}</li>" for a in at_hand)
    return f'<div class="palea-at-hand"><b>Have at hand</b><ul>{lines}{danger}</ul></div>'


def _line(finding):
    mark, word, _ = look.MEANINGS[finding.severity]
    place = ", ".join(filter(None, (finding.table, f"row {finding.row}" if finding.row else "", finding.field)))
    more = f" ({finding.count} times)" if finding.count > 1 else ""
    return (f'<li class="palea-{finding.severity}"><b>{mark} {word}</b><span class="palea-said">'
            f'{html.escape(finding.message)}{more}</span> <span class="palea-remedy">{html.escape(finding.remedy)} '
            f'({html.escape(place)})</span></li>')
