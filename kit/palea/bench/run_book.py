"""A run under way: what is planned, what was done, what comes next; and, at its end, the rows that it makes.

All of it is plain data that a draft holds, so that a run can be laid aside at any step, by choice or by a power cut, and
taken up where it stood.
"""

from dataclasses import dataclass, field

from palea import schema
from palea.bench import drafts
from palea.bench.proposals import typed
from palea.calc.coating.planned import WITHIN
from palea.derived.planned_steps import figures
from palea.tables import formats
from palea.tables.writing import cell_text

PREFIX = "run "
MANY = 10_000
LOADING = "load"  # the step whose amount is what was weighed for the run
PER_KG = ("per kg seed put in", "per kg bare seed")
ALIKE = ("action", "material_id")
ALWAYS = ("equipment_id", "observed", "deviation", "reason")  # asked of every step
TAKEN_OVER = ("action", "cycle", "material_id", "unit", "basis", "concentration", "concentration_unit", "end_point")


@dataclass
class RunBook:
    """plan : steps of the procedure as texts.  facts : {field: text} of the run, its seed ("movements.mass_g") and its end.
    done : steps as texts, in order, each with `planned`, the number of the step of the plan, or None for one that was not
    planned.  open : texts of the step that is being typed.  products : {(line, column): text} of what came out.
    read : whether somebody said that data sheets and risk assessment were read.
    """

    plan: list = field(default_factory=list)
    facts: dict = field(default_factory=dict)
    done: list = field(default_factory=list)
    open: dict = field(default_factory=dict)
    products: dict = field(default_factory=dict)
    read: bool = False

    @property
    def name(self):
        """Id of the run."""
        return self.facts.get("run_id", "")

    @property
    def at(self):
        """Number (from 0) of the step of the plan that comes next; the length of the plan at its end."""
        taken = [step["planned"] for step in self.done if step["planned"] is not None]
        return max(taken) + 1 if taken else 0

    @property
    def next(self):
        """The planned step that comes next, with amounts for the seed that was put in; {} at the end or without a plan."""
        return self.for_this_seed(self.plan[self.at]) if self.at < len(self.plan) else {}

    def for_this_seed(self, step):
        """A planned step with amounts per kg of seed told for the seed that was put in, in all; as it is where that is not
        known yet.
        """
        grams = number(schema.table("movements")["mass_g"], self.facts.get("movements.mass_g", ""))
        if step.get("basis") not in PER_KG or grams is None:
            return dict(step)
        amounts = {n: _written(float(step[n]) * grams / 1000) for n in ("amount", "lowest_amount", "highest_amount") if step.get(n)}
        return {**step, **amounts, "basis": "in all"}

    def asked(self, action):
        """Fields that are asked of a step: those the action needs, those planned, and those that any step has."""
        needs = schema.word("step_action", action)["asks"] if action else ()
        planned = [n for n in figures() if self.next.get(n)]
        wanted = {*needs, *planned, *ALWAYS, *(("unit",) if "amount" in {*needs, *planned} else ())}
        return tuple(n for n in schema.table("run_steps").fields if n in wanted)

    def usual(self):
        """Texts that the next step begins with: the machine of the last step on such a machine, and for loading the mass."""
        plan = self.next
        begin = self.like_last(plan, only=("equipment_id", "unit", "basis"))
        kind = plan.get("equipment_kind")
        machines = [
            step["equipment_id"] for step in self.done
            if step["planned"] is not None and step.get("equipment_id") and self.plan[step["planned"]].get("equipment_kind") == kind
        ]  # fmt: skip
        if kind and machines:
            begin = {"equipment_id": machines[-1], **begin}
        if plan.get("action") == LOADING and not plan.get("amount"):
            begin |= {"amount": self.facts.get("movements.mass_g", ""), "unit": "g", "basis": "in all"}
        return begin

    def as_planned(self):
        """Texts of the next step done just as it is planned."""
        plan = self.next
        return {**self.usual(), **{n: plan[n] for n in (*TAKEN_OVER, *figures()) if plan.get(n)}}

    def like_last(self, step, only=None):
        """Texts of the last step with the same action and material; {} where there was none."""
        like = next((d for d in reversed(self.done) if all(d.get(n, "") == step.get(n, "") for n in ALIKE)), None)
        if like is None:
            return {}
        own = ("step", "started_at", "deviation", "reason", "observed", "planned", "cycle", "why_blank")
        return {n: t for n, t in like.items() if (n in only if only else n not in own)}

    def departures(self, texts):
        """Sentences on what of a step lies outside its plan."""
        plan, said = self.next, []
        for name in figures():
            field_, typed = schema.table("run_steps")[name], texts.get(name, "")
            value, planned = number(field_, typed), number(field_, plan.get(name, ""))
            if value is None or planned is None:
                continue
            low, high = (number(field_, plan.get(f"{side}_{name}", "")) for side in ("lowest", "highest"))
            low = planned * (1 - WITHIN / 100) if low is None else low
            high = planned * (1 + WITHIN / 100) if high is None else high
            if not low <= value <= high:
                unit = texts.get("unit", "") if name == "amount" else field_.symbol
                said.append(f"{field_.title}: planned {planned:g} {unit}, done {value:g} {unit}".strip() + ".")
        if plan.get("action") and texts.get("action") and texts["action"] != plan["action"]:
            said.append(f"Planned was “{plan['action']}”, done was “{texts['action']}”.")
        return said

    def tick(self, texts, when, *, planned=True):
        """Keep a step as done at that moment, the planned one that comes next or one besides."""
        step = {n: t for n, t in texts.items() if t.strip()}
        self.done.append({"started_at": when, **step, "planned": self.at if planned and self.next else None})
        self.open = {}

    def take_back(self):
        """Take the last step back, to type it anew."""
        self.open = {n: t for n, t in self.done.pop().items() if n not in ("planned", "started_at")} if self.done else {}

    def rows(self):
        """[{column: text}] of run_steps."""
        known = schema.table("run_steps").fields
        steps = [{name: text for name, text in step.items() if name in known} for step in self.done]
        return [{"run_id": self.name, "step": str(n), **step} for n, step in enumerate(steps, 1)]

    def as_draft(self):
        """Everything, as JSON can hold it."""
        products = [[line, column, text] for (line, column), text in self.products.items() if text]
        plain = {name: getattr(self, name) for name in ("plan", "facts", "done", "open", "read")}
        return plain | {"products": products}


def opened(package, run_id):
    """The RunBook of a run under way."""
    kept = drafts.read(package, PREFIX + run_id)
    products = {(line, column): text for line, column, text in kept.pop("products", [])}
    return RunBook(**kept, products=products)


def under_way(package, kind):
    """Ids of the runs of a kind that were begun and not finished."""
    names = (name.removeprefix(PREFIX) for name in drafts.names(package) if name.startswith(PREFIX))
    return [name for name in names if opened(package, name).facts.get("kind") == kind]


def planned(package, protocol_id, version):
    """Steps of a procedure as texts, in order."""
    rows = package["protocol_steps"]
    mine = rows[rows["protocol_id"].eq(protocol_id).fillna(value=False) & rows["version"].eq(version).fillna(value=False)]
    return [
        {n: typed(v) for n, v in row.items() if n not in ("protocol_id", "version", "step") and cell_text(v) is not None}
        for row in mine.sort_values("step").to_dict("records")
    ]


def number(column, text):
    """A text as a number, None where it is none."""
    return formats.parse(column, text)[0] if text and text.strip() else None


def _written(value):
    """A number that was worked out, with as many digits as a balance at the bench gives."""
    return f"{value:.4g}" if value < MANY else f"{value:.0f}"
