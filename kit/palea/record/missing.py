"""What a reader needs and does not get: the checklist by stage and by treatment, what is withheld, and what to do next."""

from collections import Counter, defaultdict

from palea.checks.checklist import State
from palea.documents.page import Code, Column, Grid, Listing, Paragraph, Part, Row, reference
from palea.record.lots import ids_told
from palea.words.prose import capital, counted, listed, stop

WEIGHTS, TREATMENTS = ("essential", "recommended"), "checklist-treatments"
OPEN = (State.WITHHELD, State.NOT_RECORDED, State.MISSING)
NEXT = {
    State.WITHHELD: "Ask them with a letter (palea letter): each item has a box “may be published”. Until then any effect belongs"
    " to this product.",
    State.NOT_RECORDED: "It cannot be known any more; plan it into the procedure of the next run.",
    State.MISSING: "Enter it in the cell that the appendix names; where it cannot be known, say in why_blank that it was not"
    " recorded.",
}


def part(story, findings=None):
    """The Part on completeness: counts by stage and by treatment, every item that is open, what to do, open findings.

    findings : what `palea check` found, where it was asked; only its numbers are told.
    """
    answers = story.answers
    lead = Paragraph(
        "Each item is a question whose answer somebody needs to repeat the work, asked of every lot, material, run or trial that"
        " it concerns. Essential and recommended items are counted apart; no score is made of them, and that something is"
        " reported does not say that it is good."
    )
    blocks = [lead, *([_by_stage(answers)] if answers else []), *_treatments(story, answers)]
    for state in OPEN:
        told = [answer for answer in answers if answer.state is state]
        if told:
            items = (Listing(tuple(_items(story, told)), small=True), Paragraph(("Next: ", NEXT[state])))
            blocks.append(Part(f"{capital(state)} ({len(told)})", items, f"items-{state.name}"))
    return Part(
        "What is not reported", (*blocks, Paragraph((_not_asked(answers), " ", _findings(findings)))), "missing"
    )


def _by_stage(answers):
    heads = ("Stage", "Weight", *(Column(capital(state), "right") for state in State))
    count = Counter((a.stage, a.weight, a.state) for a in answers)
    pairs = dict.fromkeys((a.stage, a.weight) for a in answers)
    rows = tuple(
        Row((capital(stage), weight, *(str(count[stage, weight, state]) for state in State))) for stage, weight in pairs
    )
    return Grid("Reporting checklist: how many answers there are, by stage", heads, rows, "checklist")


def _treatments(story, answers):
    """Where the same by treatment stands, and the treatments that stand out in it."""
    rows = by_treatment(story, answers)
    lacking = [key for key, count in rows.items() if any(count[w, s] for w in WEIGHTS for s in OPEN)]
    if rows:
        told = (
            f"Something is open for {ids_told(lacking)}; for all other treatments everything is reported"
            if lacking
            else ("For every treatment everything that was asked is reported")
        )
        yield Paragraph((f"{told} (by treatment: ", reference(TREATMENTS), ")."))


def by_treatment(story, answers):
    """{treatment: Counter of (weight, state)} over the items about it, its runs, lots, materials, units and tests."""
    of = _concerns(story)
    found = {row["treatment_id"]: Counter() for row in story.rows("treatments")}
    for a in answers:
        for key in found.keys() & of.get((a.about, a.subject), ()):  # a unit may name a treatment that there is not
            found[key][a.weight, a.state] += 1
    return {key: count for key, count in found.items() if count}


def _concerns(story):
    """{(table, id): treatments} of rows that stand behind a treatment."""
    of = defaultdict(set)
    lots = defaultdict(set)
    for unit in story.rows("units"):
        if unit["treatment_id"]:
            of["units", unit["unit_id"]].add(unit["treatment_id"])
            lots[unit["lot_id"]].add(unit["treatment_id"])
    lots.pop(None, None)  # a unit left unsown has no seed behind it
    for m in story.rows("movements"):
        lots[m["lot_id"]] |= lots.get(m["counterpart_lot_id"], set())
    for m in story.rows("movements", kind="made"):
        of["runs", m["run_id"]] |= lots.get(m["lot_id"], set())
    for lot, treatments in lots.items():
        of["lots", lot] |= treatments
    for test in story.rows("tests"):
        of["tests", test["test_id"]] |= lots.get(test["lot_id"], set())
    for step in story.rows("run_steps"):
        runs = of["runs", step["run_id"]]
        of["run_steps", step["run_id"]] = runs
        of["materials", step["material_id"]] |= runs
    for treatment in story.rows("treatments"):
        for table in ("treatments", "treatment_actives"):
            of[table, treatment["treatment_id"]].add(treatment["treatment_id"])
    return of


def table(story):
    """The Grid of the checklist by treatment, for the appendix; None where nothing was asked of one."""
    rows = by_treatment(story, story.answers)
    states = [state for state in State if state is not State.NOT_APPLICABLE]
    heads = ("Treatment", *(Column(f"{capital(weight)}: {state}", "right") for weight in WEIGHTS for state in states))
    told = tuple(
        Row((key, *(str(count[weight, state]) for weight in WEIGHTS for state in states)))
        for key, count in rows.items()
    )
    return (
        Grid(
            "Reporting checklist by treatment: answers about it, its runs, lots, materials, units and tests",
            heads,
            told,
            TREATMENTS,
        )
        if rows
        else None
    )


def _items(story, answers):
    """One line a question: for whom or what it is open, where its answer lives, and who withholds it."""
    by_question = defaultdict(list)
    for answer in sorted(answers, key=lambda a: a.weight):  # essential before recommended
        by_question[answer.stage, answer.weight, answer.question, answer.by].append(answer)
    for (stage, weight, question, by), same in by_question.items():
        columns = listed(dict.fromkeys(column for answer in same for column in answer.columns))
        where = f"{same[0].where}: {columns}" if columns else same[0].where
        named = list(dict.fromkeys(answer.subject for answer in same if answer.subject))
        who = f" Withheld by {story.person(by)}." if by else ""
        why = listed(dict.fromkeys(answer.reason for answer in same if answer.reason))
        yield (
            f"{question} ",
            stop(ids_told(named)),
            f" ({stage}, {weight}; {same[0].item}; ",
            Code(where),
            ")",
            who,
            f" Reason: {why}." if why else "",
        )


def _not_asked(answers):
    """How many items do not apply, by why."""
    why = Counter(a.reason for a in answers if a.state is State.NOT_APPLICABLE)
    if not why:
        return "Every item of the checklist applies."
    return f"Items that do not apply: {listed(f'{n} ({reason})' for reason, n in why.items())}."


def _findings(findings):
    """How many findings stand open, by severity; that nobody looked, where nobody did."""
    from palea.findings import SEVERITIES

    if findings is None:
        return "What palea check says of these data was not asked for this record; the command tells it."
    count = Counter(finding.severity for finding in findings)
    if not count:
        return "palea check finds nothing to say against these data."
    told = listed(counted(count[severity], severity) for severity in SEVERITIES if count[severity])
    return f"palea check lists {told} in these data; the command shows each with its row and what to do about it."
