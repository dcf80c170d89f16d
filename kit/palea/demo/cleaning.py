"""Cleaning in the invented demo: portions left in the hull, runs by hand and through the brush machine."""

from palea.demo.bench import Run, turns
from palea.demo.chance import Chance
from palea.demo.days import after
from palea.demo.lots import describe, portion, under_lens
from palea.demo.setting import setting
from palea.demo.truth import species, truth

HANDS = {"hand": ("thrift", "fennel"), "brush": ("thrift", "thrift", "sorrel")}
DUST_LOST = 0.006  # of what went in: blown away, swept up with the floor
FIRST_ON_SCALE_G = 20


def clean(book, taxon):
    """All cleaning of one species: T01 set apart, T02 by hand, T03 through the brush machine."""
    numbers, batches = species(taxon), truth()["batches"]
    for number in range(1, batches + 1):
        portion(book, f"{taxon}-0", f"{taxon}-T01-{number}", setting("untouched_on"), numbers["untouched_g"],
                notes="A portion of its own, drawn and sown as one batch.")
    for number, later in setting("portions_later")[taxon].items():
        portion(book, f"{taxon}-0", f"{taxon}-T01-{number}", later["on"], later["grams"], notes=later["notes"])
    for number in range(1, batches + 1):
        _batch(book, taxon, "T02", "hand", number, batches)
    for number in range(1, numbers["brush_runs"] + 1):
        _batch(book, taxon, "T03", "brush", number, numbers["brush_runs"])


def out_of_hull(book, taxon, lot_id, run_id, days, by, grams, units):
    """Enter what went into a cleaning run and what came out: clean seed, and what came off it.

    days : the day on which it went in, and the one on which it came out dry.  units : of clean seed, by number.
    """
    went_in, came_out = days
    numbers, words = species(taxon), setting("words")[taxon]
    clean_g = units * numbers["tsw_clean_g"] / 1000
    waste_g = grams - clean_g - DUST_LOST * grams
    lot, entered = {"taxon_id": taxon, "source_kind": "made here"}, {"run_id": run_id, "moved_by": by}
    book.lot(lot_id, numbers["tsw_clean_g"], seed_unit=words["clean"], fraction="main", **lot)
    book.lot(f"{lot_id}-waste", numbers["tsw_in_hull_g"], seed_unit=words["in_hull"], fraction="waste",
             status="discarded", reason="Thrown away after weighing.", **lot)
    book.move(f"{taxon}-0", went_in, "drawn for run", grams=grams, drawn_how="halving",
              moisture_pct=numbers["hull_moisture_pct"], **entered)
    book.move(lot_id, came_out, "made", grams=clean_g, moisture_pct=numbers["moisture_pct"], **entered)
    book.move(f"{lot_id}-waste", came_out, "made", grams=waste_g, **entered,
              moisture_pct=round(numbers["hull_moisture_pct"] + 0.4, 1))
    book.move(f"{lot_id}-waste", after(came_out, 7), "discarded", grams=waste_g, moved_by="thrift")


def put_out(taxon, grams, share):
    """Clean units from so many g in the hull, when that share of the filled ones comes through whole.

    Empty units that go through with the seed are in the output, so it holds more units than filled ones.
    """
    numbers = species(taxon)
    return grams * 1000 / numbers["tsw_in_hull_g"] * numbers["filled_in_hull"] * share / numbers["filled_clean"]


def _batch(book, taxon, name, how, number, of):
    lot_id, by = f"{taxon}-{name}-{number}", HANDS[how][number % len(HANDS[how])]
    day, clock = turns(how)[taxon, name, number]
    grams, on = species(taxon)[f"{how}_g"], setting("cleaned_tests_on")
    run = Run(book, lot_id, "clean", day, clock, by, f"{how}-bench")
    units = put_out(taxon, grams, _share(book, taxon, how, number, of))
    out_of_hull(book, taxon, lot_id, run.run_id, (day, day), by, grams, units)
    run.step("weigh", amount=grams, unit="g", basis="in all",
             equipment_id="scale-1" if grams > FIRST_ON_SCALE_G else "balance-1")
    (_by_hand if how == "hand" else _brushed)(run, taxon, grams)
    under_lens(book, taxon, lot_id, on, setting("damage")[how], run.chance)
    if how == "brush":
        describe(book, taxon, lot_id, name, on, moist=species(taxon)["moisture_pct"], replicates=2)
    else:
        describe(book, taxon, lot_id, name, on, moist=None, replicates=1)


def _share(book, taxon, how, number, of):
    """Share of the filled units that a run brings through: it differs from run to run, and the mean is the truth's."""
    sd = truth()["scatter"]["recovery_sd"]
    drawn = [Chance(book.seed, "recovery", taxon, how, n).normal(0, sd) for n in range(1, of + 1)]
    return species(taxon)[f"{how}_recovery"] + drawn[number - 1] - sum(drawn) / of


def _by_hand(run, taxon, grams):
    busy = grams * truth()["minutes"]["hand_per_g"] * run.chance.normal(1, 0.06)
    run.step("rub", minutes=busy, duration_s=round(60 * busy), equipment_id="board-1", hands_on_min=round(busy),
             end_point=_until("hand", taxon))
    run.step("screen", minutes=2, equipment_id="sieves-1", passes=1, end_point=_until("screen", taxon))
    run.finish(hands_on_min=round(busy + 4), machine_min=0, risk_assessment="RA-02, dust at the bench")


def _brushed(run, taxon, grams):
    minutes = truth()["minutes"]
    turning = grams * minutes["brush_per_g"] * run.chance.normal(1, 0.06)
    run.step("load", minutes=minutes["brush_setup"] / 2, amount=grams, unit="g", basis="in all", equipment_id="brush-1")
    run.step("brush", minutes=turning, duration_s=round(60 * turning), equipment_id="brush-1", passes=1,
             speed_rpm=round(run.chance.normal(210, 3)), end_point=_until("brush", taxon))
    run.step("blow", minutes=6, equipment_id="aspirator-1", passes=2, air_flow_l_min=round(run.chance.normal(240, 8)),
             end_point="until no loose hull is seen in a spoonful")
    run.step("screen", minutes=4, equipment_id="sieves-1", passes=1, end_point=_until("screen", taxon))
    run.step("clean machine", minutes=minutes["brush_setup"] / 2, equipment_id="brush-1",
             observed="brushes and drum wiped, two seeds found" if run.chance.happens(0.3) else None)
    run.finish(hands_on_min=round(minutes["brush_setup"] + 0.25 * turning + 8), machine_min=round(turning + 6),
               risk_assessment="RA-03, brush machine and dust")


def _until(step, taxon):
    return setting("end_points")[step][taxon].format(**setting("words")[taxon])
