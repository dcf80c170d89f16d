"""A germination trial of the invented demo as it is entered: plan, dishes in their places, visits and counts."""

from collections import Counter
from functools import cache

from palea import schema
from palea.calc.terms import Kind
from palea.demo.chance import Chance
from palea.demo.days import after
from palea.demo.germination import dishes
from palea.demo.setting import setting, worded
from palea.demo.truth import arm, arms_of, truth


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


def plan(book, taxa):
    """The trial, what it asks and judges, and the conditions it is held under."""
    trial = setting("trial")["trial_id"]
    book.add("trials", random_seed=book.seed, **setting("trial"))
    for outcome in setting("outcomes"):
        book.add("trial_outcomes", trial_id=trial, **outcome)
    for factor in setting("factors"):
        book.add("trial_factors", trial_id=trial, factor=factor, applied_to=schema.word("asks_about", factor)["rung"])
    book.add("environments", **setting("environment"))
    for taxon in taxa:
        for row in contrasts(trial, taxon):
            book.add("contrasts", **row)


def contrasts(trial, taxon):
    """The declared contrasts of one species, as rows."""
    return [
        {"contrast_id": f"C-{taxon}-{number:02d}", "trial_id": trial, **_contrast(taxon, asked)}
        for number, asked in enumerate(setting("contrasts")[taxon], 1)
    ]


def _contrast(taxon, asked):
    """One declared contrast; a margin only where the question has one."""
    margin = {} if asked["kind"] == Kind.SUPERIORITY else setting("margin")
    usual = {"outcome": "normal seedlings", "wanted": "higher", "primary": False, "declared_at": setting("declared_at")}
    sides = {side: f"{taxon}-{asked[side]}" for side in ("a", "b")}
    return usual | asked | sides | margin


def sow(book, taxa):
    """Count the seed out of its lots into dishes, and give each dish its place and its code."""
    trial, on = setting("trial")["trial_id"], setting("sown_on")
    for taxon in taxa:
        sown = Counter()
        for dish in dishes(trial, taxon, book.seed):
            unit = _unit(trial, dish, on, book.seed)
            book.add("units", **unit)
            sown[unit["lot_id"]] += unit["sown_n"]
        for lot_id, units in sown.items():
            book.move(lot_id, on, "sown", units=units, trial_id=trial, drawn_how="counted out", moved_by="sorrel")


def _unit(trial, dish, on, seed):
    """One dish as it is entered."""
    row, column, code = _places(trial, seed)[unit_id(trial, dish)]
    inside = arm(dish.taxon, dish.arm)
    return {
        "unit_id": unit_id(trial, dish), "trial_id": trial, "treatment_id": f"{dish.taxon}-{dish.arm}",
        "lot_id": f"{dish.taxon}-{dish.arm}-{dish.batch}", "environment_id": setting("environment")["environment_id"],
        "grid_row": row, "grid_column": column, "code": code, "sown_n": truth()["germination"][trial]["seeds"],
        "seeds_each": round(1 + inside.doubles - inside.empties, 2), "first_wetted_at": on, "placed_at": on,
        **setting("dish"),
    }


def unit_id(trial, dish):
    """The name of a dish in the package."""
    return f"{trial}-{dish.taxon}-{dish.arm}-{dish.batch}-{dish.number}"


@cache
def _places(trial, seed):
    """{dish: (row, column, code)} over all species, whether they are written or not, so that none shifts another."""
    shelf = truth()["germination"][trial]
    units = [unit_id(trial, d) for taxon in truth()["species"] for d in dishes(trial, taxon, seed)]
    rows, columns = shelf["shelves"] * shelf["shelf_rows"], shelf["shelf_columns"]
    spots = Chance(seed, trial, "places").shuffled([(r, c) for r in range(1, rows + 1) for c in range(1, columns + 1)])
    codes = Chance(seed, trial, "codes").shuffled(range(100, 1000))
    return {u: (*spot, f"D{code}") for u, spot, code in zip(units, spots, codes, strict=False)}


def count(book, taxa):
    """Visits on their days, and what was seen in every dish: seedlings each time, all the rest when it is cut."""
    trial = setting("trial")["trial_id"]
    days = truth()["germination"][trial]["days"]
    each, at_end = schema.word("quantity", "germinated")["numerator"], schema.words("outcome", seen="at the end")
    found = [dish for taxon in taxa for dish in dishes(trial, taxon, book.seed)]
    for day in days:
        looked_for = [*each, *at_end] if day == days[-1] else each
        visit_id, by = _visit(book, trial, day, looked_for)
        for dish in found:
            for outcome in looked_for:
                seen = (_cut if outcome in at_end else _new)(trial, dish, day, outcome)
                book.add("counts", visit_id=visit_id, unit_id=unit_id(trial, dish), outcome=outcome,
                         taxon_id=dish.taxon, observer=by, **seen)


def _visit(book, trial, day, looked_for):
    """Enter one visit; its id and who counted."""
    by, visit_id, on = setting("counters")[str(day)], f"{trial}-D{day:02d}", after(setting("sown_on"), day)
    book.add("visits", visit_id=visit_id, trial_id=trial, visited_at=on, visited_by=by, blind=True, counting="new",
             looked_for="; ".join(looked_for), sheet=f"{trial}, day {day}",
             typed_at=after(on, setting("typed_late").get(str(day), 0)), notes=setting("visit_notes").get(str(day)))
    return visit_id, by


def _cut(_trial, dish, _day, outcome):
    """What was left in a dish at the end, cut open."""
    return {"count": dish.cut[outcome], "method": "cut"}


def _new(trial, dish, day, outcome):
    """Seedlings taken out of a dish on one day. The dish that was overlooked has a reason there; its seedlings wait."""
    missed, number = setting("not_looked"), dish.seen[day, outcome]
    if unit_id(trial, dish) == missed["unit_id"]:
        if day == missed["day"]:
            return {"missing": "not looked", "note": missed["note"]}
        if day == missed["found_on"]:
            number += dish.seen[missed["day"], outcome]
    return {"count": number, "method": "seen"}
