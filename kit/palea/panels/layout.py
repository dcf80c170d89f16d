"""The layout of a trial on screen: treatments with their lots, the plan drawn at once, kept as units, and locked."""

import ipywidgets as widgets

from palea import schema, stamp
from palea.analyses.run import preview
from palea.bench import entry, plan
from palea.bench.later import Later
from palea.derived.facts import plain
from palea.errors import EntryError, PaleaError
from palea.figures import draw, to_svg
from palea.panels.choosing import button, row
from palea.panels.form import Form
from palea.panels.panel import UNSAID, Panel, choice, paragraphs, told
from palea.words import say

AT_HAND = (
    "The trial, opened with its question, outcomes and contrasts; its treatments, and the lots of each.",
    "Lock the plan before the first unit is sown: what is changed after that is a change to the plan.",
)
PAUSE_S = 0.6
USUAL = "randomised blocks"
LOTS = (
    "Its lots, separated by semicolons; several are its batches, which take turns. “unsown” for a unit without seed; blank: "
    "not in this trial."
)
NUMBERS = {"seeds": ("Seed units a unit", "25"), "repeats": ("Units of each treatment", "4"), "columns": ("Width in units", "0"),
           "seed": ("Number that the layout is drawn from", "1")}  # fmt: skip


class LayoutPanel(Panel):
    """Lay units out and lock the plan. `laid` is the LaidOut that is shown."""

    def __init__(self, package, trial, who):
        super().__init__(package, "Layout: where each unit lies", AT_HAND, (), who)
        self.laid = None
        trials = list(package["trials"]["trial_id"].dropna()) or [""]
        self.trial_box = choice("Trial", 64, 300, [(t or UNSAID, t) for t in trials])
        self.form, self.form_place, self.shown = None, widgets.VBox(), widgets.HTML()
        self.lock_button = button(self, "Lock the plan", self.lock)
        self.save_button.description = "Keep the units"
        self.bar.children = [self.save_button, self.lock_button, self.who, self.status]
        self.work.children, self.computed.children = [row(self.trial_box), self.form_place], [self.shown]
        self._later = Later(self.guarded(self._show), PAUSE_S)
        if trial:
            self.trial_box.value = trial
        self.trial_box.observe(self.guarded(lambda _: self._open()), "value")
        self._open()

    def save(self):
        """Keep the units that are shown, in one entry."""
        self.laid = self._lay_out()
        by = stamp.now(self.who.value.strip() or None)
        self.package = entry.save(self.laid.proposal, by, "entry", f"Units of {self.trial_box.value} laid out.")
        self._open()
        many = len(self.laid.layout.units)
        self.say("saved", f"{many} units, {by.when[:16].replace('T', ' ')}, {by.who}. Lock the plan next.")

    def lock(self):
        """Lock the plan with time and hash."""
        self.package = plan.lock(self.package, self.trial_box.value, stamp.now(self.who.value.strip() or None))
        self._open()
        self.say("saved", "The plan is locked; later edits are told as changes to it.")

    def _open(self):
        """A trial without units gets a form; one with units is told as it stands."""
        trial = self.trial_box.value
        there = self.package["units"]["trial_id"].eq(trial).fillna(value=False).any() if trial else False
        self.save_button.layout.display = "none" if there or not trial else None
        self.lock_button.layout.display = None if there else "none"
        self.form_place.children = []
        self.form = None
        if not trial:
            self.shown.value = paragraphs(["This package has no trial yet. Open one above: “Open a trial”."])
        elif there:
            self.shown.value = self._standing(trial)
        else:
            typed = {name: usual for name, (_, usual) in NUMBERS.items()} | {"kind": schema.words("unit_kind")[0], "design": USUAL}
            self.form = Form(self.package, None, self._rows(), typed, self.guarded(self._later.soon))
            self.form_place.children = [self.form]
            self._later.soon()

    def _rows(self):
        """Rows of the form: kind, design, numbers, and a box for the lots of each treatment."""
        kinds, designs = (
            [[name, word["title"], word["definition"]] for name, word in schema.vocabulary(of).words.items()]
            for of in ("unit_kind", "design")
        )
        places = [["", UNSAID, ""], *([e, e, ""] for e in plain(self.package["environments"])["environment_id"])]
        rows = [_choice("kind", "Kind of unit", kinds), _choice("design", "Design", designs)]
        rows.append(_choice("environment", "Lies in", places))
        rows += [_text(name, label, "number") for name, (label, _) in NUMBERS.items()]
        treatments = plain(self.package["treatments"])
        boxes = [_text(f"of {treatment}", f"{label} ({treatment})", "text")
                 for treatment, label in zip(treatments["treatment_id"], treatments["label"], strict=True)]  # fmt: skip
        first = [box | {"heading": "The lots of each treatment", "help": LOTS} for box in boxes[:1]]
        return [*rows, *first, *boxes[1:]]

    def _lay_out(self):
        texts = self.form.texts
        given = {n.removeprefix("of "): t for n, t in texts.items() if n.startswith("of ") and t.strip()}
        lots = {n: _lots(t) for n, t in given.items()}
        if len(lots) < 2:
            msg = "Name the lots of two treatments or more; each box of lots that is filled in puts its treatment into the trial."
            raise EntryError(msg)
        numbers = {name: _whole(texts[name], label) for name, (label, _) in NUMBERS.items()}
        kind, design = texts["kind"] or schema.words("unit_kind")[0], texts["design"] or USUAL
        trial, place = self.trial_box.value, texts["environment"]
        return plan.lay_out(self.package, trial, lots, environment=place, kind=kind, design=design, **numbers)

    def _show(self):
        """The plan as it would be, drawn, with what it takes of each lot."""
        if self.form is None:
            return
        try:
            self.laid = self._lay_out()
        except PaleaError as refusal:
            self.shown.value = f"<p>{told('gap', str(refusal))}</p>"
            return
        sentences = say(self.laid.layout, {})
        needs = preview("planning.seed", self.laid.proposal.package)
        picture = to_svg(draw(self.laid.layout, sentences, {}))
        told_ = paragraphs([*sentences, *needs.sentences, *needs.result.warnings])
        self.shown.value = f'{told_}<div class="palea-figure">{picture}</div>'
        self.tell(list(self.laid.proposal.findings))

    def _standing(self, trial):
        when, _ = plan.locked_as(self.package, trial)
        many = int(self.package["units"]["trial_id"].eq(trial).sum())
        head = f"{trial} has {many} units. " + (f"Its plan is locked since {when}." if when else "Its plan is not locked here.")
        changes = list(plan.changes_to(self.package, trial)) if when else []
        return paragraphs([head, *(changes or (["Nothing was changed since."] if when else []))])


def layout(package, trial=None, who=None):
    """Lay the units of a trial out, keep and lock them. package : Package.  trial : its id."""
    return LayoutPanel(package, trial, who or stamp.now().who)


def _text(name, label, kind, told_=""):
    return {"name": name, "label": label, "help": told_, "required": False, "folded": False, "heading": "", "options": [],
            "separator": "", "example": "", "kind": kind}  # fmt: skip


def _choice(name, label, options):
    return _text(name, label, "choice") | {"options": options}


def _lots(text):
    """The lots of a treatment as typed; none for an unsown one."""
    return [] if text.strip() == "unsown" else [lot.strip() for lot in text.split(";") if lot.strip()]


def _whole(text, label):
    try:
        return int(text.strip() or "0")
    except ValueError:
        msg = f"{label}: “{text}” is not a whole number; write 4."
        raise EntryError(msg) from None
