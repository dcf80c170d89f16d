"""Like treatments told together: one account of what was done to them, what each got besides, and what came out.

Batches belong together when the same steps were taken with the same materials in as many cycles, whatever the species
and the amounts; one step more, such as the active in a film, does not part them.
"""

from dataclasses import dataclass
from statistics import mean

from palea import schema
from palea.documents.page import Column, Grid, Paragraph, Part, Row, reference
from palea.record import batches as of
from palea.record import deviations, followed, steps
from palea.record.lots import ids_told
from palea.record.spread import centre, known, period, several, with_symbol
from palea.record.story import applies, gap
from palea.words.numbers import short
from palea.words.prose import capital, inside, listed

CLEARED = "clean machine"  # a step of the machine, not of the seed
LEFT = ("Treatment", "Species")  # columns of words
TIMES = {"hands_on_min": "By hand, min", "machine_min": "By machine, min"}
EXTRA = 1  # steps by which treatments told together may differ


@dataclass(frozen=True)
class Procedure:
    """Batches that are told together. plain : those with the common steps; more : {id: steps besides}."""

    members: tuple[of.Batches, ...]
    common: frozenset

    @property
    def runs(self):
        """Rows of all runs, treatment by treatment."""
        return [run for batches in self.members for run in batches.runs]

    @property
    def groups(self):
        """{run: id of its treatment}."""
        return {run["run_id"]: batches.id for batches in self.members for run in batches.runs}

    @property
    def anchor(self):
        """Names the procedure on the page."""
        return self.runs[0]["run_id"]

    @property
    def several(self):
        """Whether there is more than one treatment, so that a table tells them apart."""
        return len(self.members) > 1


def together(story, every):
    """Procedures of these batches, in the order of the first of each."""
    signed = sorted(((signature(story, batches), batches) for batches in every), key=lambda pair: len(pair[0][1]))
    found = []
    for (outer, steps_taken), batches in signed:
        home = next(
            (f for f in found if f[0] == outer and f[1] <= steps_taken and len(steps_taken - f[1]) <= EXTRA), None
        )
        if home is None:
            found.append((outer, steps_taken, [batches]))
        else:
            home[2].append(batches)
    rank = {id(batches): i for i, batches in enumerate(every)}
    made = [Procedure(tuple(sorted(m, key=lambda b: rank[id(b)])), common) for _, common, m in found]
    return sorted(made, key=lambda p: _order(story, p))


def _order(story, procedure):
    """By kind of run, then by place in the plan of the first treatment's own species."""
    first = procedure.members[0]
    if first.treatment is None:
        return first.kind, len(story.rows("treatments"))
    behind = {u["treatment_id"]: story.row("lots", u["lot_id"]) for u in story.rows("units") if u["lot_id"]}
    own = [
        t["treatment_id"]
        for t in story.rows("treatments")
        if (behind.get(t["treatment_id"]) or {"taxon_id": None})["taxon_id"] == first.taxon
    ]
    return first.kind, own.index(first.id)


def signature(story, batches):
    """((kind, place, cycles), steps): what batches must share, and the steps of their first run, as a set."""
    first = story.steps(batches.runs[0]["run_id"])
    cycles = max((row["cycle"] or 0 for row in first), default=0)
    return (batches.kind, batches.runs[0]["place_kind"], cycles), frozenset(steps.keys(first))


def part(story, procedure, measure, head):
    """The Part on one procedure: the account, the table of treatments, and what went otherwise than planned."""
    rows = [row for run in procedure.runs for row in story.steps(run["run_id"])]
    blocks = list(steps.aligned(rows, procedure.groups))
    base = [b for b in (_common(block, procedure.common) for block in blocks) if b]
    telling = steps.Telling(story, [run["run_id"] for run in procedure.runs], _loads(procedure))
    account = Paragraph(
        (
            *_opening(story, procedure),
            " Each batch was ",
            telling.sentence(base),
            ".",
            *_more(telling, blocks, procedure),
            *_work(procedure),
            *_came_out(procedure, measure, head),
            *followed.rows("runs", [run["run_id"] for run in procedure.runs]),
        ),
        "" if procedure.several else procedure.members[0].anchor,
    )
    purposes = [Paragraph(tuple(told))] if (told := list(_purposes(procedure))) else []
    return Part(
        _title(story, procedure),
        (*purposes, account, *deviations.told(story, procedure.runs)),
        f"done-{procedure.anchor}",
    )


def grid(story, procedure, measure, head):
    """The Grid of amounts, treatment by treatment, for the appendix; None for a procedure of one treatment."""
    if not procedure.several:
        return None
    rows = [row for run in procedure.runs for row in story.steps(run["run_id"])]
    blocks = list(steps.aligned(rows, procedure.groups))
    base = [b for b in (_common(block, procedure.common) for block in blocks) if b]
    return _grid(story, procedure, base, measure, head)


def _came_out(procedure, measure, head):
    """What went in and came out, over all batches; the rest, treatment by treatment, is a table of the appendix.

    Treatments differ in what they got, so that of several only the range is told.
    """
    told_as = _range if procedure.several else centre
    went_in, made = (
        told_as(known(of.grams(b.of(side(b), run)) for b in procedure.members for run in b.runs))
        for side in (lambda b: b.seed, lambda b: b.product)
    )
    every = known(measure(b, run) for b in procedure.members for run in b.runs)
    gain = told_as(every, 0 if every and min(every) >= 100 else of.PLACES)
    planned = sorted({b.planned for b in procedure.members} - {None})
    aim = f", planned {listed(map(short, planned))} %" if planned else ""
    name, _, of_what = inside(head).partition(", %")
    told = f"; {name} {gain} %{of_what}{aim}" if gain else ""
    bare, product = (with_symbol(grams, "g") if grams else "not weighed" for grams in (went_in, made))
    yield f" Seed in, a batch: {bare}; product: {product}{told}"
    yield from (" (", reference(f"table-done-{procedure.anchor}"), ").") if procedure.several else (".",)


def _range(numbers, places=None):
    """Lowest to highest, to as many decimals as the mean and range would have."""
    middle, _, bounds = centre(numbers, places).partition(" (")
    return bounds.rstrip(")") or middle


def _common(block, common):
    """A block without steps that only some treatments had, or that are no step of the seed; None for nothing left."""
    if isinstance(block, tuple):
        return tuple(step for step in block if step.key in common) or None
    return block if block.key in common and block.action != CLEARED else None


def _title(story, procedure):
    """Label of what was done; that of the treatments without additions, where some have one."""
    labels = [batches.treatment["label"] for batches in procedure.members if batches.treatment]
    if not labels:
        return f"{_chief(story, procedure)}, not sown"
    plain = min(labels, key=len)
    rest = [label for label in dict.fromkeys(labels) if label != plain]
    return (
        f"{plain}, alone and with additions"
        if all(label.startswith(plain) for label in rest) and rest
        else (capital(listed(dict.fromkeys(map(inside, labels)))))
    )


def _chief(story, procedure):
    """Title of the first step that does something to the seed, for runs that no treatment names."""
    taken = [schema.word("step_action", step["action"]) for step in story.steps(procedure.runs[0]["run_id"])]
    doing = [word["title"] for word in taken if word["hazard"] and set(word["asks"]) - {"amount", "unit"}]
    return doing[0] if doing else schema.word("run_kind", procedure.members[0].kind)["title"]


def _loads(procedure):
    masses = (of.grams(batches.of(batches.seed, run)) for batches in procedure.members for run in batches.runs)
    return known(masses)


def _purposes(procedure):
    """What it was for, in the words of the plan; one sentence for all treatments that share it."""
    shared = {}
    for batches in procedure.members:
        words = batches.treatment["purpose"] if batches.treatment else None
        if words:
            shared.setdefault(words.strip(), []).append(batches.id)
    for words, ids in shared.items():
        yield f"{listed(ids)}: {words} " if len(shared) > 1 else f"{words} "


def _opening(story, procedure):
    """How many batches of which treatments were made when and by whom, and of which seed."""
    runs, members = procedure.runs, procedure.members
    each = {len(batches.runs) for batches in members}
    many = f"{several(each.pop(), 'x').split()[0]} each of " if len(each) == 1 and procedure.several else ""
    count = capital(several(len(runs), "batch", "batches"))
    people = listed(dict.fromkeys(story.person(run["done_by"]) for run in runs))
    was = "was" if len(runs) == 1 else "were"
    yield (
        f"{count}, {many}{listed(batches.id for batches in members)}, {was} {_verb(story, procedure)}"
        f" {period([run['started_at'] for run in runs])} by {people}."
    )
    lots = list(dict.fromkeys(m["lot_id"] for batches in members for m in batches.seed))
    if lots:
        each = ", one lot a batch" if _own_lots(procedure) else ""
        yield f" The seed came from {'lot' if len(lots) == 1 else 'lots'} {ids_told(lots)}{each}."


def _own_lots(procedure):
    """Whether within each treatment every batch was made of another lot."""
    return all(len({m["lot_id"] for m in b.seed}) == len(b.seed) == len(b.runs) > 1 for b in procedure.members)


def _verb(story, procedure):
    """What the run did; a coat of which nothing stays on the seed was handling only."""
    kind = procedure.members[0].kind
    used = {row["material_id"] for run in procedure.runs for row in story.steps(run["run_id"])} - {None}
    roles = {row["role"] for row in (story.row("materials", key) for key in used) if row}
    return "handled" if kind == "coat" and roles <= {"solvent"} else steps.participle(kind)


def _more(telling, blocks, procedure):
    """What single treatments got besides, and whether the machine was cleaned."""
    steps_taken = [step for block in blocks for step in (block if isinstance(block, tuple) else (block,))]
    for step in steps_taken:
        if step.key in procedure.common or step.action == CLEARED:
            continue
        runs = list(dict.fromkeys(row["run_id"] for row in step.rows))
        own = steps.Telling(telling.story, runs, telling.loads)
        own.machine, own.speed = step.machine, steps.step_setting(step)("speed_rpm")
        cycles = sorted({row["cycle"] for row in step.rows} - {None})
        when = f"In cycle {listed(cycles)}, " if cycles else ""
        names = list(dict.fromkeys(step.groups[run] for run in runs))
        yield (f" {when}{listed(names)} {'was' if len(names) == 1 else 'were'} also ", own.phrase(step), ".")
    if any(step.action == CLEARED for step in steps_taken):
        yield " The machine was emptied and cleaned after each batch."


def _work(procedure):
    """Room and working time, where they were recorded; a gap where one run lacks what its sisters have."""
    room = [_told(procedure, "room_c", "{} °C"), _told(procedure, "room_rh", "{} % relative humidity")]
    apart = _times_apart(procedure)
    time = [
        _told(procedure, column, words)
        for column, words in (("hands_on_min", "{} min by hand"), ("machine_min", "{} min by machine"))
        if column not in apart
    ]
    for lead, parts in ((" Room: ", room), (" Work a batch: ", time)):
        there = [part for part in parts if any(part)]
        if there:
            yield (lead, steps.joined(there, ", ", " and "), ".")


def _times_apart(procedure):
    """Columns of working time in which treatments differ so much that the table must tell them."""
    means = {
        column: [mean(v) for b in procedure.members if (v := known(run[column] for run in b.runs))] for column in TIMES
    }
    return [c for c, of_each in means.items() if len(of_each) > 1 and max(of_each) > steps.MUCH * min(of_each)]


def _told(procedure, column, words):
    runs = procedure.runs
    values = known(run[column] for run in runs)
    if not any(values):
        return ()
    blank = [run for run in runs if run[column] is None and applies(run, column)]
    marks = [gap("runs", [run], column, run["run_id"]) for run in blank]
    return (words.format(centre(values)), *((" ", mark) for mark in marks))


def _grid(story, procedure, blocks, measure, head):
    """One row a treatment: seed in, what differs much, product, and `measure` under `head`, beside what was planned.

    How many batches there are, and what build-up was planned, is told in a column only where treatments differ in it.
    """
    differing, times = steps.told_apart(blocks), _times_apart(procedure)
    counts = {len(batches.runs) for batches in procedure.members}
    planned = {batches.planned for batches in procedure.members}
    one = planned.pop() if len(planned) == 1 else None
    columns = {
        "Treatment": lambda b: b.id,
        "Species": lambda b: story.species_short(b.taxon),
        **({"Batches": lambda b: str(len(b.runs))} if len(counts) > 1 else {}),
        "Seed in, g": lambda b: _mass(b, b.seed),
        **{steps.heading(story, *pair): lambda b, pair=pair: steps.cell(*pair, b.id) for pair in differing},
        **{TIMES[column]: lambda b, column=column: _time(b, column) for column in times},
        "Product, g": lambda b: _mass(b, b.product),
        f"{head}{f' (planned {short(one)})' if one is not None else ''}": lambda b: of.gain_told(b, measure),
        **({"Planned, %": lambda b: short(b.planned) if b.planned is not None else ""} if planned else {}),
    }
    heads = tuple(Column(name, "left" if name in LEFT else "right") for name in columns)
    rows = tuple(Row(tuple(tell(b) for tell in columns.values()), b.anchor) for b in procedure.members)
    caption = f"{_title(story, procedure)}: amounts a batch, mean and range"
    return Grid(caption, heads, rows, f"table-done-{procedure.anchor}")


def _mass(batches, movements):
    """Mean and range of what the batches weighed, as movements of one side have it."""
    return centre(known(of.grams(batches.of(movements, run)) for run in batches.runs))


def _time(batches, column):
    """Working time in one treatment, and a gap for each run that lacks it."""
    marks = [
        gap("runs", [run], column, run["run_id"])
        for run in batches.runs
        if run[column] is None and applies(run, column)
    ]
    return (centre(known(run[column] for run in batches.runs)), *((" ", mark) for mark in marks))
