"""A run at the bench: a procedure opened as a list of steps, each ticked as it is done, until the product is weighed.

One step is open at a time, planned beside actual; everything typed or ticked is in a draft on disk before anything else
happens, so that a pause, a dead kernel or a power cut loses nothing.
"""

import ipywidgets as widgets

from palea import schema, stamp
from palea.bench import drafts, entry, precautions, proposals, run_book, run_entry
from palea.bench.later import Later
from palea.bench.run_book import PREFIX, RunBook
from palea.errors import EntryError, PaleaError
from palea.panels.answer import narrowed
from palea.panels.form import Form
from palea.panels.grid import CountSheet
from palea.panels.panel import Panel, choice
from palea.panels.products import Products
from palea.panels.run_text import heading, safety, steps_done
from palea.panels.teaching import Teaching

NEW = ""
FREE = "none: steps as they come"
BEGIN = (
    "run_id", "movements.lot_id", "movements.mass_g", "movements.moisture_pct", "movements.drawn_how", "movements.equipment_id",
    "started_at", "done_by", "room_c", "room_rh", "batch_label", "risk_assessment", "safety_checked_by",
)  # fmt: skip
END = ("ended_at", "hands_on_min", "machine_min", "deviations", "reason", "notes")
PAUSE_S = 0.8
OTHER = "Do something that is not planned"


class RunPanel(Teaching, Panel):
    """The panel of a stage's runs. `book` is the run that is open.

    stage : whose kinds of run it is for.  answers : recipes told of the seed put in, at once; one with an option `run` is asked of
    this run alone.
    """

    def __init__(self, package, title, stage, *, at_hand=(), teaching="", answers=(), who=None):
        super().__init__(package, title, at_hand, (), who or stamp.now().who)
        self.kinds, self.answers, self._setting = tuple(schema.words("run_kind", stage=stage)), answers, False
        self.book = RunBook()
        self.run_box, self.plan_box = choice("Run", 72, 420), choice("Procedure", 84, 480)
        self.choices = widgets.HBox([self.run_box, self.plan_box]).add_class("palea-choices")
        self.safety, self.done, self.planned = widgets.HTML(), widgets.HTML(), widgets.HTML()
        read = "Risk assessment and data sheets were read today"
        self.read = widgets.Checkbox(description=read, indent=False, layout={"width": "auto"})
        self.form_place, self.step_place, self.end_place = widgets.VBox(), widgets.VBox(), widgets.VBox()
        self.action_box = choice(OTHER, 240, 560, _actions())
        self.buttons = {
            "plan": self._button("As planned", self.as_planned), "typed": self._button("As typed", self.as_typed),
            "like": self._button("Same as last cycle", self.like_last),
            "back": self._button("Take the last back", self.take_back),
        }  # fmt: skip
        self.grid = CountSheet(self.guarded(self._weighed))
        self.stop_button = widgets.Button(description="Stop the run")
        self.stop_button.on_click(self.guarded(lambda _: self.finish("stopped")))
        self.save_button.description = "Finish and save"
        self.bar.children = [self.save_button, self.stop_button, self.who, self.status]
        self.answer_place = widgets.HTML().add_class("palea-answers")
        self.computed.children = [self.answer_place]
        steps = widgets.HBox(list(self.buttons.values())).add_class("palea-steps")
        self.form = self.step = self.end = self.products = None
        self.work.children = [
            *self.teach(teaching), self.choices, self.form_place, self.safety, self.read, self.done, self.planned, self.step_place,
            steps, self.action_box, widgets.HTML("<h3>What came out</h3>"), self.grid, self.end_place,
        ]  # fmt: skip
        self._answer = Later(self.guarded(self._reply), PAUSE_S)
        for box, action in (
            (self.run_box, self._open_run), (self.plan_box, self._open_plan), (self.read, self._tick_read),
            (self.action_box, self._other_step),
        ):  # fmt: skip
            box.observe(self.guarded(lambda _, action=action: None if self._setting else action()), "value")
        self._open()

    def _button(self, text, do):
        button = widgets.Button(description=text).add_class("palea-step-button")
        button.on_click(self.guarded(lambda _: do()))
        return button

    # --- ticking

    def as_planned(self):
        """Tick the step that comes next as it is planned."""
        seen = {n: t for n, t in self.step.texts.items() if n in ("equipment_id", "observed") and t}
        self._tick({**self.book.as_planned(), **seen})

    def as_typed(self):
        """Tick the step as it is typed; where it differs from the plan, only with a reason."""
        typed = {n: t for n, t in self.step.texts.items() if t.strip()}
        fixed = {n: t for n, t in self.book.next.items() if n in run_book.TAKEN_OVER} if not self.book.open.get("besides") else {}
        self._tick({**fixed, **self._opened(), **typed}, planned=not self.book.open.get("besides"))

    def like_last(self):
        """Tick the step with what the last like step was: the last cycle, once more."""
        plan = self.book.next
        texts = self.book.like_last(plan)
        if not texts:
            msg = "There was no such step before in this run. Type what was done, or tick it as planned."
            raise EntryError(msg)
        self._tick({**texts, **({"cycle": plan["cycle"]} if plan.get("cycle") else {})})

    def take_back(self):
        """Take the last step back and open it again."""
        self.book.take_back()
        self._keep()
        self._show_steps(self.book.open)

    def save(self):
        """Finish: keep the run, its steps, the seed it took and the lots it made, in one transaction."""
        self.finish("finished")

    def finish(self, status):
        """Keep the run in that state. A stopped run says why, and what it made is not to be sown."""
        if not self.book.facts.get("ended_at", "").strip():
            self.book.facts["ended_at"] = stamp.now().when[:16]
        proposal = run_entry.proposal(self.package, self.book, self._made(), status)
        self._beside(proposal)
        by = stamp.now(self.who.value.strip() or None)
        self.package = entry.save(proposal, by, "entry")
        drafts.drop(self.package, PREFIX + self.book.name)
        run = self.book.name
        self._open()
        self.tell(proposal.findings)
        self.say("saved", f"Run {run}, {by.when[:16].replace('T', ' ')}, {by.who}.")

    # --- what is shown

    def _open(self):
        waiting = [name for kind in self.kinds for name in run_book.under_way(self.package, kind)]
        self._set(self.run_box, waiting[0] if waiting else NEW, [("New run", NEW), *((f"{w}, under way", w) for w in waiting)])
        self._set(self.plan_box, NEW, [(FREE, NEW), *self._procedures()])
        self._open_run()
        if waiting:
            self.say("warning", f"Run {waiting[0]} is under way: it stands where it was left, {len(self.book.done)} steps done.")

    def filled(self):
        """Show the package that is no longer empty."""
        self.work.children = self.work.children[self.work.children.index(self.choices):]
        self._open()

    def _procedures(self):
        rows = self.package["protocols"]
        rows = rows[rows["run_kind"].isin(self.kinds)]
        return [(f"{r['title']} ({r['protocol_id']}, version {r['version']})", f"{r['protocol_id']}/{r['version']}")
                for r in rows.to_dict("records")]  # fmt: skip

    def _open_run(self):
        run = self.run_box.value
        self.book = run_book.opened(self.package, run) if run else RunBook(facts=self._beginning())
        facts = self.book.facts
        plan = "/".join((facts["protocol_id"], facts["version"])) if facts.get("protocol_id") else NEW
        self._set(self.plan_box, plan if plan in [v for _, v in self.plan_box.options] else NEW)
        self.plan_box.disabled = bool(self.book.done)
        self._set(self.read, self.book.read)
        headings = {"movements.lot_id": "The seed that goes in", "started_at": "The run", "risk_assessment": "Before the start"}
        self.form = Form(self.package, "runs", BEGIN, facts, self.guarded(self._facts_changed), headings=headings)
        self.form_place.children = [self.form]
        self.end = Form(self.package, "runs", END, facts, self.guarded(self._facts_changed), headings={"ended_at": "At the end"})
        self.end_place.children = [self.end]
        self.products = Products(self.package, self.book.products, lambda: self.book.facts)
        self.grid.lay_out(**self.products.face("What came out"))
        self._show_steps(self.book.open)
        self.tell([])
        self.say("", "")

    def _beginning(self):
        kind = self.kinds[0]
        known = set(self.package["people"]["person_id"].dropna())
        who = self.who.value if self.who.value in known else ""
        fresh = proposals.next_id(self.package, "runs")
        taken = {name for k in self.kinds for name in run_book.under_way(self.package, k)}
        while fresh in taken:
            fresh = f"{fresh}-2"
        return {"run_id": fresh, "kind": kind, "done_by": who, "started_at": stamp.now().when[:16], "place_kind": "in house"}

    def _open_plan(self):
        identity, _, version = self.plan_box.value.partition("/")
        self.book.plan = run_book.planned(self.package, identity, version) if identity else []
        rows = self.package["protocols"]
        kinds = rows.loc[rows["protocol_id"].eq(identity).fillna(value=False), "run_kind"].dropna().tolist()
        self.book.facts |= {"protocol_id": identity, "version": version, "kind": kinds[0] if kinds else self.kinds[0]}
        self._keep()
        self._show_steps({})

    def _show_steps(self, typed):
        """The steps done, the one that is open with what is planned for it, and the precautions of all of them."""
        book, plan = self.book, self.book.next
        besides = typed.get("besides", "")
        action = besides or plan.get("action", "")
        self._show_safety(action)
        self.done.value = steps_done(book, self.package)
        self.planned.value = heading(book, action, besides, self.package)
        ask = book.asked(action) if action else ()
        begin = {**({} if besides else book.usual()), **_same(plan, ask), **typed}
        changed, ticked = self.guarded(self._step_changed), self.guarded(self.as_typed)
        self.step = Form(self.package, "run_steps", ask, begin, changed, on_save=ticked)
        self.step_place.children = [self.step] if action else []
        for name, shown in (("plan", plan and not besides), ("typed", action), ("like", plan and not besides), ("back", book.done)):
            self.buttons[name].layout.display = None if shown else "none"
        self._set(self.action_box, "")
        self._answer.soon()

    def _show_safety(self, action):
        plan = [*self.book.plan, *self.book.done, {"action": action}]
        kinds_ = precautions.kinds(
            self.package, {s.get("action") for s in plan} - {None, ""}, {s.get("material_id") for s in plan} - {None, ""},
            {s.get("equipment_kind") for s in plan} - {None, ""},
        )  # fmt: skip
        self.safety.value = safety(kinds_, precautions.of_materials(self.package, {s.get("material_id") for s in plan}))
        self.read.layout.display = None if kinds_ else "none"

    # --- what is typed

    def _facts_changed(self):
        before = self.book.name
        self.book.facts |= self.form.texts | self.end.texts
        if before != self.book.name:
            drafts.drop(self.package, PREFIX + before)
        self._keep()
        plan = self.book.next
        if plan and not self.step.texts.get("amount"):
            self.planned.value = heading(self.book, plan["action"], "", self.package)
        self._answer.soon()

    def _step_changed(self):
        self.book.open = {**{n: t for n, t in self.step.texts.items() if t}, **_kept(self.book.open)}
        self._keep()
        away = [] if self.book.open.get("besides") else self.book.departures(self.step.texts)
        unexplained = away and not self.step.texts.get("reason", "").strip()
        self.step.tell({"reason": ["warning", f"{' '.join(away)} Say why."]} if unexplained else {})

    def _tick_read(self):
        self.book.read = self.read.value
        self._keep()

    def _other_step(self):
        if self.action_box.value:
            self.book.open = {"besides": self.action_box.value}
            self._keep()
            self._show_steps(self.book.open)

    def _weighed(self, edits):
        before = self.products.count
        self.products.take(edits)
        self.book.products = self.products.typed
        self._keep()
        if self.products.count != before:
            self.grid.lay_out(**self.products.face("What came out"))
        self._answer.soon()
        problems = self.products.problems()
        return {line: {"bad": problems.get(line, {})} for line in {line for line, _, _ in edits}}

    def _tick(self, texts, *, planned=True):
        self._refuse_unready()
        wrong = self._wrong(texts)
        if wrong:
            self.step.tell(wrong)
            msg = f"Not ticked: {next(iter(wrong.values()))}"
            raise EntryError(msg)
        away = self.book.departures(texts) if planned else []
        if away and not texts.get("reason", "").strip():
            self.step.tell({"reason": f"{' '.join(away)} Say why."})
            msg = f"Not ticked: {' '.join(away)} Write in “{schema.table('run_steps')['reason'].title}” why."
            raise EntryError(msg)
        texts = {**texts, **({"deviation": " ".join(away)} if away and not texts.get("deviation") else {})}
        self.book.tick({n: t for n, t in texts.items() if n != "besides"}, stamp.now().when[:16], planned=planned)
        self._keep()
        self.plan_box.disabled = True
        self._show_steps({})
        self.say("saved", f"Step {len(self.book.done)}, kept in the draft until the run is finished.")

    def _refuse_unready(self):
        """A hazardous step is ticked only after the risk assessment is named and the data sheets were read."""
        if not self.book.facts.get("movements.lot_id") or not self.book.facts.get("movements.mass_g", "").strip():
            msg = "Say first which lot goes in, and weigh it; without that no amount can be told per kg of seed."
            raise EntryError(msg)
        if self.read.layout.display == "none":
            return
        if not self.book.facts.get("risk_assessment", "").strip():
            msg = "Name the local risk assessment first: steps of this run have hazards, told above."
        elif not self.book.read:
            msg = "Tick first that risk assessment and data sheets were read: steps of this run have hazards, told above."
        else:
            return
        raise EntryError(msg)

    def _wrong(self, texts):
        proposal = entry.propose(self.package, "run_steps", [{"run_id": self.book.name, "step": "1", **_columns(texts)}])
        return {f.field: f"{f.message} {f.remedy}" for f in proposal.unread}

    def _opened(self):
        return {"action": self.book.open["besides"]} if self.book.open.get("besides") else {}

    def _keep(self):
        try:
            if self.book.name:
                drafts.write(self.package, PREFIX + self.book.name, self.book.as_draft())
        except PaleaError as error:
            self.say("error", str(error))

    # --- what follows and what is kept

    def _made(self):
        return self.products.rows(self.package, self.book.name, self.book.facts)

    def _beside(self, proposal):
        named = {f.field: f"{f.message} {f.remedy}" for f in proposal.new_errors if f.table == "runs"}
        self.form.tell({n: s for n, s in named.items() if n in BEGIN})
        self.end.tell({n: s for n, s in named.items() if n in END})

    def _reply(self):
        lot = self.book.facts.get("movements.lot_id", "")
        if not lot or not self.book.done:
            self.answer_place.value = ""
            return
        package = run_entry.proposal(self.package, self.book, self._made(), "running").package
        asked = [(a.recipe, a.options(self.book.facts) if a.options else {}) for a in self.answers]
        self.answer_place.value = "".join(narrowed(recipe, package, lot, options) for recipe, options in asked)

    def _set(self, box, value, options=None):
        self._setting = True
        try:
            if options is not None:
                box.options = options
            box.value = value
        finally:
            self._setting = False


def _actions():
    return [("–", ""), *((w["title"], name) for name, w in schema.vocabulary("step_action").words.items())]


def _columns(texts):
    known = schema.table("run_steps").fields
    return {n: t for n, t in texts.items() if n in known}


def _kept(open_step):
    return {"besides": open_step["besides"]} if open_step.get("besides") else {}


def _same(plan, ask):
    return {n: plan[n] for n in ("material_id", "unit", "concentration", "concentration_unit") if n in ask and plan.get(n)}
