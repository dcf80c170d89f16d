"""What was put on the seed, of what it was prepared, and with which instruments."""

from palea import schema
from palea.documents.page import Column, Gap, Grid, Listing, Paragraph, Part, Row, Strong, reference
from palea.record.spread import several, symbol, with_symbol
from palea.record.story import anchor, applies, cell_anchor, gap
from palea.words.numbers import short
from palea.words.prose import capital, inside, listed


def part(story):
    """The Part on materials, preparations and equipment, or None where none is recorded."""
    blocks = [*_bought(story), *_preparations(story), *_instruments(story)]
    return Part("Materials, preparations and equipment", tuple(blocks), "materials") if blocks else None


def tables(story):
    """Grids for the appendix: materials with what is disclosed of them, equipment, calibrations."""
    return [grid for grid in (_materials(story), _equipment(story), _calibrations(story)) if grid]


def _bought(story):
    """Which materials were used as what; who keeps back what one is made of."""
    here = _made_here(story)
    by_role = {}
    for row in story.rows("materials"):
        if row["material_id"] not in here:
            by_role.setdefault(story.value("materials", row, "role") or "other", []).append(
                story.brief(row["material_id"])
            )
    if by_role:
        told = "; ".join(f"{role}: {listed(names)}" for role, names in by_role.items())
        yield Paragraph(
            (
                f"Materials were bought as follows. {capital(told)}. Suppliers, batches, hazards and what is disclosed stand in ",
                reference("table-materials"),
                ".",
            )
        )


def _instruments(story):
    """How many instruments there are, and how many of them have a calibration."""
    rows = story.rows("equipment")
    if rows:
        checked = {row["equipment_id"] for row in story.rows("calibrations")}
        led = (" (", reference("table-calibrations"), ")") if checked else ()
        was = "was" if len(rows) == 1 else "were"
        yield Paragraph(
            (
                f"{capital(several(len(rows), 'machine or instrument', 'machines and instruments'))} {was} used (",
                reference("table-equipment"),
                f"); calibrations are recorded of {len(checked) or 'none'} of them",
                *led,
                ".",
            )
        )


def _calibrations(story):
    rows = story.rows("calibrations")
    heads = (
        "Instrument",
        "Quantity",
        "On, due",
        Column("Reference", "right"),
        Column("Found", "right"),
        "Uncertainty",
        "By",
    )
    told = tuple(_calibration(story, row) for row in rows)
    return Grid("Calibrations", heads, told, "table-calibrations") if rows else None


def _calibration(story, row):
    numbers = [
        with_symbol(short(row[c]), row["unit"]) if row[c] is not None else ""
        for c in ("reference", "found", "uncertainty")
    ]
    due = f", due {row['due_on']}" if row["due_on"] else ""
    return Row(
        (
            story.machine(row["equipment_id"]),
            story.value("calibrations", row, "quantity"),
            f"{row['done_on']}{due}",
            *numbers,
            row["done_by"] or "",
        )
    )


def _made_here(story):
    return {row["material_id"] for row in story.rows("material_parts")}


def _materials(story):
    """Materials as they were bought, one row each."""
    here = _made_here(story)
    rows = [row for row in story.rows("materials") if row["material_id"] not in here]
    if not rows:
        return None
    cas = schema.table("materials")["cas"].title
    heads = ("Material and its role", cas, "Supplier, product, batch", "Disclosed", "Hazard statements; data sheet")
    return Grid("Materials as they were bought", heads, tuple(_material(story, row) for row in rows), "table-materials")


def _material(story, row):
    bought = [row[c] for c in ("supplier", "product", "supplier_batch") if row[c]]
    share = row["active_fraction_w_w"]
    strength = f", {short(100 * share)} % w/w active" if share is not None else ""
    return Row(
        (
            f"{row['name']}{strength} ({story.value('materials', row, 'role')})",
            _identity(story, row),
            ", ".join(bought) or _open(story, row, "supplier"),
            story.value("materials", row, "disclosure"),
            _hazards(story, row),
        ),
        anchor("materials", row["material_id"]),
    )


def _identity(story, row):
    """The CAS number; who withholds it; or a gap."""
    if row["disclosure"] not in {None, *schema.words("disclosure", reported=True)}:
        who = f" by {story.person(row['withheld_by'])}" if row["withheld_by"] else ""
        told = inside(schema.word("disclosure", row["disclosure"])["title"])
        return Gap("what it is made of", cell_anchor("materials", [row], "cas"), f"{told}{who}")
    if row["cas"]:
        return row["cas"]
    return _open(story, row, "cas")


def _hazards(story, row):
    """Hazard codes and where the data sheet lies; a gap for codes that nobody has looked up."""
    told = (
        ", ".join(code.strip() for code in row["hazards"].split(";"))
        if row["hazards"]
        else _open(story, row, "hazards")
    )
    return told, ("; " if told and row["sds"] else ""), row["sds"] or ""


def _open(story, row, column):
    """The gap for a blank cell that the checklist asks for in such a material; "" for one that it does not."""
    due = applies(row, column) and story.due("materials", row, column)
    return gap("materials", [row], column, row["material_id"]) if due else ""


def _preparations(story):
    """A sentence a preparation made here: of what, when, by whom, at which pH."""
    here = _made_here(story)
    rows = [row for row in story.rows("materials") if row["material_id"] in here]
    if rows:
        yield Paragraph(("Preparations made here:",), "preparations")
        yield Listing(tuple(_preparation(story, row) for row in rows))


def _preparation(story, row):
    key = row["material_id"]
    parts = [_part(story, p) for p in story.rows("material_parts", material_id=key)]
    joined = tuple(
        x for i, part in enumerate(parts) for x in ("" if i == 0 else " and " if i == len(parts) - 1 else ", ", part)
    )
    when = f"on {row['made_at'][:10]}" if row["made_at"] else gap("materials", [row], "made_at", key)
    who = f"by {story.person(row['made_by'])}" if row["made_by"] else gap("materials", [row], "made_by", key)
    ph = f", pH {short(row['ph'])}" if row["ph"] is not None else ""
    return (Strong(capital(row["name"])), ": made ", when, " ", who, " of ", joined, ph, ".")


def _part(story, row):
    basis = (
        f" {inside(schema.word('amount_basis', row['basis'])['title'])}" if row["basis"] not in {None, "in all"} else ""
    )
    return f"{with_symbol(short(row['amount']), row['unit'])} of {story.brief(row['part_material_id'])}{basis}"


def _equipment(story):
    rows = story.rows("equipment")
    if not rows:
        return None
    heads = ("Instrument", "Maker, model", schema.table("equipment")["serial"].title, "Size")
    return Grid("Machines and instruments", heads, tuple(_machine(story, row) for row in rows), "table-equipment")


def _machine(story, row):
    made = ", ".join(filter(None, (row["maker"], row["model"]))) or gap(
        "equipment", [row], "model", row["equipment_id"]
    )
    size = [
        f"{short(row[c])} {symbol(schema.table('equipment')[c].unit)}"
        for c in ("bowl_diameter_mm", "capacity_g")
        if row[c] is not None
    ]
    return Row(
        (capital(story.value("equipment", row, "kind")), made, row["serial"] or "", ", ".join(size)),
        anchor("equipment", row["equipment_id"]),
    )
