"""The contractor's pellet of the invented demo: what was sent, what came back, what can be known without the recipe."""

from palea.demo.book import weighed
from palea.demo.chance import Chance
from palea.demo.coated import dust, falls_apart, one_by_one, opened
from palea.demo.lots import masses
from palea.demo.setting import setting
from palea.demo.truth import species, truth


def contracted(book, taxon, name):
    """The one batch of an arm that a contractor made, of seed pooled from all brush runs."""
    told, lot_id = setting("contractor"), f"{taxon}-{name}-1"
    sent, keep = _pooled(book, taxon, name, told)
    seed_g, run_id = book.holds(sent), f"R-{lot_id}"
    there = {"run_id": run_id, "counterpart_person": told["run"]["contractor"], "moved_by": "sorrel"}
    book.move(sent, told["sent_on"], "drawn for run", grams=seed_g, drawn_how="whole lot",
              moisture_pct=species(taxon)["moisture_pct"], **there)
    seed_mg = species(taxon)["tsw_clean_g"]
    unit_mg = seed_mg * (1 + told["build_up_pct"] / 100)
    pellets = seed_g * 1000 / seed_mg * told["pellets_a_seed_sent"]
    book.lot(lot_id, unit_mg, taxon_id=taxon, seed_unit="pellet", fraction="main", source_kind="made by contractor")
    book.move(lot_id, told["back_on"], "made", grams=pellets * unit_mg / 1000, moisture_pct=told["moisture_pct"],
              **there)
    book.add("run_steps", run_id=run_id, step=1, **told["step"])
    book.add("runs", run_id=run_id, kind="coat", batch_label=lot_id, keep_lot_id=keep, **told["run"])
    _found_out(book, lot_id, told, Chance(book.seed, "contractor", lot_id))


def _pooled(book, taxon, name, told):
    """The pool that was sent, and the part of it that was sealed and kept."""
    sent, keep = f"{taxon}-{name}-sent", f"{taxon}-{name}-keep"
    lot = {"taxon_id": taxon, "source_kind": "made here", "seed_unit": setting("words")[taxon]["clean"]}
    shared = {"drawn_how": "divider", "moved_by": "sorrel"}
    unit_mg = species(taxon)["tsw_clean_g"]
    book.lot(sent, unit_mg, status="used up", notes="Pool of four brush runs, all sent.", **lot)
    book.lot(keep, unit_mg, fraction="keep-sample", keep_of=sent, notes="Sealed before the rest was sent.", **lot)
    for number in range(1, truth()["batches"] + 1):
        book.move(f"{taxon}-T03-{number}", told["pooled_on"], "moved to lot", grams=told["from_each_g"],
                  counterpart_lot_id=sent, **shared)
    book.move(sent, told["pooled_on"], "moved to lot", grams=told["keep_g"], counterpart_lot_id=keep, **shared)
    return sent, keep


def _found_out(book, lot_id, told, chance):
    on = told["tested_on"]
    masses(book, lot_id, on, chance, by="sorrel")
    opened(book, lot_id, on, chance, "pellet", told["no_seed_and_two"])
    falls_apart(book, lot_id, on, chance, told["falls_apart_s"])
    dust(book, lot_id, on, chance)
    one_by_one(book, lot_id, on)
    drawn = book.move(lot_id, on, "drawn for test", units=300, drawn_how="spoon", primary_samples=3, moved_by="sorrel")
    bare, hundred_g = 1 / (1 + told["build_up_pct"] / 100), book.unit_mg(lot_id) / 10
    samples = [hundred_g * chance.normal(1, 0.01) for _ in range(2)]
    washed = [{"sample": weighed(g), "without coat": weighed(g * bare * chance.normal(1, 0.02))} for g in samples]
    book.test(lot_id, "coat share", on, "sorrel", method="washed on a 0.2 mm screen, dried overnight at 30 °C",
              movement_id=drawn, equipment_id="balance-1", replicates=washed, out_of=100)
    book.test(lot_id, "wash water", on, "sorrel", method="100 units shaken in 20 mL of water for ten minutes",
              movement_id=drawn, equipment_id="ph-1", replicates=[told["wash_water"]], out_of=100)
