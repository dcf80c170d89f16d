"""Received lots of the invented demo: where they come from, what is drawn from them, what their tests read."""

from palea.demo.book import items, weighed
from palea.demo.chance import Chance
from palea.demo.setting import setting
from palea.demo.truth import arm, brushed, species, truth

SPOON = {"drawn_how": "spoon", "primary_samples": 5, "moved_by": "fennel"}
STAIN = "tetrazolium 1 %, 24 h at 30 °C in the dark, filled seed only; seed coats nicked, read at ten times"
CUT = "cut lengthwise, read at ten times"
WEIGHINGS = "counted groups of 100, in order of drawing"
TINS = "two tins, 103 °C for 17 h, ground seed"
KEPT = 1 / 30  # of a received lot, as it came
UNACCOUNTED = 0.0006  # of a purity sample, lost on the tray
HURT = {True: 0.004, False: 0.002}  # share of units with eaten or cracked seed, after the brush and without it


def receive(book, taxon):
    """The species, its lot as it came, a sample to keep, and the tests that say what it is."""
    lot_id, numbers, row = f"{taxon}-0", species(taxon), dict(setting("lots")[taxon])
    received_on, tested_on = row.pop("received_on"), row.pop("tested_on")
    book.add("taxa", taxon_id=taxon, **setting("taxa")[taxon])
    book.lot(lot_id, numbers["tsw_in_hull_g"], taxon_id=taxon, seed_unit=setting("words")[taxon]["in_hull"],
             prior_treatment="none known", price=numbers["price_eur_per_kg"], currency="EUR",
             price_basis="per kg of product", priced_on=received_on[:7], **row)
    book.move(lot_id, received_on, "received", grams=numbers["received_g"], moisture_pct=numbers["hull_moisture_pct"],
              counterpart_person="hollowdale", moved_by="fennel", notes="Collected by our own staff.")
    portion(book, lot_id, f"{lot_id}-keep", received_on, numbers["received_g"] * KEPT, fraction="keep-sample",
            keep_of=lot_id, notes="Kept as it came, in a sealed jar.")
    _purity(book, taxon, lot_id, tested_on)
    describe(book, taxon, lot_id, "T01", tested_on, moist=numbers["hull_moisture_pct"])


def portion(book, lot_id, into, moved_at, grams, **row):
    """Move seed of a received lot, as it came, into a lot of its own."""
    taxon = lot_id.split("-")[0]
    book.lot(into, book.unit_mg(lot_id), taxon_id=taxon, source_kind="made here",
             seed_unit=setting("words")[taxon]["in_hull"], **row)
    book.move(lot_id, moved_at, "moved to lot", grams=grams, counterpart_lot_id=into, drawn_how="halving",
              moved_by="fennel")


def one_batch(taxon, name):
    """The lot of an arm that every trial of one batch an arm is sown from."""
    return f"{taxon}-{name}-{truth()['one_batch'][taxon][name]}"


def describe(book, taxon, lot_id, name, on, *, moist, replicates=4):
    """Tests of a lot: masses of 100, moisture (where its true water content is given), fill and viability."""
    chance, before = Chance(book.seed, "tests", lot_id), book.holds(lot_id)
    masses(book, lot_id, on, chance)
    if moist:
        _moisture(book, lot_id, on, chance, moist, before)
    cut = 100 if replicates > 1 else 50
    _counts(book, lot_id, "fill", on, CUT, _filled(taxon, name, chance, cut, replicates))
    _counts(book, lot_id, "viability", on, STAIN, _alive(taxon, chance, 50, replicates))


def masses(book, lot_id, on, chance, replicates=8, of=100, by="fennel"):
    """Draw groups of units and weigh them; they do not go back."""
    drawn = book.move(lot_id, on, "drawn for test", units=replicates * of, name="mass", **SPOON)
    mean, cv = book.unit_mg(lot_id) * of / 1000, truth()["scatter"]["unit_mass_cv"]
    read = [{"mass": weighed(chance.normal(mean, cv * mean))} for _ in range(replicates)]
    book.test(lot_id, "mass of units", on, by, method=WEIGHINGS, movement_id=drawn, equipment_id="balance-1",
              replicates=read, out_of=of)


def under_lens(book, taxon, lot_id, on, damage, chance):
    """Three times a hundred units looked over, and put back. damage : {kind: share}; the rest is whole or empty."""
    odds = damage | {"empty": 1 - species(taxon)["filled_clean"]}
    seen = [[_kind(chance, odds) for _ in range(100)] for _ in range(3)]
    book.test(lot_id, "breakage", on, "fennel", method="sorted under a lens on a light table", out_of=100,
              replicates=[{item: hundred.count(item) for item in items("breakage")} for hundred in seen])


def _purity(book, taxon, lot_id, on):
    chance, sample = Chance(book.seed, "purity", lot_id), species(taxon)["purity_sample_g"]
    drawn = book.move(lot_id, on, "drawn for test", grams=sample, **SPOON)
    pure, other = (sample * chance.normal(p, 0.004 * p) for p in (species(taxon)["pure_share"], 0.006))
    read = {"sample": weighed(sample), "pure seed": weighed(pure), "other seed": weighed(other),
            "inert": weighed(sample - pure - other - UNACCOUNTED * sample)}
    book.test(lot_id, "purity", on, "fennel", movement_id=drawn, equipment_id="balance-1", replicates=[read],
              method="working sample of about 2500 units, sorted by hand")


def _moisture(book, lot_id, on, chance, moist, held):
    sample = min(4.0, held / 30)
    drawn = book.move(lot_id, on, "drawn for test", grams=2 * sample, **SPOON)
    read = []
    for _ in range(2):
        tin, seed = weighed(chance.normal(11.2, 0.15)), weighed(sample * chance.normal(1, 0.01))
        dry = weighed(tin + seed * (1 - chance.normal(moist, 0.12) / 100))
        read.append({"tin": tin, "tin with moist seed": weighed(tin + seed), "tin with dry seed": dry})
    book.test(lot_id, "moisture", on, "fennel", movement_id=drawn, method=TINS, equipment_id="oven-1",
              temperature_c=103, replicates=read)


def _counts(book, lot_id, quantity, on, method, seen):
    """A test in which each unit is of one kind. seen : the kinds, one list a replicate."""
    of = len(seen[0])
    drawn = book.move(lot_id, on, "drawn for test", units=of * len(seen), **SPOON)
    book.test(lot_id, quantity, on, "thrift", method=method, movement_id=drawn, out_of=of,
              replicates=[{item: units.count(item) for item in items(quantity)} for units in seen])


def _filled(taxon, name, chance, of, replicates):
    share, hurt = arm(taxon, name).filled, HURT[brushed(name)]
    return [[_one(chance, share, hurt) for _ in range(of)] for _ in range(replicates)]


def _one(chance, share, hurt):
    if chance.happens(hurt):
        return "damaged"
    return "filled" if chance.happens(share) else "empty"


def _alive(taxon, chance, of, replicates):
    share = species(taxon)["viable_of_filled"]
    return [["viable" if chance.happens(share) else "dead" for _ in range(of)] for _ in range(replicates)]


def _kind(chance, odds):
    draw = chance.share()
    for kind, share in odds.items():
        if draw < share:
            return kind
        draw -= share
    return "whole"
