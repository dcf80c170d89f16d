"""Where the seed came from, in sentences, and what tests of it found."""

from palea import schema
from palea.documents.page import Column, Grid, Paragraph, Part, Row, Strong, reference
from palea.record import tested
from palea.record.spread import period
from palea.record.story import anchor
from palea.words.numbers import short
from palea.words.prose import inside, listed

PRECISE = 0.001  # degree; a place on a coarser grid is not printed by name


def part(story):
    """The Part on seed lots as they were received: a paragraph each, then what tests of them found."""
    lots = received(story)
    told = [paragraph(story, lot) for lot in lots]
    return Part("Seed lots", (*told, *_tests(story, lots)), "seed-lots") if told else None


def _tests(story, lots):
    """A row a lot, a column a test; how they were made stands in the appendix."""
    tests = [test for test in story.rows("tests") if test["lot_id"] in {lot["lot_id"] for lot in lots}]
    quantities = [q for q in schema.words("test_quantity") if any(test["quantity"] == q for test in tests)]
    if quantities:
        heads = ("Lot", *(schema.word("test_quantity", q)["title"] for q in quantities))
        rows = tuple(Row((lot["lot_id"], *(_found(story, tests, lot, q) for q in quantities))) for lot in lots)
        yield Grid(
            ("Tests of the lots as received; methods, replicates and testers in ", reference("tests-received")),
            heads,
            rows,
            "found-received",
        )


def _found(story, tests, lot, quantity):
    mine = [t for t in tests if (t["lot_id"], t["quantity"]) == (lot["lot_id"], quantity)]
    return "; ".join(filter(None, (tested.found(test, story.readings(test["test_id"])) for test in mine)))


def tables(story):
    """Grids for the appendix: tests of the lots as received one by one, then every lot with where it came from."""
    tests = tested.table(
        story, {lot["lot_id"] for lot in received(story)}, "Tests of the lots as received", "tests-received"
    )
    return [grid for grid in (tests, _every(story)) if grid]


def _every(story):
    """Every lot, those that were made here too."""
    came = {lot["lot_id"] for lot in received(story)}
    ins = {}
    for m in story.rows("movements"):
        ins.setdefault(
            m["counterpart_lot_id"] or (m["lot_id"] if m["kind"] in schema.words("movement_kind", sign=1) else None), m
        )
    heads = ("Lot", "Species", "Seed unit; fraction", "Came from", "On", Column("g", "right"), "State")
    rows = tuple(
        _line(story, lot, ins.get(lot["lot_id"]), first=lot["lot_id"] not in came) for lot in story.rows("lots")
    )
    return Grid("All lots (table lots; masses of table movements)", heads, rows, "table-lots") if rows else None


def _line(story, lot, came, *, first):
    """One lot. first : whether this is where the lot is anchored."""
    unit = "; ".join(filter(None, (story.value("lots", lot, "seed_unit"), story.value("lots", lot, "fraction"))))
    whence = (came["run_id"] or (came["lot_id"] if came["counterpart_lot_id"] else "outside")) if came else ""
    mass = short(came["mass_g"]) if came and came["mass_g"] is not None else ""
    on = (came["moved_at"] or "")[:10] if came else ""
    return Row(
        (
            lot["lot_id"],
            story.species_short(lot["taxon_id"]) if lot["taxon_id"] else "a mixture",
            unit,
            whence,
            on,
            mass,
            story.value("lots", lot, "status"),
        ),
        anchor("lots", lot["lot_id"]) if first else "",
    )


def received(story):
    """Lots that came from outside, in the order of the table."""
    outside = set(schema.words("source_kind", received=True))
    made = {m["lot_id"] for m in story.rows("movements", kind="made")}
    arrived = {m["lot_id"] for m in story.rows("movements", kind="received")}
    return [
        lot
        for lot in story.rows("lots")
        if lot["lot_id"] not in made and (lot["source_kind"] in outside or lot["lot_id"] in arrived)
    ]


def paragraph(story, lot):
    """Provenance of one lot. What a reader needs to find such seed again is told or stands as a gap."""
    key = lot["lot_id"]
    sentences = [_what(story, lot), whence(story, lot), _before(story, lot), _named(story, lot)]
    words = [(sentence, " ") for sentence in sentences if sentence]
    return Paragraph((Strong(f"Lot {key}."), " ", *words), anchor("lots", key))


def _what(story, lot):
    """How much of what came, when and from what kind of source."""
    key = lot["lot_id"]
    taxon = story.row("taxa", lot["taxon_id"]) or {}
    author = f" {taxon['authorship']}" if taxon.get("authorship") else ""
    family = f" ({taxon['family']})" if taxon.get("family") else ""
    arrivals = story.rows("movements", kind="received", lot_id=key)
    grams = [m["mass_g"] for m in arrivals if m["mass_g"] is not None]
    mass = f"{short(sum(grams))} g" if grams else story.cell("lots", lot, "lot_id")
    unit = inside(schema.word("seed_unit", lot["seed_unit"])["title"]) if lot["seed_unit"] else ""
    when = period([m["moved_at"] for m in arrivals])
    source = story.cell("lots", lot, "source_kind", key)
    return (
        mass,
        " of ",
        story.species(lot["taxon_id"]),
        f"{author}{family} was received{f' {when}' if when else ''}; it lies in the bag as: {unit}; source: ",
        source,
        ".",
    )


def whence(story, lot):
    """When, where and from how many plants it was collected."""
    key = lot["lot_id"]
    collected = period([lot["collected_from"], lot["collected_to"]]) or story.cell("lots", lot, "collected_from", key)
    plants = lot["mother_plants"]
    from_plants = (
        f"from {plants:.0f} mother plants" if plants else ("from ", story.cell("lots", lot, "mother_plants", key))
    )
    return ("It was collected ", collected, " ", from_plants, ", ", _place(story, lot), _permit(lot), ".")


def _place(story, lot):
    """The place as far as its species allows it to be printed."""
    taxon = story.row("taxa", lot["taxon_id"]) or {}
    country = lot["country"] or story.cell("lots", lot, "country", lot["lot_id"])
    sensitivity = taxon.get("place_sensitivity") or "none"
    grid = schema.word("place_sensitivity", sensitivity).get("grid_deg")
    if grid is None or grid > PRECISE:
        return (country, f" (place withheld at this precision; its sensitivity is {sensitivity})")
    if lot["place"]:
        return (f"at {lot['place']}, ", country)
    return ("at ", story.cell("lots", lot, "place", lot["lot_id"]), ", ", country)


def _permit(lot):
    shared = lot["permit"] and lot["permit_may_share"]
    return (
        f", under permit {lot['permit']}"
        if shared
        else ", under a permit whose number is withheld"
        if lot["permit"]
        else ""
    )


def _before(story, lot):
    """What was done to it before it came, as far as anybody knows."""
    if lot["prior_treatment_text"]:
        return f"Before it came: {lot['prior_treatment_text'].rstrip('.')}."
    if lot["prior_treatment"] is None:
        return ("Treatment before it came: ", story.cell("lots", lot, "prior_treatment", lot["lot_id"]), ".")
    return f"Treatment before it came: {story.value('lots', lot, 'prior_treatment')}."


def _named(story, lot):
    """Who identified it, and the voucher."""
    taxon = story.row("taxa", lot["taxon_id"])
    if taxon is None:
        return ""
    who = story.person(taxon["identified_by"]) if taxon["identified_by"] else None
    voucher = f", voucher {taxon['voucher']}" if taxon["voucher"] else ""
    return (
        "The species was identified by ",
        who or story.cell("taxa", taxon, "identified_by", taxon["taxon_id"]),
        voucher,
        ".",
    )


def ids_told(ids):
    """Ids in a row, neighbours with a running end number drawn together.

    >>> ids_told(["AV-T03-1", "AV-T03-2", "AV-T03-3", "X"]), ids_told(["AV-0"]), ids_told(["F1-07", "F1-08"])
    ('AV-T03-1 to AV-T03-3 and X', 'AV-0', 'F1-07 and F1-08')
    """
    groups = []  # [stem, first id, last id, last number]
    for key in ids:
        stem, _, number = key.rpartition("-")
        last = groups[-1] if groups else None
        if last and number.isdigit() and last[0] == stem and int(number) == last[3] + 1:
            last[2:] = key, int(number)
        else:
            groups.append([stem if number.isdigit() else None, key, key, int(number) if number.isdigit() else 0])
    return listed(map(_drawn_together, groups))


def _drawn_together(group):
    _, first, last, end = group
    if first == last:
        return first
    return f"{first} {'and' if int(first.rpartition('-')[2]) + 1 == end else 'to'} {last}"


def few_told(ids, most=6):
    """As `ids_told`, the rest counted where there are many.

    >>> few_told(["A", "B", "C"], 2)
    'A, B and 1 more'
    """
    told = ids_told(ids)
    if told.count(",") + (" and " in told) < most:
        return told
    shown, rest = list(ids)[:most], len(ids) - most
    return f"{', '.join(shown)} and {rest} more" if rest > 0 else told
