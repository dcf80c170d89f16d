"""Soaks of the invented demo: six hours in a liquid, drained, dried back, and how much was taken up."""

from palea.demo.bench import Run, jobs
from palea.demo.days import at
from palea.demo.lots import under_lens
from palea.demo.setting import setting
from palea.demo.truth import species, truth

SOAK_MIN, HANDS_ON_MIN = 360, 40
LOST = 0.003  # seeds that stay on screen and paper
ROLLED = "mass after rolling on paper less mass before, as volume of solution, per g of seed"


def soak(book, taxon, name):
    """All batches of one arm that lies in a liquid, each of the seed of one brush run."""
    for job in jobs("soak", taxon, name):
        _batch(book, job)


def _batch(book, job):
    taxon, lot_id, how = job.taxon, job.lot_id, setting("soaks")[job.arm]
    day, clock, numbers, grams = job.day, job.clock, species(taxon), job.grams
    run = Run(book, lot_id, "soak", day, clock, "sorrel", how["protocol"])
    scatter = truth()["scatter"]
    uptake = run.chance.normal(truth()["uptake_ml_g"], scatter["uptake_sd"])
    hours, moist = run.chance.normal(18, 0.5), round(run.chance.normal(9.0, 0.15), 1)
    entered = {"run_id": run.run_id, "moved_by": "sorrel"}
    book.move(job.source_id, day, "drawn for run", grams=grams, drawn_how="divider",
              moisture_pct=numbers["moisture_pct"], **entered)
    _steps(run, how, grams, uptake, hours)
    book.lot(lot_id, numbers["tsw_clean_g"], taxon_id=taxon, seed_unit=setting("words")[taxon]["clean"],
             fraction="main", source_kind="made here")
    out = grams * (1 - numbers["moisture_pct"] / 100) / (1 - moist / 100) * (1 - LOST)
    book.move(lot_id, at(day, clock, SOAK_MIN + 60 * hours)[:10], "made", grams=out, moisture_pct=moist, **entered)
    run.finish(hands_on_min=HANDS_ON_MIN, machine_min=round(60 * hours), risk_assessment=how["risk"])
    book.test(lot_id, "solution uptake", day, "sorrel", material_id=how["liquid"]["material_id"],
              equipment_id="balance-1", method=ROLLED, replicates=[{"uptake": round(uptake, 3)}])
    under_lens(book, taxon, lot_id, setting("coated_tests_on"), setting("damage")["brush"], run.chance)


def _steps(run, how, grams, uptake, hours):
    floating = round(abs(run.chance.normal(6, 2)))
    weighed = {"equipment_id": "balance-1", "unit": "g", "basis": "in all"}
    run.step("weigh", minutes=5, amount=grams, **weighed)
    run.step("soak", minutes=SOAK_MIN, amount=20, unit="mL", basis="in all", temperature_c=20, equipment_id="beaker-1",
             duration_s=60 * SOAK_MIN, observed=f"{floating} seeds floated and were pushed under", **how["liquid"])
    run.step("drain", minutes=5, equipment_id="sieves-1")
    run.step("surface dry", minutes=10, end_point="rolled on paper until no wet mark is left")
    run.step("weigh", minutes=5, amount=round(grams * (1 + uptake), 3), **weighed)
    run.step("dry", minutes=60 * hours, equipment_id="dryer-1", temperature_c=30, duration_s=60 * round(60 * hours),
             end_point="to 9 % water by mass")
