"""Hazards of the steps that were taken, and the usual precautions: statements by code and text, edition named.

It tells what is usual and whom to ask; it never says that anything is safe.
"""

from collections import defaultdict

from palea import schema
from palea.documents.page import Grid, Note, Paragraph, Part, Row, reference
from palea.record.story import gaps
from palea.words.prose import inside, listed, stop

TABLE = "table-hazards"
NOT_HERE = "text not held here: see the data sheet"


def part(story):
    """The Part on hazards, or None where no step that was taken has one."""
    kinds = [(kind, where) for kind in schema.hazards()["step_precautions"] if any(where := _where(story, kind))]
    if not kinds:
        return None
    edition = schema.hazards()["edition"]
    always = Note("caution", (Paragraph(" ".join(schema.hazards()["always"])),), "for orientation only")
    boxes = [_box(kind, where, edition) for kind, where in kinds]
    led = (
        Paragraph(("What the data sheets of the materials state stands in ", reference(TABLE), "."))
        if _alike(story)
        else None
    )
    return Part("Hazards and precautions", (always, *boxes, *([led] if led else []), _checked(story)), "hazards")


def sources(story):
    """Keys of the published sources of the statements, as a text each."""
    return [schema.hazards()["source"]] if part(story) else []


def _used(story):
    """(actions, machines, materials) of the steps that were taken, preparations with what is in them."""
    steps = story.rows("run_steps")
    materials = {step["material_id"] for step in steps} - {None}
    while (
        more := {p["part_material_id"] for p in story.rows("material_parts") if p["material_id"] in materials}
        - materials
    ):
        materials |= more
    machines = {step["equipment_id"] for step in steps} - {None}
    return {step["action"] for step in steps}, machines, materials


def _where(story, kind):
    """(titles of steps, names of materials, kinds of machines) at which a kind of hazard arises."""
    actions, machines, materials = _used(story)
    name = kind["when"]["hazard"]
    steps = [w["title"] for w in _words("step_action", name) if w["name"] in actions]
    roles = {w["name"] for w in _words("material_role", name)}
    stuff = [row["name"] for row in story.rows("materials") if row["material_id"] in materials and row["role"] in roles]
    kinds = {w["name"]: w["title"] for w in _words("equipment_kind", name)}
    turning = [
        row["kind"] for row in story.rows("equipment") if row["equipment_id"] in machines and row["kind"] in kinds
    ]
    return steps, stuff, [kinds[kind] for kind in dict.fromkeys(turning)]


def _words(vocabulary, hazard):
    """Words of a list that carry a hazard."""
    return [w for w in schema.vocabulary(vocabulary).words.values() if hazard in w.get("hazard", ())]


def _box(kind, where, edition):
    steps, stuff, machines = where
    told = [
        f"{lead}: {listed(map(inside, names))}"
        for lead, names in (("steps", steps), ("materials", stuff), ("machines", machines))
        if names
    ]
    statements = [statement(code) for code in kind["statements"]]
    typical = (
        (
            Paragraph(
                f"Statements usual for such steps ({edition}; confirm them on the data sheet): {'; '.join(statements)}."
            ),
        )
        if statements
        else ()
    )
    taken = " ".join(stop(statement(line)) for line in kind["precautions"])
    return Note(
        "hazard",
        (Paragraph(f"Where it arises: {'; '.join(told)}."), *typical, Paragraph(f"Usual precautions: {taken}")),
        kind["title"],
    )


def statement(code):
    """A GHS code with its text, never the code alone; a sentence that is no code as it is.

    >>> statement("H319"), statement("Keep guards on.")
    ('H319 Causes serious eye irritation', 'Keep guards on.')
    """
    known = schema.hazards()["statements"]
    if code in known:
        return f"{code} {known[code]['text'].rstrip('.')}"
    return f"{code} ({NOT_HERE})" if code[:1] in {"H", "P", "E"} and code[-1:].isdigit() else code


def _alike(story):
    """{(statements, edition): materials} of the materials that were used."""
    _, _, used = _used(story)
    alike = defaultdict(list)
    for row in story.rows("materials"):
        if row["material_id"] in used and _codes(row):
            alike[tuple(_codes(row)), row["ghs_edition"] or "edition not recorded"].append(row)
    return alike


def table(story):
    """What the data sheets of materials state, materials with the same statements together: a Grid, or None."""
    told = tuple(
        Row((listed(row["name"] for row in rows), "; ".join(map(statement, codes)), edition, _sheets(rows)))
        for (codes, edition), rows in _alike(story).items()
    )
    heads = ("Materials", "Statements", "Edition", "Data sheets")
    return Grid("Statements on the data sheets of materials used", heads, told, TABLE) if told else None


def _sheets(rows):
    return "; ".join(dict.fromkeys(row["sds"] for row in rows if row["sds"]))


def _codes(row):
    return [code.strip() for code in (row["hazards"] or "").split(";") if code.strip()[-1:].isdigit()]


def _checked(story):
    """Which local risk assessments were named, and who checked the precautions; gaps where hazardous runs lack them."""
    hazardous = {
        w["name"]
        for kind in schema.hazards()["step_precautions"]
        for w in _words("step_action", kind["when"]["hazard"])
    }
    runs = [
        run
        for run in story.rows("runs")
        if run["place_kind"] != "contractor" and any(step["action"] in hazardous for step in story.steps(run["run_id"]))
    ]
    named = dict.fromkeys(run["risk_assessment"] for run in runs if run["risk_assessment"])
    people = dict.fromkeys(story.person(run["safety_checked_by"]) for run in runs if run["safety_checked_by"])
    marks = [
        mark
        for column in ("risk_assessment", "safety_checked_by")
        for mark in gaps("runs", runs, column, [run["run_id"] for run in runs], "all runs")
        if _asked(column)
    ]
    told = (
        f"Local risk assessments named: {'; '.join(named)}. " if named else "",
        f"Precautions were checked before the start by {listed(people)}. " if people else "",
    )
    return Paragraph((*told, *((mark, " ") for mark in marks)), "risk-assessments")


def _asked(column):
    return column in schema.hazards()["asks"]["runs"]
