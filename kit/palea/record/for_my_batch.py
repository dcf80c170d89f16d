"""A colleague's coat for my own batch: the same recipe for my grams, my seed and my pan; what does not scale is marked.

Amounts follow the mass of seed; where my seed is larger or smaller, the amounts for a coat of equal thickness stand
beside them. The speed keeps its share of the critical speed. Times, cycles, air and drying are to be tried.
"""

from dataclasses import dataclass

from palea import schema
from palea.calc.coating.scale_up import GUARD, UNTRIED, rescaled, same_share
from palea.derived.lineage import ancestry
from palea.documents import files
from palea.documents.page import Code, Column, Gap, Grid, Listing, Note, Page, Paragraph, Part, Row, Strong
from palea.errors import PaleaError
from palea.record import batches as of
from palea.record.lots import ids_told
from palea.record.precautions import statement
from palea.record.spread import duration, with_symbol
from palea.record.story import Story, gap
from palea.words.numbers import short
from palea.words.prose import capital, inside, listed

TO_TRY = "to be tried"
DIGITS = 3
MM_IN_M = 1000.0
UNSCALED = ("duration_s", "passes", "temperature_c", "air_flow_l_min")
PER_SEED = ("per kg seed put in", "per kg bare seed")
ENDINGS = (".html", ".docx", ".md")


@dataclass(frozen=True)
class Mine:
    """My batch: bare seed [g], mass of one seed [mg, that is g per 1000], diameter of the pan [mm]; None: not said."""

    seed_g: float
    tsw_mg: float | None = None
    pan_mm: float | None = None


def assemble(package, run_id, mine):
    """The recipe of a run for my batch, as a Page.

    Raises PaleaError for a run that the package does not hold, one whose recipe is kept back, one without steps or
    without the mass of its seed, and for a number that is not above zero.
    """
    story = Story(package)
    run = _run(story, run_id, mine)
    theirs = Mine(_seed_g(story, run), _tsw(story, run), _pan(story, run))
    parts = (
        _compared(run, theirs, mine),
        _bill(story, run, theirs, mine),
        _steps(story, run, theirs, mine),
        *_guesses(story, run),
        _hazards(story, run),
    )
    title = f"{_called(story, run)} for {short(mine.seed_g)} g of seed"
    return Page(capital(title), parts, f"Rescaled from run {run_id} of “{package.title}”", (), contents=False)


def write(package, run_id, path, mine, replace=False):
    """Write the recipe (.html, .docx or .md). Returns the path."""
    return files.save(assemble(package, run_id, mine), path, replace=replace, endings=ENDINGS)


def _run(story, run_id, mine):
    for what, number in (("seed", mine.seed_g), ("mass of a seed", mine.tsw_mg), ("pan", mine.pan_mm)):
        if number is not None and not number > 0:
            msg = f"The {what} of my batch is {number:g}, and must be above zero."
            raise PaleaError(msg)
    run = story.row("runs", run_id)
    if run is None:
        coats = [row["run_id"] for row in story.rows("runs") if row["kind"] == "coat"]
        msg = f"There is no run “{run_id}” in this package. Runs of coating: {ids_told(coats[:6])} ..."
        raise PaleaError(msg)
    if run["disclosure"] in schema.words("disclosure", needs_name=True):
        who = story.person(run["contractor"]) if run["contractor"] else "whoever did it"
        msg = f"The recipe of {run_id} is withheld by {who}, so nothing can be rescaled. Ask them: palea letter --about {run_id}."
        raise PaleaError(msg)
    if not story.steps(run_id):
        msg = f"No step of {run_id} is recorded, so there is no recipe to rescale."
        raise PaleaError(msg)
    return run


def _seed_g(story, run):
    seed = [m for m in story.rows("movements", run_id=run["run_id"]) if m["kind"] == "drawn for run"]
    grams = of.grams(seed)
    if not grams:
        msg = (
            f"The mass of the seed that went into {run['run_id']} is not recorded, so amounts cannot be told per gram."
        )
        raise PaleaError(msg)
    return grams


def _tsw(story, run):
    """Mass of one unit of their seed, mg, from the lot put in or the nearest before it; None where nobody weighed any."""
    lots = [m["lot_id"] for m in story.rows("movements", run_id=run["run_id"]) if m["kind"] == "drawn for run"]
    before = sorted((r for r in story.frame(ancestry) if r["lot"] in lots), key=lambda r: r["steps"])
    for lot in [*lots, *(row["ancestor"] for row in before)]:
        tests = [t for t in story.rows("tests", lot_id=lot) if t["quantity"] == "mass of units"]
        each = [
            1000 * r["value"] / r["out_of"]
            for t in tests
            for r in story.readings(t["test_id"])
            if r["value"] is not None and r["out_of"]
        ]
        if each:
            return sum(each) / len(each)
    return None


def _pan(story, run):
    machines = [
        story.row("equipment", s["equipment_id"])
        for s in story.steps(run["run_id"])
        if s["speed_rpm"] and s["equipment_id"]
    ]
    return next((row["bowl_diameter_mm"] for row in machines if row and row["bowl_diameter_mm"]), None)


def _called(story, run):
    lots = {m["lot_id"] for m in story.rows("movements", run_id=run["run_id"], kind="made")}
    key = next((u["treatment_id"] for u in story.rows("units") if u["lot_id"] in lots), None)
    row = story.row("treatments", key) if key else None
    return inside(row["label"]) if row else f"the recipe of {run['run_id']}"


def _compared(run, theirs, mine):
    """Their batch beside mine."""
    rows = [
        Row(("Bare seed, g", _number(theirs.seed_g), _number(mine.seed_g))),
        Row(
            (
                "Mass of one seed, mg (g per 1000)",
                _or_gap(theirs.tsw_mg, "thousand-seed weight"),
                _or_gap(mine.tsw_mg, "yours", "not given"),
            )
        ),
        Row(("Seeds in the batch", *(_number(b.seed_g / b.tsw_mg * 1000) if b.tsw_mg else "" for b in (theirs, mine)))),
        Row(
            (
                "Diameter of the pan, mm",
                _or_gap(theirs.pan_mm, "diameter of the bowl"),
                _or_gap(mine.pan_mm, "yours", "not given"),
            )
        ),
    ]
    heads = ("What", Column(f"Theirs ({run['run_id']})", "right"), Column("Mine", "right"))
    told = [Paragraph("Amounts in the column “equal build-up” keep what was put on a gram of seed.")]
    if _thickness(theirs, mine) != 1:
        told.append(
            Paragraph(
                f"My seed differs in size: a gram of it has {100 * _thickness(theirs, mine):.0f} % of the surface of a gram of"
                " theirs, so for"
                " a coat of equal thickness the amounts in the column “equal thickness” are right (seed of like shape and density)."
            )
        )
    return Part("Theirs and mine", (Grid("The two batches", heads, tuple(rows)), *told))


def _or_gap(number, what, reason="not recorded"):
    return _number(number) if number else Gap(what, "", reason)


def _number(x):
    return f"{x:.{DIGITS}g}" if x < 10**DIGITS else f"{x:.0f}"


def _thickness(theirs, mine):
    """Surface of a gram of my seed over that of a gram of theirs: (m_theirs / m_mine)^(1/3); 1 where a mass is not known.

    Source: derived by hand; surface of like bodies goes with mass to the power of 2/3.
    """
    return (theirs.tsw_mg / mine.tsw_mg) ** (1 / 3) if theirs.tsw_mg and mine.tsw_mg else 1.0


def _scaled(step, theirs, mine):
    """(at equal build-up, at equal thickness) of the amount of a step for my batch."""
    amount = step["amount"] * (theirs.seed_g / 1000 if step["basis"] in PER_SEED else 1.0)
    equal = float(rescaled(amount, theirs.seed_g, mine.seed_g))
    return equal, equal * _thickness(theirs, mine)


def _stays(step):
    """Whether an amount goes with the seed: that of a material, not the seed that was loaded or weighed."""
    return step["material_id"] is not None and step["amount"] is not None


def _bill(story, run, theirs, mine):
    """What is needed in all, and of what each preparation was made."""
    totals = {}
    for step in filter(_stays, story.steps(run["run_id"])):
        both = totals.setdefault((step["material_id"], step["unit"]), [0.0, 0.0])
        for i, amount in enumerate(_scaled(step, theirs, mine)):
            both[i] += amount
    rows = tuple(
        Row((capital(story.material(key)), *(with_symbol(_number(x), unit) for x in both)))
        for (key, unit), both in totals.items()
    )
    heads = ("Material", Column("Equal build-up", "right"), Column("Equal thickness", "right"))
    made = tuple(_made_of(story, key) for key, _ in totals if story.rows("material_parts", material_id=key))
    blocks = (
        Grid("What my batch takes in all, without losses", heads, rows),
        *([Listing(made, small=True)] if made else []),
    )
    return (
        Part("Bill of materials", blocks)
        if rows
        else Part("Bill of materials", (Paragraph("No material was put on."),))
    )


def _made_of(story, key):
    parts = [
        f"{with_symbol(short(p['amount']), p['unit'])} of {story.brief(p['part_material_id'])}"
        if p["amount"] is not None
        else story.brief(p["part_material_id"])
        for p in story.rows("material_parts", material_id=key)
    ]
    return (Strong(capital(story.brief(key))), f": made of {listed(parts)}; keep the proportions.")


def _steps(story, run, theirs, mine):
    rows = tuple(_step(story, step, theirs, mine) for step in story.steps(run["run_id"]))
    heads = (
        Column("Step", "right"),
        schema.table("run_steps")["action"].title,
        Column("Amount, equal build-up", "right"),
        Column("Equal thickness", "right"),
        Column("Speed", "right"),
        "Theirs, and to be tried",
        "Until",
    )
    return Part(
        "Steps",
        (
            Grid("The steps, for my batch", heads, rows),
            Note("caution", (*map(Paragraph, UNTRIED), Paragraph(GUARD)), "to be tried"),
        ),
    )


def _step(story, step, theirs, mine):
    name = f", {story.brief(step['material_id'])}" if step["material_id"] else ""
    cycle = f" (cycle {step['cycle']})" if step["cycle"] is not None else ""
    amounts = [with_symbol(_number(x), step["unit"]) for x in _scaled(step, theirs, mine)] if _stays(step) else ["", ""]
    return Row(
        (
            str(step["step"]),
            f"{capital(inside(schema.word('step_action', step['action'])['title']))}{name}{cycle}",
            *amounts,
            _speed(step, theirs, mine),
            _untried(step),
            (step["end_point"] or "", _open(step)),
        )
    )


def _speed(step, theirs, mine):
    """The speed at the same share of the critical speed; theirs, to be tried, where a diameter is not known."""
    if step["speed_rpm"] is None:
        return ""
    unit = schema.table("run_steps")["speed_rpm"].unit
    if not (theirs.pan_mm and mine.pan_mm):
        return f"{with_symbol(short(step['speed_rpm']), unit)} there; {TO_TRY}"
    return with_symbol(
        _number(float(same_share(step["speed_rpm"], theirs.pan_mm / MM_IN_M, mine.pan_mm / MM_IN_M))), unit
    )


def _untried(step):
    """Settings that no rule scales."""
    told = []
    for column in UNSCALED:
        value = step[column]
        if value is not None:
            field = schema.table("run_steps")[column]
            told.append(
                duration(value)
                if column == "duration_s"
                else f"{inside(field.title)} {with_symbol(short(value), field.unit)}"
            )
    return f"{', '.join(told)}: {TO_TRY}" if told else ""


def _open(step):
    """Gaps of what the step must say and does not."""
    asked = schema.word("step_action", step["action"]).get("asks", ())
    ledger = {"amount", "unit"} if "material_id" not in asked else set()
    blank = [c for c in asked if c not in ledger and step[c] is None]
    return tuple(x for c in blank for x in (" ", gap("run_steps", [step], c, f"step {step['step']}")))


def _guesses(story, run):
    """What I must guess, because their record does not say it."""
    answers = [
        a
        for a in story.answers
        if a.subject == run["run_id"] and a.state.name in ("MISSING", "NOT_RECORDED", "WITHHELD")
    ]
    if answers:
        items = tuple((f"{a.question} ", Code(", ".join((a.where, *a.columns))), f" ({a.state})") for a in answers)
        yield Part("What must be guessed", (Listing(items),))


def _hazards(story, run):
    """Statements of the materials, and what belongs to the work."""
    used = dict.fromkeys(s["material_id"] for s in story.steps(run["run_id"]) if s["material_id"])
    every = [*used, *(p["part_material_id"] for key in used for p in story.rows("material_parts", material_id=key))]
    lines = []
    for row in (story.row("materials", key) for key in dict.fromkeys(every)):
        codes = [c.strip() for c in ((row or {}).get("hazards") or "").split(";") if c.strip()[-1:].isdigit()]
        if codes:
            lines.append((Strong(capital(story.brief(row["material_id"]))), f": {'; '.join(map(statement, codes))}"))
    always = Paragraph(" ".join(schema.hazards()["always"]))
    return Part("Hazards and precautions", (always, *([Listing(tuple(lines), small=True)] if lines else [])))
