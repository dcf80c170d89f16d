"""What was put on the seed or into it, procedure by procedure; what a contractor did, as far as it is told."""

from palea import schema
from palea.derived.doses import delivered
from palea.documents.page import Gap, Grid, Paragraph, Part, Row
from palea.record import batches as of
from palea.record import cleaning, deviations, followed, procedures, tested
from palea.record.spread import period, with_symbol
from palea.record.story import cell_anchor
from palea.words.numbers import short
from palea.words.prose import capital, inside, listed

CONTRACTOR = "contractor"
NAME, HEAD = "tests-treated", "Build-up on dry matter, %"
INTENDED, UPTAKE = "intended", "by uptake"  # grades of derived.doses


def part(story):
    """The Part on coats, soaks and handling, or None where there was none."""
    every = of.all_batches(story, set(schema.words("run_kind")) - set(cleaning.KINDS))
    if not every:
        return None
    told = [_told(story, procedure) for procedure in procedures.together(story, every)]
    doses = [grid for grid in (_doses(story, every),) if grid]
    how = tested.how(story, every, NAME)
    return Part("Coating, soaking and handling", (*told, *doses, *([Paragraph(how)] if how else [])), "coating")


def tables(story):
    """Grids for the appendix: amounts of each procedure, checks of what was coated or soaked."""
    every = of.all_batches(story, set(schema.words("run_kind")) - set(cleaning.KINDS))
    ours = [p for p in procedures.together(story, every) if not _outside(p)]
    grids = [procedures.grid(story, p, of.build_up, HEAD) for p in ours]
    return [*filter(None, grids), *tested.summary(story, every, "Coat checks and tests of treated lots", NAME)]


def _outside(procedure):
    return all(run["place_kind"] == CONTRACTOR for run in procedure.runs)


def sources(story):
    """Keys of the published sources of the classes of coat that treatments name, as texts."""
    classes = {row["coat_class"] for row in story.rows("treatments")} - {None}
    return [key for name in sorted(classes) for key in schema.word("coat_class", name).get("see", ())]


def _told(story, procedure):
    return (
        _outsourced(story, procedure) if _outside(procedure) else procedures.part(story, procedure, of.build_up, HEAD)
    )


def _doses(story, every):
    """A Grid of actives: what was meant, what the seed got as far as it is known, and by which grade of evidence."""
    known = {(row["treatment"], row["active"]): row for row in story.frame(delivered)}
    ids = {batches.id for batches in every}
    rows = [
        _dose(story, row, known.get((row["treatment_id"], row["material_id"])))
        for row in story.rows("treatment_actives")
        if row["treatment_id"] in ids
    ]
    heads = ("Treatment", "Active", "Intended", "Found on the seed, mg/kg of bare seed", "Grade of that figure")
    return Grid("Doses of actives: intended and delivered", heads, tuple(rows), "doses") if rows else None


def _dose(story, row, dose):
    key = row["treatment_id"]
    meant = (
        f"{with_symbol(short(row['amount']), row['unit'])}, {_basis(row)}"
        if row["amount"] is not None
        else (story.cell("treatment_actives", row, "amount", key))
    )
    measured = dose is not None and dose["mg_kg"] is not None and dose["grade"] != INTENDED
    bound = " (an upper bound: not all that is taken up stays)" if measured and dose["grade"] == UPTAKE else ""
    return Row(
        (
            key,
            capital(story.brief(row["material_id"])),
            meant,
            f"{dose['mg_kg']:.0f}" if measured else "not measured",
            f"{dose['grade']}{bound}" if measured else "intended only",
        )
    )


def _basis(row):
    return inside(schema.word("dose_basis", row["basis"])["title"]) if row["basis"] else "basis not told"


def _outsourced(story, procedure):
    """A contractor's coat: what is known, and who withholds the rest."""
    (first, *_) = procedure.members
    told = [
        Paragraph(tuple(_sent(story, batches, run)), batches.anchor)
        for batches in procedure.members
        for run in batches.runs
    ]
    return Part(
        first.treatment["label"] if first.treatment else "Coated by a contractor",
        tuple(told),
        f"done-{procedure.anchor}",
    )


def _sent(story, batches, run):
    key = run["run_id"]
    who = story.person(run["contractor"]) if run["contractor"] else story.cell("runs", run, "contractor", key)
    grams = of.grams(batches.of(batches.seed, run))
    mass = f"{short(grams)} g of seed" if grams is not None else "Seed"
    lots = listed(dict.fromkeys(m["lot_id"] for m in batches.of(batches.seed, run)))
    made = of.grams(batches.of(batches.product, run))
    asked = f"“{run['asked_for'].rstrip('.')}”" if run["asked_for"] else story.cell("runs", run, "asked_for", key)
    when = period([run["started_at"], run["ended_at"]])
    yield (
        f"{batches.id}: {mass} (lot {lots}) was coated by a contractor, ",
        who,
        f", {when}; asked for: ",
        asked,
        ". ",
    )
    yield f"{short(made)} g of product came back. " if made is not None else ""
    yield from _recipe(story, run, who)
    kept = run["keep_lot_id"]
    yield (
        f"A keep-sample of the seed was held back as lot {kept}. "
        if kept
        else ("A keep-sample of the seed: ", story.cell("runs", run, "keep_lot_id", key), ". ")
    )
    if deviations.odd(run["deviations"]):
        yield f"Noted: {run['deviations'].strip().rstrip('.')}. "
    yield from followed.rows("runs", [key])


def _recipe(story, run, who):
    """How much of the recipe is told; what is not told is a gap that names who keeps it."""
    told = run["disclosure"]
    if told in schema.words("disclosure", reported=True):
        return
    if told is None:
        yield ("Recipe: ", story.cell("runs", run, "disclosure", run["run_id"]), ". ")
        return
    title = inside(schema.word("disclosure", told)["title"])
    where = cell_anchor("runs", [run], "disclosure")
    by = f"{title} by {who}" if isinstance(who, str) and title != "not asked" else title
    yield (
        "What the product is made of and how it was put on: ",
        Gap(f"recipe, run {run['run_id']}", where, by),
        ". An effect belongs to this product, not to coating. ",
    )
