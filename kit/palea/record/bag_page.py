"""One page for a bag of treated seed: what is in it, what is on it, how much lives, how much to sow, and what to mind.

It says what is known and from which evidence, and leaves a visible gap where something is not. It is no legal label.
"""

import io

from palea import schema
from palea.calc.places import on_grid
from palea.derived.doses import delivered
from palea.derived.lineage import history, origins
from palea.documents import files
from palea.documents.page import Column, Emphasis, Gap, Grid, Note, Page, Paragraph, Part, Picture, Row, Strong
from palea.errors import PaleaError
from palea.record import sowing
from palea.record.lots import PRECISE, few_told
from palea.record.precautions import statement
from palea.record.spread import with_symbol
from palea.record.story import Story, cell_anchor
from palea.words.numbers import short
from palea.words.prose import capital, inside, listed

TARGET = 300.0  # live seeds a square metre, unless another is asked for
INTENDED = "intended"  # grade of derived.doses
ENDINGS = (".html", ".docx", ".md")
QR_SCALE = 3


def assemble(package, lot_id, target=TARGET, link=""):
    """The bag page of a lot as a Page. target : live seeds a square metre.  link : where the record can be read.

    Raises PaleaError for a lot that the package does not hold.
    """
    story = Story(package)
    lot = story.row("lots", lot_id)
    if lot is None:
        known = few_told([row["lot_id"] for row in story.rows("lots")])
        msg = f"There is no lot “{lot_id}” in this package. It holds {known}."
        raise PaleaError(msg)
    runs = _runs(story, lot_id)
    put_on = _put_on(story, runs)
    live = sowing.live_seeds(story, lot_id)
    parts = (
        _warning(put_on),
        *_identity(story, lot, link),
        _origin(story, lot_id),
        _what_is_on_it(story, lot_id, runs, put_on),
        sowing.part(story, lot_id, put_on, live, target),
        _hazards(story, put_on),
        _legal(),
    )
    taxon = story.row("taxa", lot["taxon_id"]) or {"scientific_name": None}
    name = taxon["scientific_name"] or lot_id
    return Page(
        f"{name}: {inside(story.value('lots', lot, 'seed_unit')) or 'seed'}",
        parts,
        f"Bag page of lot {lot_id}",
        _facts(story, lot, runs),
        contents=False,
        compact=True,
    )


def write(package, lot_id, path, target=TARGET, link="", replace=False):
    """Write the bag page (.html, .docx or .md). Returns the path."""
    return files.save(assemble(package, lot_id, target, link), path, replace=replace, endings=ENDINGS)


def _runs(story, lot_id):
    """Runs behind a lot, the first one first."""
    rows = [row for row in story.frame(history) if row["lot"] == lot_id]
    found = [story.row("runs", row["run"]) for row in sorted(rows, key=lambda row: -row["steps"])]
    return [run for run in found if run]


def _put_on(story, runs):
    """Materials that steps of coating or soaking brought to the seed, and those that they were made of; no repeats."""
    kinds = schema.words("run_kind", stage="coating")
    used = dict.fromkeys(
        s["material_id"] for run in runs if run["kind"] in kinds for s in story.steps(run["run_id"]) if s["material_id"]
    )
    found, waiting = {}, list(used)
    while waiting:
        key = waiting.pop(0)
        parts = [p["part_material_id"] for p in story.rows("material_parts", material_id=key)]
        waiting += [part for part in parts if part not in found]
        if not parts:
            found[key] = story.row("materials", key)
    return [row for row in found.values() if row and row["role"] != "solvent"]


def _warning(put_on):
    treated = "Treated seed. " if put_on else ""
    return Note(
        "hazard",
        (Paragraph(Strong(f"{treated}Not for food or feed. Keep away from children and animals.")),),
        "for sowing only",
    )


def _where(kept):
    """Place, temperature and humidity of the store, as far as they are known."""
    celsius = schema.table("storage")["temperature_c"].unit
    warm = "" if kept["temperature_c"] is None else with_symbol(short(kept["temperature_c"]), celsius)
    humid = "" if kept["rh_pct"] is None else f"{short(kept['rh_pct'])} % relative humidity"
    return listed(filter(None, (kept["place"], warm, humid)))


def _facts(story, lot, runs):
    made = runs[-1] if runs else None
    left = [m for m in story.rows("movements") if m["lot_id"] == lot["lot_id"] and m["kind"] == "made"]
    stored = story.rows("storage", lot_id=lot["lot_id"])
    kept = stored[-1] if stored else None
    where = _where(kept) if kept else ""
    pairs = (
        ("Lot", lot["lot_id"]),
        ("Made", f"{(made['ended_at'] or made['started_at'])[:10]} in run {made['run_id']}" if made else ""),
        ("Mass made", with_symbol(short(left[0]["mass_g"]), "g") if left and left[0]["mass_g"] is not None else ""),
        ("Kept", where),
    )
    return tuple((term, told) for term, told in pairs if told)


def identifier(package, lot_id):
    """What the square code says: the package's own identifier, or its name, and the lot."""
    return f"{package.descriptor.get('id') or package.descriptor.get('name') or 'package'} | {lot_id}"


def _identity(story, lot, link):
    """The square code with the identifier, and where the record stands."""
    import segno

    text = link or identifier(story.package, lot["lot_id"])
    drawn = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        drawn, kind="svg", scale=QR_SCALE, xmldecl=False, nl=False, svgclass=None, lineclass=None
    )
    yield Picture(drawn.getvalue().decode(), f"Square code that reads: {text}", (text,))
    yield Paragraph(
        ("The whole record: ", link)
        if link
        else ("The whole record lies in the data package of this name; ", Gap("its address", "", "not given"), ".")
    )


def _origin(story, lot_id):
    """Where the seed was collected, as exactly as its species allows, and when."""
    first = [story.row("lots", row["origin"]) for row in story.frame(origins) if row["lot"] == lot_id]
    lines = [Paragraph(tuple(_collected(story, lot))) for lot in first if lot]
    return Part("Origin", tuple(lines) or (Paragraph(Gap("origin")),))


def _collected(story, lot):
    taxon = story.row("taxa", lot["taxon_id"]) or {
        "place_sensitivity": None,
        "scientific_name": None,
        "authorship": None,
    }
    name = " ".join(filter(None, (taxon["scientific_name"], taxon["authorship"])))
    cell = schema.word("place_sensitivity", taxon["place_sensitivity"] or "none").get("grid_deg")
    yield from (Emphasis(name), f", lot {lot['lot_id']}: {story.value('lots', lot, 'source_kind')}, ")
    yield lot["country"] or story.cell("lots", lot, "country", lot["lot_id"])
    if cell is None:
        yield ", place withheld"
    elif cell <= PRECISE and lot["place"]:
        yield f", {lot['place']}"
    if cell and lot["latitude"] is not None and lot["longitude"] is not None:
        north, east = (float(on_grid([x], [cell])[0]) for x in (lot["latitude"], lot["longitude"]))
        yield f", near {short(north)}, {short(east)} (on a grid of {short(cell)} degrees)"
    when = " to ".join(dict.fromkeys(filter(None, (lot["collected_from"], lot["collected_to"]))))
    yield f"; collected {when}." if when else "."


def _what_is_on_it(story, lot_id, runs, put_on):
    """Class of coat, materials, and each active with its dose by grade of evidence."""
    treatment = _treatment(story, lot_id)
    lead = (
        f"{capital(treatment['label'])} ({treatment['treatment_id']})."
        if treatment
        else "No treatment is named for this lot."
    )
    rows = tuple(
        Row((capital(story.brief(row["material_id"])), story.value("materials", row, "role"), _disclosed(story, row)))
        for row in put_on
    )
    blocks = [Paragraph(lead)]
    blocks += (
        [Grid("What was put on the seed", ("Material", "Role", "What is told of it"), rows)]
        if rows
        else [Paragraph("Nothing was put on the seed." if runs else Gap("what was done to it"))]
    )
    doses = tuple(
        _dose(story, treatment, row)
        for row in story.rows("treatment_actives")
        if treatment and row["treatment_id"] == treatment["treatment_id"]
    )
    heads = ("Active", "Intended", Column("Found, mg/kg of bare seed", "right"), "Grade of that figure")
    blocks += [Grid("Doses", heads, doses)] if doses else []
    return Part("On the seed", tuple(blocks))


def _treatment(story, lot_id):
    """The treatment under which this lot, or a portion of it, was sown."""
    portions = {
        lot_id,
        *(m["counterpart_lot_id"] for m in story.rows("movements", lot_id=lot_id) if m["counterpart_lot_id"]),
    }
    key = next((u["treatment_id"] for u in story.rows("units") if u["lot_id"] in portions and u["treatment_id"]), None)
    return story.row("treatments", key) if key else None


def _disclosed(story, row):
    if row["disclosure"] in {None, *schema.words("disclosure", reported=True)}:
        return ", ".join(filter(None, (row["cas"] and f"CAS {row['cas']}", row["product"])))
    who = f" by {story.person(row['withheld_by'])}" if row["withheld_by"] else ""
    reason = inside(schema.word("disclosure", row["disclosure"])["title"])
    return Gap("what it is made of", cell_anchor("materials", [row], "cas"), f"{reason}{who}")


def _dose(story, treatment, row):
    known = next(
        (
            d
            for d in story.frame(delivered)
            if (d["treatment"], d["active"]) == (treatment["treatment_id"], row["material_id"])
        ),
        None,
    )
    basis = inside(schema.word("dose_basis", row["basis"])["title"]) if row["basis"] else ""
    meant = (
        f"{with_symbol(short(row['amount']), row['unit'])}, {basis}"
        if row["amount"] is not None
        else Gap("intended dose")
    )
    found = known and known["mg_kg"] is not None and known["grade"] != INTENDED
    return Row(
        (
            capital(story.brief(row["material_id"])),
            meant,
            f"{known['mg_kg']:.0f}" if found else "not measured",
            known["grade"] if found else INTENDED,
        )
    )


def _hazards(story, put_on):
    """What the data sheets state of the materials on the seed, by code and text; gaps where nobody looked."""
    lines = []
    for row in put_on:
        codes = [c.strip() for c in (row["hazards"] or "").split(";") if c.strip()[-1:].isdigit()]
        name = capital(story.brief(row["material_id"]))
        if codes:
            lines.append(
                Paragraph(
                    (
                        Strong(f"{name}: "),
                        f"{'; '.join(map(statement, codes))} ({row['ghs_edition'] or 'edition not recorded'}).",
                    ),
                    small=True,
                )
            )
        elif not row["hazards"] and story.due("materials", row, "hazards"):
            lines.append(
                Paragraph(
                    (f"{name}: ", Gap("hazard statements", cell_anchor("materials", [row], "hazards"))), small=True
                )
            )
    general = Paragraph(
        "Dust of coats and chaff can irritate: wear gloves and a dust mask when the bag is opened and the seeder filled, wash"
        " hands afterwards. Codes stand for the materials as bought, not for the coated seed; the data sheets decide."
    )
    return Part("Hazards and precautions", (general, *lines))


def _legal():
    return Note(
        "remark",
        (
            Paragraph(
                "This page is no plant passport and no legal label: where the law asks for one, it must be on the bag as well."
            ),
        ),
    )
