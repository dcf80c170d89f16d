"""Acid and flame in the invented demo: a bench run each of two species, described with its precautions, never sown.

What was done here is a record of an invented workshop, not a setting to follow.
"""

from palea.demo.bench import Run
from palea.demo.cleaning import out_of_hull, put_out
from palea.demo.days import after
from palea.demo.lots import describe, under_lens
from palea.demo.setting import setting


def tried(book, taxon):
    """The bench runs of one species, where it has any."""
    for how, plan in setting("harsh").items():
        if taxon in plan["recovery"]:
            _run(book, taxon, how, plan)


def _run(book, taxon, how, plan):
    lot_id, (day, clock) = f"{taxon}-{how}-1", plan["turn"][taxon]
    run = Run(book, lot_id, "clean", day, clock, "sorrel", f"{how}-bench")
    out_of_hull(book, taxon, lot_id, run.run_id, (day, after(day, plan["dry_after_days"])), "sorrel", plan["grams"],
                put_out(taxon, plan["grams"], plan["recovery"][taxon]))
    for step in plan["steps"]:
        run.step(**step)
    run.finish(**plan["run"])
    on = setting("cleaned_tests_on")
    under_lens(book, taxon, lot_id, on, plan["damage"], run.chance)
    describe(book, taxon, lot_id, "T02", on, moist=None, replicates=1)
