"""Counting on screen: the counts of one visit to dishes, or to plots and rows, typed by keyboard from the paper sheet."""

import asyncio
import gc
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import ipywidgets as widgets

from palea import schema, shipped, stamp
from palea.bench import drafts, entry, precautions
from palea.derived.facts import Facts
from palea.errors import EntryError, PaleaError
from palea.panels import count_sheet, dishes, visit_form
from palea.panels.count_sheet import Work, many
from palea.panels.grid import CountSheet
from palea.panels.panel import Panel, choice, figure, labelled, paragraphs, reasons, taught, told
from palea.panels.visit_form import VisitForm

NEW = ""  # the visit that is not yet in the tables
ALL = "all"
FILTERS = {"taxon": "Species", "treatment": "Treatment", "environment": "Held at"}
SHOW = (("all", ALL), ("not counted yet", "open"), ("with a mistake", "wrong"))


@dataclass(frozen=True)
class Kind:
    """What is counted, and how. stage : its stage.  title, at_hand, teaching : as a panel shows them.

    lay_out : a function (facts, trial, visit) that gives the sheet.  trials : a function of facts that gives their ids.
    recipe : what is told and drawn of what is saved.  many : what the units are called.
    """

    stage: str
    title: str
    at_hand: tuple[str, ...]
    teaching: str
    lay_out: Callable
    trials: Callable
    recipe: str
    many: str


class Counting(Panel):
    """The panel: a visit's form, its sheet, the curve. `sheet_work` holds what is typed in the sheet."""

    def __init__(self, package, kind, trial, who):
        self.kind = kind
        super().__init__(package, kind.title, kind.at_hand, _hazards(package, kind), who or stamp.now().who)
        self._facts, self._person, self._setting = Facts(package), who, False
        self.sheet_work, self.form = None, None
        self.grid = CountSheet(self.guarded(self._edited))
        self.curve, self.about, self.form_place = widgets.HTML(), widgets.HTML(), widgets.VBox()
        self.trial_box = choice("Trial", 64, 500)
        self.visit_box = choice("Visit", 64, 420)
        self.filters = {name: choice(title, 84, 300) for name, title in FILTERS.items()}
        self.show_box = choice("Show", 84, 300, SHOW)
        self.blind_box = widgets.Checkbox(description="Blind: codes, no treatments", indent=False)
        self.reason = choice("Why changed", 100, 280, reasons())
        self.words = labelled(widgets.Text, schema.table("journal")["words"].title, width="70px", layout={"width": "300px"})
        self.bar.children = [self.save_button, self.who, self.reason, self.words, self.status]
        self._listen()
        self._open(trial)
        _settle()

    def save(self):
        """Keep what is typed: the visit, if it is new, and its counts, in one transaction."""
        self._refuse()
        visit, by = self._visit(), self._stamp()
        proposal = self._proposal(visit)
        reason = self.reason.value if self._changes_saved() else "entry"
        saved = entry.save(proposal, by, reason, self.words.value.strip())
        drafts.drop(self.package, self._draft_name())
        self._take(saved)
        self._set(self.reason, "")
        self.words.value = ""  # they were about this change, and not about the next
        self._choose_visit(visit.id)
        self.tell(proposal.findings)
        counted = len(proposal.rows["counts"])
        kept = f"{many(counted, 'count')} of visit {visit.id}" if counted or not self.form.saved else f"Visit {visit.id}"
        self.say("saved", f"{kept}, {by.when[:16].replace('T', ' ')}, {by.who}.")
        self._draw()

    def fill(self):
        """Put the invented demo into this empty package, to learn by."""
        from palea.tables.opening import open_package

        demo = open_package(shipped.folder("datapackages_demo") / "journey")
        self._take(entry.fill(self.package, demo, self._stamp(), f"Invented rows of “{demo.title}”."))
        self._open(None)
        self.say("saved", "The invented demo is in this package now. Take another folder for your own seed.")

    @property
    def trial(self):
        """Id of the trial that is shown; None where the package has none."""
        return self.trial_box.value

    # --- what is shown

    def _open(self, trial):
        trials = self.kind.trials(self._facts)
        if trial is not None and trial not in trials:
            msg = f"There is no trial “{trial}” with {self.kind.many} in use. There are: {', '.join(trials) or 'none'}."
            raise EntryError(msg)
        if not trials:
            self._teach()
            return
        titles = self._facts["trials"].set_index("trial_id")["title"]
        self._set(self.trial_box, trial or trials[0], [(f"{t} · {titles.get(t, '')}", t) for t in trials])
        choices = widgets.HBox([self.trial_box, self.visit_box, *self.filters.values(), self.show_box, self.blind_box])
        hint = widgets.HTML(count_sheet.hint())
        self.work.children = [choices.add_class("palea-choices"), self.form_place, self.about, self.grid, hint]
        self.computed.children = [self.curve]
        self.bar.children = [self.save_button, self.who, self.reason, self.words, self.status]
        self._choose_trial()

    def _teach(self):
        fill = widgets.Button(description="Fill this empty package from the demo").add_class("palea-button")
        fill.on_click(self.guarded(lambda _: self.fill()))
        empty = not self.package.read_only and not any(len(self.package[name]) for name in self.package.names)
        self.work.children = [widgets.HTML(taught(self.kind.teaching)), *([fill] if empty else [])]
        self.bar.children = [self.who, self.status] if empty else [self.status]

    def _choose_trial(self):
        visits = self._visits()
        waiting = [v for v in (NEW, *(v.id for v in visits)) if self._draft(v)]
        last = visits[-1].id if visits and dishes.is_last(visits[-1]) else NEW
        self._choose_visit(waiting[0] if waiting else last)
        if waiting and self.sheet_work.typed:
            count = many(len(self.sheet_work.typed), "count")
            self.say("warning", f"{count} typed before are back from the draft; they are not saved yet.")
        elif waiting and self.form.changes_saved:
            self.say("warning", "What you typed of this visit before is back from the draft; it is not saved yet.")
        _soon(self.guarded(self._draw))

    def _choose_visit(self, visit_id):
        """Show that visit: its saved counts, and over them what its draft holds."""
        visits = self._visits()
        options = [("New visit", NEW), *((count_sheet.visit_label(v), v.id) for v in reversed(visits))]
        self._set(self.visit_box, visit_id, options)
        draft = self._draft(visit_id)
        names = visit_form.asked(self._facts, self.trial)
        begun = (visit_form.as_saved(self.package, names, visit_id) if visit_id else
                 visit_form.usual(self._facts, names, visits, self._person))  # fmt: skip
        self.form = VisitForm(self.package, begun, draft.get("visit", {}), self.guarded(self._form_changed),
                              self.guarded(self.save), stage=self.kind.stage, saved=visit_id)  # fmt: skip
        self.form_place.children = [self.form]
        visit = self._visit()
        usual = visit.blind if visit_id else bool(visits) and visits[-1].blind
        self._set(self.blind_box, draft.get("blind", usual))
        self._lay_out(visit, {(unit, outcome): text for unit, outcome, text in draft.get("counts", [])})

    def _lay_out(self, visit, typed):
        sheet = self.kind.lay_out(self._facts, self.trial, visit)
        self.sheet_work = Work(sheet, typed, blind=self.blind_box.value, called=self.kind.many)
        for name, box in self.filters.items():
            self._offer(name, box)
        self.grid.lay_out(**self.sheet_work.face(), shown=self._in_view())
        self.about.value = count_sheet.heading(visit, dishes.day_of(sheet))
        self._show_progress()

    def _offer(self, name, box):
        """What a filter offers; it is hidden where there is no choice, or where it would tell the treatment."""
        found = self.sheet_work.sheet.lines[name].dropna().unique().tolist()
        self._set(box, box.value if box.value in found else ALL, [("all", ALL), *((x, x) for x in found)])
        hidden = len(found) < 2 or (name == "treatment" and self.sheet_work.blind)
        box.layout.display = "none" if hidden else None

    def _in_view(self):
        """Numbers of the lines that the filters leave."""
        frame, work = self.sheet_work.sheet.lines, self.sheet_work
        wanted = {n: b.value for n, b in self.filters.items() if b.value != ALL and b.layout.display != "none"}
        kept = [line for line in range(len(frame)) if all(frame[n].iat[line] == v for n, v in wanted.items())]
        tests = {"open": lambda line: not work.counted(line), "wrong": lambda line: line in work.problems}
        return list(filter(tests.get(self.show_box.value), kept)) if self.show_box.value in tests else kept

    def _show_progress(self):
        self.grid.progress = self.sheet_work.progress()
        self.reason.layout.display = self.words.layout.display = None if self._changes_saved() else "none"

    def _draw(self):
        """The curve of the trial as it is saved, with its sentences; none while the counter is blind."""
        import palea

        if self.blind_box.value:
            reason = "The curve shows treatments, so it is not drawn while you count blind."
            self.curve.value = paragraphs([reason], "palea-hint")
            return
        if self._facts["counts"].empty:
            self.curve.value = ""
            return
        outcome = palea.run(self.kind.recipe, self.package, trial=self.trial)
        doubts = "".join(f"<p>{told('warning', w)}</p>" for w in outcome.warnings)
        self.curve.value = f"<h3>What is saved so far</h3>{paragraphs(outcome.sentences)}{doubts}{figure(outcome)}"

    # --- what is typed

    def _edited(self, edits):
        """Edits from the grid -> marks. The draft is written before anything is judged."""
        lines = self.sheet_work.take(edits)
        self._keep()
        marks = self.sheet_work.marks(lines)
        self._show_progress()
        return marks

    def _form_changed(self):
        self.form.tell({})
        self._keep()
        self._show_progress()
        visit, shown = self._visit(), self.sheet_work.sheet.visit
        if (visit.at, visit.outcomes, visit.counting) != (shown.at, shown.outcomes, shown.counting):
            self._lay_out(visit, self.sheet_work.typed)

    def _keep(self):
        typed = [[unit, outcome, text] for (unit, outcome), text in self.sheet_work.typed.items()]
        draft = {"visit": self.form.draft, "blind": self.blind_box.value, "counts": typed}
        try:
            if typed or self.form.changes:
                drafts.write(self.package, self._draft_name(), draft)
            else:
                drafts.drop(self.package, self._draft_name())
        except PaleaError as error:  # what was typed is on the screen still, and must be judged all the same
            self.say("error", str(error))

    def _draft(self, visit_id):
        return drafts.read(self.package, self._draft_name(visit_id))

    def _draft_name(self, visit_id=None):
        visit_id = self.visit_box.value if visit_id is None else visit_id
        return f"{self.kind.stage} {self.trial} {visit_id or 'new visit'}"

    def _refuse(self):
        """Raise EntryError where nothing is there to save, a line is wrong, or what is saved would change without why."""
        work = self.sheet_work
        if self.form.saved and not work.typed and not self.form.changes:
            msg = "There is nothing new to save: all that is typed here is saved already."
        elif work.problems:
            msg = f"Not saved. {work.first_problem()}"
        elif self._changes_saved() and not self.reason.value:
            what = "Saved counts" if work.changes_saved else "A saved visit"
            msg = f"{what} would change. Choose why, beside the Save button; the journal keeps both values."
        else:
            return
        raise EntryError(msg)

    def _changes_saved(self):
        """Whether a count or a field of the visit that is saved already would become another one."""
        return self.sheet_work.changes_saved or self.form.changes_saved

    def _proposal(self, visit):
        if self.form.saved:
            rows = [{"visit_id": visit.id, **self.form.changes}] if self.form.changes else []
        else:
            rows = [{"visit_id": visit.id, "trial_id": self.trial, "blind": str(self.blind_box.value).lower(),
                     "typed_at": self._stamp().when, **self.form.texts}]  # fmt: skip
        proposal = entry.propose(self.package, "visits", rows)
        self.form.tell({f.field: f"{f.message} {f.remedy}" for f in proposal.new_errors})
        return proposal.then("counts", self._rows(visit))

    def _rows(self, visit):
        return self.sheet_work.sheet.rows_to_keep(self.sheet_work.typed, visit)

    def _visit(self):
        """The visit that is shown, as it is saved; a new one as its form now says, with the id that it will have."""
        if self.form.saved:
            return next(v for v in self._visits() if v.id == self.form.saved)
        texts = self.form.texts
        return dishes.visit_from({**texts, "visit_id": self._new_id(texts["visited_at"].strip()[:10])})

    def _visits(self):
        return dishes.visits_of(self._facts, self.trial)

    def _new_id(self, day):
        known = set(self._facts["visits"]["visit_id"])
        plain = f"{self.trial}-{day or 'new'}"
        return next(name for name in (plain, *(f"{plain}-{n}" for n in range(2, len(known) + 3))) if name not in known)

    # --- boxes, package, clock

    def _take(self, package):
        self.package, self._facts = package, Facts(package)

    def _stamp(self):
        return stamp.now(self.who.value.strip() or None)

    def _listen(self):
        self._when_chosen(self.trial_box, self._choose_trial)
        self._when_chosen(self.visit_box, lambda: self._choose_visit(self.visit_box.value))
        self._when_chosen(self.blind_box, self._veil)
        for box in (*self.filters.values(), self.show_box):
            self._when_chosen(box, self._filter)

    def _when_chosen(self, box, action):
        """Do it when a person chooses; not when the panel itself sets the box."""
        box.observe(self.guarded(lambda _: None if self._setting else action()), "value")

    def _set(self, box, value, options=None):
        self._setting = True
        try:
            if options is not None:
                box.options = options
            box.value = value
        finally:
            self._setting = False

    def _filter(self):
        self.grid.shown = self._in_view()

    def _veil(self):
        self._keep()
        self._lay_out(self.sheet_work.sheet.visit, self.sheet_work.typed)
        self._draw()


def _hazards(package, kind):
    """Hazard statements of what the trials of that kind hold besides water, by material."""
    facts = Facts(package)
    places = facts["environments"]
    held = set(places.loc[places["trial_id"].isin(kind.trials(facts)), "osmoticum"].dropna())
    return tuple(f"{name}: {'; '.join(stated)}" for name, stated, _ in precautions.of_materials(package, held)
                 if not stated[0].startswith("none"))  # a data sheet that lists none is no hazard


@cache
def _settle():
    """Let the garbage collector pass over what stays anyway: libraries, schema. Its look would take 0.15 s, at a key stroke."""
    gc.freeze()


def _soon(action):
    """Once the page has been drawn, where there is a page; else at once."""
    try:
        asyncio.get_running_loop().call_later(0.2, action)
    except RuntimeError:
        action()
