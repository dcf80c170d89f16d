"""Where the seed came from, in sentences, and what tests of it found."""

from palea import schema
from palea.documents.page import Paragraph, Part, Strong
from palea.record import tested
from palea.record.spread import period
from palea.record.story import anchor
from palea.words.numbers import short
from palea.words.prose import inside, listed

PRECISE = 0.001  # degree; a place on a coarser grid is not printed by name


def part(story):
    """The Part on seed lots as they were received: a paragraph each, then their tests."""
    lots = received(story)
    grid = tested.table(story, {lot["lot_id"] for lot in lots}, "Tests of the lots as received", "tests-received")
    told = [paragraph(story, lot) for lot in lots]
    return Part("Seed lots", (*told, grid) if grid else tuple(told), "seed-lots")


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
    sentences = [_what(story, lot), _whence(story, lot), _before(story, lot), _named(story, lot)]
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


def _whence(story, lot):
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
    """Lot ids in a row, neighbours with a running end number drawn together.

    >>> ids_told(["AV-T03-1", "AV-T03-2", "AV-T03-3", "X"]), ids_told(["AV-0"])
    ('AV-T03-1 to AV-T03-3 and X', 'AV-0')
    """
    groups = []
    for key in ids:
        stem, _, number = key.rpartition("-")
        last = groups[-1] if groups else None
        if last and number.isdigit() and last[0] == stem and int(number) == last[2] + 1:
            groups[-1] = (stem, last[1], int(number))
        else:
            groups.append((stem, key, int(number)) if number.isdigit() else (None, key, 0))
    return listed(
        first
        if first == f"{stem}-{end}" or stem is None
        else f"{first} {'and' if int(first.rpartition('-')[2]) + 1 == end else 'to'} {stem}-{end}"
        for stem, first, end in groups
    )
