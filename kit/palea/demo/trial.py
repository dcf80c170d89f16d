"""The germination trials of the invented demo as they are entered: plan, dishes in their places, visits and counts."""

from collections import Counter
from functools import cache

from palea import schema
from palea.calc.solutions.potential import peg_for
from palea.calc.terms import Kind
from palea.demo.chance import Chance
from palea.demo.days import after, in_a_row
from palea.demo.germination import dishes, seed_of
from palea.demo.setting import laid_down, setting, worded
from palea.demo.truth import arm, arms_of, truth

DISH = {"kind": "dish", "status": "in use"}


def arms(book, taxon):
    """Treatments of one species, with what they are meant to carry."""
    words = setting("words")[taxon]
    for name in arms_of(taxon):
        row = worded(setting("treatments")[name], taxon)
        meant = setting("build_up_pct")[taxon].get(name)
        heavy = {"intended_build_up_pct": meant} if meant else {}
        book.add("treatments", treatment_id=f"{taxon}-{name}", **row, **heavy)
        if name in setting("actives"):
            book.add("treatment_actives", treatment_id=f"{taxon}-{name}", **setting("actives")[name],
                     of_seed_unit=words["clean"])


def held(book, trial, taxa):
    """One germination trial of these species: planned, sown, counted; nothing where it has none of them."""
    mine = [taxon for taxon in taxa if taxon in truth()["germination"][trial]["arms"]]
    if mine:
        seed = seed_of(trial, book.seed)
        plan(book, trial, mine, seed)
        _sow(book, trial, mine, seed)
        _count(book, trial, mine, seed)


def plan(book, trial, taxa, seed):
    """A trial, what it asks and judges, and the conditions it is held under."""
    down = laid_down(trial)
    days = truth()["germination"].get(trial, {"days": ()})["days"]  # a trial of handling has no days of visits
    book.add("trials", random_seed=seed, visit_days=in_a_row(days) or None, **down["trial"])
    for outcome in down["outcomes"]:
        book.add("trial_outcomes", trial_id=trial, **outcome)
    for factor in down["factors"]:
        book.add("trial_factors", trial_id=trial, factor=factor, applied_to=schema.word("asks_about", factor)["rung"])
    for name, there in down.get("environments", {}).items():
        row = {column: value for column, value in there.items() if column != "filling"}
        book.add("environments", environment_id=f"{trial}-{name}", trial_id=trial, **row, **_osmoticum(row))
    for taxon in taxa:
        for row in contrasts(trial, taxon):
            book.add("contrasts", **row)


def _osmoticum(there):
    """What to weigh for a water potential, at the temperature of the warm hours; nothing for water."""
    if "osmoticum" not in there:
        return {}
    return {"osmoticum_g_per_kg": round(float(peg_for(there["water_potential_mpa"], there["day_c"])), 1)}


def contrasts(trial, taxon):
    """The declared contrasts of one species in a trial, as rows."""
    named = laid_down(trial)["contrasts_named"]
    return [
        {"contrast_id": f"{named}-{taxon}-{number:02d}", "trial_id": trial, **_contrast(trial, taxon, asked)}
        for number, asked in enumerate(laid_down(trial)["contrasts"][taxon], 1)
    ]


def _contrast(trial, taxon, asked):
    """One declared contrast; a margin only where the question has one."""
    down, row = laid_down(trial), dict(asked)
    margin = {} if asked["kind"] == Kind.SUPERIORITY else down["margin"]
    usual = {"outcome": "normal seedlings", "wanted": "higher", "primary": False, "declared_at": down["declared_at"]}
    sides = {side: f"{taxon}-{row.pop(side)}" for side in ("a", "b")}
    there = {"environment_id": f"{trial}-{row.pop('environment')}"} if "environment" in row else {}
    return usual | row | there | sides | margin


def _sow(book, trial, taxa, seed):
    """Count the seed out of its lots into dishes, and give each dish its place and its code."""
    sown = Counter()
    for taxon in taxa:
        for dish in dishes(trial, taxon, seed):
            unit = _unit(trial, dish, seed)
            book.add("units", **unit)
            sown[unit["lot_id"], unit["placed_at"]] += unit["sown_n"]
            if "storage" in laid_down(trial)["factors"]:
                book.add("unit_levels", unit_id=unit["unit_id"], factor="storage", level=_stored(trial, dish.place))
    for (lot_id, on), units in sown.items():
        book.move(lot_id, on, "sown", units=units, trial_id=trial, drawn_how="counted out", moved_by="sorrel")


def _stored(trial, place):
    """Where seed lay before it was sown, and how long, as the level of that factor."""
    months = truth()["germination"][trial]["environments"][place.environment]["months"]
    return f"{setting('stores')[place.store]['place']}, {months} months" if place.store else "not stored"


def _unit(trial, dish, seed):
    """One dish as it is entered."""
    row, column, code = _spots(trial, seed)[unit_id(trial, dish)]
    inside, place = arm(dish.taxon, dish.arm), dish.place
    filling = _filling(trial, place)
    block = {"block": filling["block"]} if "block" in filling else {}
    return {
        "unit_id": unit_id(trial, dish), "trial_id": trial, "treatment_id": f"{dish.taxon}-{dish.arm}",
        "lot_id": lot_of(dish.taxon, place), "environment_id": f"{trial}-{place.environment}",
        "grid_row": row, "grid_column": column, "code": code, "sown_n": truth()["germination"][trial]["seeds"],
        "seeds_each": round(1 + inside.doubles - inside.empties, 2), "first_wetted_at": filling["sown_on"],
        "placed_at": filling["sown_on"], **block, **DISH,
    }


def lot_of(taxon, place):
    """The lot that a dish is sown from: the batch, or the portion of it that lay in a store."""
    return "-".join(filter(None, (taxon, place.arm, str(place.batch), place.store)))


def _filling(trial, place):
    down = laid_down(trial)
    return down["fillings"][down["environments"][place.environment]["filling"]]


def unit_id(trial, dish):
    """The name of a dish in the package."""
    place = dish.place
    if "batches" in truth()["germination"][trial]:
        return f"{trial}-{dish.taxon}-{place.arm}-{place.batch}-{place.number}"
    return "-".join(filter(None, (trial, dish.taxon, place.arm, place.environment, place.store, str(place.number))))


@cache
def _spots(trial, seed):
    """{dish: (row, column, code)} over all species, whether they are written or not, so that none shifts another."""
    found = [dish for taxon in truth()["species"] for dish in dishes(trial, taxon, seed)]
    codes = Chance(seed, trial, "codes").shuffled(range(100, 1000))
    coded = {unit_id(trial, dish): f"D{code}" for dish, code in zip(found, codes, strict=False)}
    return {u: (*spot, coded[u]) for units in _shelved(trial, found, seed) for u, spot in units}


def _shelved(trial, found, seed):
    """Dishes with their places, one chamber and filling after the other."""
    shelf = truth()["germination"][trial]
    rows, columns = shelf["shelves"] * shelf["shelf_rows"], shelf["shelf_columns"]
    every = [(r, c) for r in range(1, rows + 1) for c in range(1, columns + 1)]
    together = {}
    for dish in found:
        there = laid_down(trial)["environments"][dish.place.environment]
        together.setdefault((there["chamber"], there["filling"]), []).append(unit_id(trial, dish))
    for (chamber, filling), units in together.items():
        purpose = (chamber, filling) if filling else ()
        yield zip(units, Chance(seed, trial, "places", *purpose).shuffled(every), strict=False)


def _count(book, trial, taxa, seed):
    """Visits on their days, and what was seen in every dish: seedlings each time, all the rest when it is cut."""
    days = truth()["germination"][trial]["days"]
    each, at_end = schema.word("quantity", "germinated")["numerator"], schema.words("outcome", seen="at the end")
    found = [dish for taxon in taxa for dish in dishes(trial, taxon, seed)]
    for name, filling in laid_down(trial)["fillings"].items():
        here = [dish for dish in found if _filling(trial, dish.place) is filling]
        for day in days:
            looked_for = [*each, *at_end] if day == days[-1] else each
            visit_id, by = _visit(book, trial, name, day, looked_for)
            for dish in here:
                for outcome in looked_for:
                    seen = (_cut if outcome in at_end else _new)(trial, dish, day, outcome)
                    book.add("counts", visit_id=visit_id, unit_id=unit_id(trial, dish), outcome=outcome,
                             taxon_id=dish.taxon, observer=by, **seen)


def _visit(book, trial, name, day, looked_for):
    """Enter one visit to one filling; its id and who counted."""
    filling = laid_down(trial)["fillings"][name]
    told = ", ".join(filter(None, (trial, f"filling {name}" if name else "", f"day {day}")))
    by, on = filling["counters"][str(day)], after(filling["sown_on"], day)
    visit_id = "-".join(filter(None, (trial, name, f"D{day:02d}")))
    book.add("visits", visit_id=visit_id, trial_id=trial, visited_at=on, visited_by=by, blind=True, counting="new",
             looked_for="; ".join(looked_for), sheet=told, typed_at=after(on, filling["typed_late"].get(str(day), 0)),
             notes=filling["visit_notes"].get(str(day)))
    return visit_id, by


def _cut(_trial, dish, _day, outcome):
    """What was left in a dish at the end, cut open."""
    return {"count": dish.cut[outcome], "method": "cut"}


def _new(trial, dish, day, outcome):
    """Seedlings taken out of a dish on one day. A dish that was overlooked has a reason there; its seedlings wait."""
    missed, number = laid_down(trial).get("not_looked", {}), dish.seen[day, outcome]
    if unit_id(trial, dish) == missed.get("unit_id"):
        if day == missed["day"]:
            return {"missing": "not looked", "note": missed["note"]}
        if day == missed["found_on"]:
            number += dish.seen[missed["day"], outcome]
    return {"count": number, "method": "seen"}
