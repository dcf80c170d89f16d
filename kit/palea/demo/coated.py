"""What coated lots of the invented demo were found to be: unit masses, what is inside, dust, falling apart, assays."""

from math import exp

from palea.demo.book import items, weighed
from palea.demo.chance import Chance
from palea.demo.lots import masses, under_lens
from palea.demo.setting import setting
from palea.demo.truth import truth

SPOON = {"drawn_how": "spoon", "primary_samples": 3, "moved_by": "thrift"}
BY_SIGHT, OPENED = "sorted by sight", "coat softened in water, units opened under a lens"
HOLDING = (0.03, 0.005)  # no seed, two seeds: empty units go through the brush with the seed, and a few seeds pair up
BROKEN = 0.004
DUST_G = 0.5


def looked_over(book, taxon, lot_id, how, dose, chance):
    """All that was looked at in one coated lot. how : its recipe.  dose : mg/kg put on, if assayed."""
    on = setting("coated_tests_on")
    if how["seed_unit"]:
        masses(book, lot_id, on, chance, replicates=3, by="sorrel")
        opened(book, lot_id, on, chance, how["seed_unit"], HOLDING)
    else:
        under_lens(book, taxon, lot_id, on, setting("damage")["brush"], chance)
    if how["falls_apart_s"]:
        falls_apart(book, lot_id, on, chance, how["falls_apart_s"])
        dust(book, lot_id, on, chance)
        one_by_one(book, lot_id, on)
    if dose:
        _assay(book, lot_id, chance, dose)


def opened(book, lot_id, on, chance, form, holding):
    """Class of coat of 100 units by sight, and what is inside of 300. holding : shares with no seed and with two."""
    word = setting("coat_word")[form]
    seen = [word if chance.happens(0.98) else "bare" for _ in range(100)]
    book.test(lot_id, "coat class", on, "thrift", method=BY_SIGHT, out_of=100, replicates=[_sorted("coat class", seen)])
    drawn = book.move(lot_id, on, "drawn for test", units=300, **SPOON)
    inside = [[_inside(chance, *holding) for _ in range(100)] for _ in range(3)]
    book.test(lot_id, "singles and multiples", on, "thrift", method=OPENED, movement_id=drawn, out_of=100,
              replicates=[_sorted("singles and multiples", hundred) for hundred in inside])


def _sorted(quantity, seen):
    return {item: seen.count(item) for item in items(quantity)}


def _inside(chance, none, two):
    draw = chance.share()
    if draw < none:
        return "no seed"
    if draw < none + two:
        return "two seeds"
    return "broken" if draw > 1 - BROKEN else "one seed"


def falls_apart(book, lot_id, on, chance, seconds):
    """Time to fall apart in water, ten units one by one."""
    drawn = book.move(lot_id, on, "drawn for test", units=10, **SPOON)
    read = [{"time": round(abs(chance.normal(seconds, 0.18 * seconds)))} for _ in range(10)]
    book.test(lot_id, "disintegration time", on, "thrift", method="one unit on wet paper, until the seed lies free",
              movement_id=drawn, temperature_c=20, replicates=read)


def dust(book, lot_id, on, chance):
    """Dust of half a gram, shaken through a screen; the units go back into the bag."""
    read = {"dust": round(1000 * DUST_G * abs(chance.normal(0.004, 0.001)), 2), "sample": DUST_G}
    book.test(lot_id, "dust", on, "thrift", method="shaken for two minutes on a 0.1 mm screen",
              equipment_id="balance-1", replicates=[read])


def one_by_one(book, lot_id, on):
    """Units weighed one by one, for the evenness of the coat; they go back."""
    chance, mean, spread = Chance(book.seed, "unit mass", lot_id), book.unit_mg(lot_id), truth()["scatter"]["one_unit_sd"]
    read = [{"one unit": round(1000 * weighed(mean / 1000 * exp(chance.normal(0, spread))), 2)} for _ in range(30)]  # mg
    book.test(lot_id, "unit mass", on, "sorrel", method="single units as they came from the spoon",
              equipment_id="balance-1", replicates=read)


def _assay(book, lot_id, chance, dose):
    """What an outside laboratory found of the active that was put on."""
    on, mean = setting("assayed_on"), dose * truth()["active_that_stays"]
    drawn = book.move(lot_id, on, "drawn for test", grams=0.4, drawn_how="divider", primary_samples=1,
                      moved_by="sorrel")
    read = [{"active": round(chance.normal(mean, truth()["scatter"]["assay_cv"] * mean))} for _ in range(2)]
    book.test(lot_id, "assayed active", on, "sorrel", material_id="ga3", movement_id=drawn,
              method=setting("assay_method"), replicates=read)
