"""The steps of like runs laid beside each other, and said: each once, with its settings over all the runs.

What a step must say follows from its action (`asks` in the vocabulary): such a cell, where blank, is a gap of its own;
where no run has it, one gap stands for all. What differs much between treatments is left to a table of them.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass
from itertools import groupby
from statistics import mean

from palea import schema
from palea.record.spread import centre, durations, known, several, symbol, with_symbol
from palea.record.story import gaps
from palea.words.prose import inside, listed

# Participles that the rules of `participle` would get wrong.
ODD = {
    "blow": "blown",
    "set ph": "brought to the set pH",
    "look": "looked at",
    "surface dry": "dried at the surface",
    "wait": "left to stand",
    "powder": "dusted",
}
SETTINGS = ("speed_rpm", "air_flow_l_min", "temperature_c", "duration_s", "passes", "ph")
MUCH = 1.1  # ratio between means of treatments from which a number is told in the table and not in the sentence


@dataclass(frozen=True)
class Step:
    """One step of like runs.

    key : its name among the steps of a run (see `keys`).  rows : rows of run_steps, one a run, or one a run and cycle.
    groups : {run: treatment}.
    """

    key: tuple
    rows: tuple[dict, ...]
    groups: dict

    @property
    def cycled(self):
        """Whether it belongs to the cycles."""
        return self.key[0]

    @property
    def action(self):
        """What was done."""
        return self.key[1]

    @property
    def material(self):
        """With which material; None for none."""
        return self.key[2]

    @property
    def machine(self):
        """In which machine; None where no row says."""
        return next((row["equipment_id"] for row in self.rows if row["equipment_id"]), None)

    @property
    def cycles(self):
        """In how many cycles it was done; 1 for a step outside of cycles."""
        return max(1, len({row["cycle"] for row in self.rows}))

    def values(self, column, group=None):
        """What is known of a column, in all or in one treatment."""
        return known(row[column] for row in self.rows if group in (None, self.groups[row["run_id"]]))

    def differs(self, column):
        """Whether treatments differ so much in a number that a table must tell it."""
        names = dict.fromkeys(self.groups[row["run_id"]] for row in self.rows)
        means = [mean(values) for name in names if (values := self.values(column, name))]
        return len(means) > 1 and max(means) > MUCH * min(means)

    def unit(self, column):
        """The unit of a column: of the row where it has one, else of the schema; "" where rows disagree."""
        if column in UNIT_OF:
            units = {row[UNIT_OF[column]] for row in self.rows if row[UNIT_OF[column]]}
            return units.pop() if len(units) == 1 else ""
        return schema.table("run_steps")[column].unit


UNIT_OF = {"amount": "unit", "concentration": "concentration_unit"}


def aligned(rows, groups):
    """Steps of several runs, laid beside each other, in order: Steps, and tuples of Steps repeated together in cycles.

    groups : {run: treatment}, for the runs that are told together.
    """
    by_run, seen = defaultdict(list), defaultdict(list)
    for row in rows:
        by_run[row["run_id"]].append(row)
    for run in by_run.values():
        for key, row in zip(keys(run), run, strict=True):
            seen[key].append(row)
    order = sorted(seen, key=lambda key: min(row["step"] for row in seen[key]))
    for cycled, together in groupby(order, key=lambda key: key[0]):
        made = tuple(Step(key, tuple(seen[key]), groups) for key in together)
        yield from ((made,) if cycled else made)


def keys(run):
    """A name for each step of a run by which its sisters in other runs, or in other cycles, are found."""
    count = Counter()
    for row in run:
        within = (row["cycle"], row["action"], row["material_id"])
        count[within] += 1
        yield (row["cycle"] is not None, *within[1:], count[within])


def participle(action):
    """What was done to the seed, after "was".

    >>> [participle(a) for a in ("rinse", "rub", "dry", "tumble", "soak in acid", "blow", "wet", "load", "coat")]
    ['rinsed', 'rubbed', 'dried', 'tumbled', 'soaked in acid', 'blown', 'wetted', 'loaded', 'coated']
    """
    if action in ODD:
        return ODD[action]
    verb, _, rest = action.partition(" ")
    if verb.endswith("e"):
        past = f"{verb}d"
    elif verb.endswith("y") and verb[-2] not in "aeiou":
        past = f"{verb[:-1]}ied"
    elif len(verb) <= 4 and verb[-1] not in "aeiouwx" and verb[-2] in "aeiou" and verb[-3:-2] not in tuple("aeiou"):
        past = f"{verb}{verb[-1]}ed"
    else:
        past = f"{verb}ed"
    return f"{past} {rest}".strip()


class Telling:
    """Says steps one after the other; a machine and its speed are named where they change.

    loads : masses of seed put in, so that weighing them is not said twice.
    """

    def __init__(self, story, runs, loads):
        self.story, self.runs, self.loads = story, runs, {round(x, 6) for x in loads}
        self.machine, self.speed = None, ""

    def sentence(self, blocks):
        """Runs of text: all steps as one long sentence without its subject and full stop."""
        return joined([self.block(block) for block in blocks], "; ", "; then ")

    def block(self, block):
        """Runs of text: a step, or steps repeated together."""
        if isinstance(block, Step):
            return self.phrase(block)
        cycles = max(step.cycles for step in block)
        inner = joined([self.phrase(step, cycles) for step in block], ", ", " and ")
        return (f"in {several(cycles, 'cycle')} ", inner) if cycles > 1 else inner

    def phrase(self, step, cycles=1):
        """Runs of text: the step with its settings, and a gap for each that it should have said and does not."""
        within = self.within(step, cycles)
        parts = [within, participle(step.action), self.only(step), self.material(step), self.place(step)]
        return (*parts, *filter(None, map(step_setting(step), SETTINGS[1:])), self.until(step), self.open(step))

    def within(self, step, cycles):
        """In which cycle, for what was done in some cycles only."""
        own = sorted({row["cycle"] for row in step.rows} - {None})
        return f"in cycle {listed(own)} " if step.cycled and cycles > len(own) else ""

    def only(self, step):
        """In which runs, for what was not done in all."""
        done = {row["run_id"] for row in step.rows}
        some = [run for run in self.runs if run in done]
        return f" ({listed(some)} only)" if len(some) < len(self.runs) else ""

    def material(self, step):
        """With how much of what; the amount is left to the table where it differs much between treatments."""
        amount = "" if step.differs("amount") else self.amount(step)
        if step.material is None:
            return (
                f" as {amount}"
                if amount and not self.loads.issuperset(round(x, 6) for x in step.values("amount"))
                else ""
            )
        strength = "" if step.differs("concentration") else centre(step.values("concentration"))
        of = f" at {with_symbol(strength, step.unit('concentration'))}" if strength else ""
        name = self.story.brief(step.material)
        how = "in" if step.action.startswith("soak") else "with"
        each = " a cycle" if step.cycles > 1 else ""
        much = f"{amount}{each} of " if amount else ""
        return f" {how} {much}{name}{'' if _says(self.story.material(step.material), strength) else of}"

    def amount(self, step):
        """Mean and range of the amounts, with unit, and basis where it is not plainly all that was put in."""
        if not step.values("amount"):
            return ""
        basis = {row["basis"] for row in step.rows} - {None, *schema.words("amount_basis")[:1]}
        per = "".join(f" {inside(schema.word('amount_basis', b)['title'])}" for b in sorted(basis))
        return f"{with_symbol(centre(step.values('amount')), step.unit('amount'))}{per}"

    def place(self, step):
        """In which machine and at which speed, where they are not those of the step before."""
        speed = step_setting(step)("speed_rpm")
        moved, changed = step.machine not in (None, self.machine), speed not in ("", self.speed)
        said = (f" {self.story.how(step.machine, step.action)} the ", self.story.machine(step.machine)) if moved else ()
        self.machine, self.speed = step.machine or self.machine, speed or self.speed
        return (*said, speed if changed or (moved and speed) else "")

    def until(self, step):
        """The end point; one a treatment where they differ."""
        by_words = defaultdict(list)
        for row in step.rows:
            if row["end_point"]:
                by_words[row["end_point"].strip().rstrip(".")].append(step.groups[row["run_id"]])
        if not by_words:
            return ""
        if len(by_words) == 1:
            return f" ({next(iter(by_words))})"
        told = (f"{listed(dict.fromkeys(names))}: {words}" for words, names in by_words.items())
        return f" ({'; '.join(told)})"

    def open(self, step):
        """The gaps of a step, in the order in which its action asks."""
        title = inside(schema.word("step_action", step.action)["title"])
        names = [f"step “{title}”, {row['run_id']}{_in_cycle(row)}" for row in step.rows]
        together = f"step “{title}”, {listed(dict.fromkeys(step.groups[row['run_id']] for row in step.rows))}"
        marks = [mark for column in asked(step) for mark in gaps("run_steps", step.rows, column, names, together)]
        return tuple(part for mark in marks for part in (" ", mark))


def step_setting(step):
    """A function that says one setting of a step; "" where it is blank or a table must tell it."""

    def said(column):
        there = step.values(column)
        if not there or step.differs(column):
            return ""
        if column == "duration_s":
            times, unit = durations(there)
            return f" for {centre(times)} {unit}"
        if column == "passes":
            same = len(set(there)) == 1
            return f", in {several(there[0], 'pass', 'passes') if same else f'{centre(there)} passes'}"
        if column == "ph":
            return f", to pH {centre(there)}"
        return f" at {with_symbol(centre(there), step.unit(column))}"

    return said


def asked(step):
    """Columns that a step must fill in.

    An amount of seed (of a step without a material) stands in the ledger; a blank amount says of its unit all there is.
    """
    asks = schema.word("step_action", step.action).get("asks", ())
    ledger = {"amount", "unit"} if "material_id" not in asks else {"unit"} if not step.values("amount") else set()
    return [column for column in asks if column not in ledger]


def _in_cycle(row):
    return f", cycle {row['cycle']}" if row["cycle"] is not None else ""


def joined(phrases, between, last):
    """Phrases in a row, as runs of text."""
    end = len(phrases) - 1
    return tuple(x for i, words in enumerate(phrases) for x in ("" if i == 0 else last if i == end else between, words))


def _says(name, strength):
    """Whether a preparation's name tells its strength already."""
    return not strength or strength in name


def told_apart(blocks):
    """(step, column) pairs that a table of treatments must tell, in order; masses of seed are told there already."""
    steps = [step for block in blocks for step in (block if isinstance(block, tuple) else (block,))]
    columns = ("amount", "concentration", *SETTINGS)
    pairs = [(step, column) for step in steps for column in columns if step.differs(column)]
    return [(step, column) for step, column in pairs if column != "amount" or step.material]


def heading(story, step, column):
    """Head of a table's column for a setting, with its unit."""
    what = story.brief(step.material) if column == "amount" and step.material else participle(step.action)
    unit = durations(step.values(column))[1] if column == "duration_s" else symbol(step.unit(column))
    each = " a cycle" if column == "amount" and step.cycles > 1 else ""
    name = "" if column in ("amount", "duration_s") else f" ({inside(schema.table('run_steps')[column].title)})"
    return f"{what[:1].upper()}{what[1:]}{name}, {unit}{each}".rstrip(", ")


def cell(step, column, group):
    """Mean and range of a setting in one treatment."""
    there = step.values(column, group)
    if column != "duration_s" or not there:
        return centre(there)
    size = schema.word("unit", durations(step.values(column))[1])["in_base"]
    return centre([round(x / size, 1) if size > 1 else x for x in there])
