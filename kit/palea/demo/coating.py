"""Coats and the sham of coating in the invented demo: recipes, cycles of liquid and powder, and what came out."""

from dataclasses import dataclass

from palea.demo.bench import Run, jobs
from palea.demo.coated import looked_over
from palea.demo.days import after
from palea.demo.setting import setting
from palea.demo.truth import species, truth

COAT_WATER = 0.012  # of the coat's mass, as it dries in room air
STILL_WET = 0.6  # of the liquid: what has not dried off when the bowl is emptied
ALONE = "RA-05, coater and fine powder"


@dataclass(frozen=True)
class Charge:
    """Seed in the bowl: g put in, g of dry matter in it, and the coat that it gets, as a share of dry seed."""

    seed_g: float
    dry_g: float
    build_up: float

    @property
    def coat_g(self):
        """Mass of coat that stays on the seed, dry."""
        return self.build_up * self.dry_g

    def solids_g(self, how):
        """Mass of coat that is added, dry: what does not stay on the seed comes on top of what does."""
        return self.coat_g / how["stays"]

    def liquid_g(self, how):
        """Mass of liquid that is added; where nothing is put on, water alone."""
        if not self.build_up:
            return self.seed_g * how["water_share"]
        return self.solids_g(how) * how["binder_share"] / how["binder_solids"]

    def moist_g(self, how):
        """Mass of seed and coat once they are dried in room air."""
        dried = how["moisture_after"]
        return self.dry_g / (1 - dried) + self.coat_g * (1 + COAT_WATER)


def coat(book, taxon, name):
    """All batches of one arm that goes through the coater, each of the seed of one brush run."""
    for job in jobs("coat", taxon, name):
        _batch(book, job)


def meant_pct(taxon, name):
    """Build-up meant for an arm, in per cent; None where nothing is put on."""
    return setting("treatments")[name].get("intended_build_up_pct", setting("build_up_pct")[taxon].get(name))


def _batch(book, job):
    name, by = job.arm, "thrift" if job.number % 2 else "sorrel"
    how = setting("recipes")[setting("recipe_of")[name]]
    run = Run(book, job.lot_id, "coat", job.day, job.clock, by, coat_protocol(job.taxon, name))
    charge = _charge(job, run.chance)
    book.move(job.source_id, job.day, "drawn for run", grams=charge.seed_g, drawn_how="divider", moved_by=by,
              moisture_pct=species(job.taxon)["moisture_pct"], run_id=run.run_id)
    _steps(run, how, charge, setting("actives_in").get(name))
    _out(book, job, how, charge, {"run_id": run.run_id, "moved_by": by})
    busy = how["cycles"] * (how["wet_min"] + how["powder_min"]) + 14
    run.finish(hands_on_min=round(run.chance.normal(busy, 2)), machine_min=busy - 8,
               risk_assessment=setting("risk_of").get(name, ALONE))
    looked_over(book, job.taxon, job.lot_id, how, setting("assayed").get(name), run.chance)


def coat_protocol(taxon, name):
    """The written procedure of a coat: its recipe, how heavy where that differs by species, and what it carries."""
    heavy = setting("build_up_pct")[taxon].get(name)
    parts = [setting("recipe_of")[name].replace(" ", "-"), heavy, setting("carries").get(name)]
    return "-".join(str(part) for part in parts if part)


def _charge(job, chance):
    numbers, meant = species(job.taxon), (meant_pct(job.taxon, job.arm) or 0) / 100
    dry_g = job.grams * (1 - numbers["moisture_pct"] / 100)
    return Charge(job.grams, dry_g, meant * chance.normal(1, truth()["scatter"]["build_up_cv"]))


def _steps(run, how, charge, active):
    """Load, cycles, and the end."""
    in_bowl = {"equipment_id": "coater-1", "speed_rpm": round(run.chance.normal(how["speed_rpm"], 4))}
    run.step("load", minutes=2, amount=charge.seed_g, unit="g", basis="in all", equipment_id="coater-1")
    for cycle in range(1, how["cycles"] + 1):
        _cycle(run, how, cycle, charge, in_bowl)
        if active and cycle == 2:
            _carry(run, active, charge.seed_g, in_bowl)
    run.step("tumble", minutes=2, duration_s=90, end_point="until no unit sticks to the wall", **in_bowl)
    wet_g = charge.moist_g(how) * (1 - how["lost"]) + STILL_WET * charge.liquid_g(how)
    run.step("unload", minutes=2, amount=_read(wet_g), unit="g", basis="in all", equipment_id="coater-1",
             observed=run.chance.pick(how["seen"]))
    run.step("dry", minutes=how["dry_min"], equipment_id="dryer-1", temperature_c=30, duration_s=60 * how["dry_min"],
             end_point="until it runs freely")
    if how["powder"]:
        run.step("screen", minutes=3, equipment_id="sieves-1", passes=1, end_point=how["screen"])


def _cycle(run, how, cycle, charge, in_bowl):
    """One turn of liquid and, where the recipe has one, powder; no two turns get quite the same."""
    wet_ml = charge.liquid_g(how) / how["cycles"] / how["binder_density"] * run.chance.normal(1, 0.04)
    run.step("wet", minutes=how["wet_min"], cycle=cycle, material_id=how["liquid"], amount=_read(wet_ml), unit="mL",
             basis="in all", duration_s=40 * how["wet_min"], **in_bowl)
    if how["powder"]:
        powder_g = charge.solids_g(how) * (1 - how["binder_share"]) / how["cycles"] * run.chance.normal(1, 0.04)
        run.step("powder", minutes=how["powder_min"], cycle=cycle, material_id=how["powder"], amount=_read(powder_g),
                 unit="g", basis="in all", **in_bowl)


def _carry(run, active, seed_g, in_bowl):
    """The active, in the liquid or powder that carries it, for the seed that is in the bowl."""
    carried = {k: v for k, v in active.items() if k not in ("action", "per_g_seed")}
    run.step(active["action"], minutes=2, cycle=2, amount=_read(seed_g * active["per_g_seed"]), basis="in all",
             duration_s=60, **carried, **in_bowl)


def _read(amount):
    """An amount as it is read from pipette or balance."""
    return round(amount, 4 if amount < 1 else 2)


def _out(book, job, how, charge, entered):
    """What came out: the product, and for the heavy coats what was screened off and thrown away."""
    taxon, lot_id, day, moist_g = job.taxon, job.lot_id, job.day, charge.moist_g(how)
    unit_mg = species(taxon)["tsw_clean_g"] * moist_g / charge.seed_g
    kept_g = moist_g * (1 - how["lost"])
    moisture_pct = round(100 * (1 - (charge.dry_g + charge.coat_g) / moist_g), 1)
    lot = {"taxon_id": taxon, "source_kind": "made here",
           "seed_unit": how["seed_unit"] or setting("words")[taxon]["clean"]}
    book.lot(lot_id, unit_mg, fraction="main", **lot)
    book.move(lot_id, day, "made", grams=kept_g * (1 - sum(how["screened_off"].values())), moisture_pct=moisture_pct,
              **entered)
    for fraction, share in how["screened_off"].items():
        book.lot(f"{lot_id}-{fraction}", unit_mg, fraction=fraction, status="discarded",
                 reason="Weighed, looked through and thrown away as treated waste.", **lot)
        part, grams = f"{lot_id}-{fraction}", kept_g * share
        book.move(part, day, "made", grams=grams, moisture_pct=moisture_pct, **entered)
        book.move(part, after(day, 1), "discarded", grams=grams, moved_by=entered["moved_by"])
