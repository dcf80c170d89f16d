"""The field trials as they are entered: plan, sowing, visits and counts, plants and weather."""

from palea import schema
from palea.calc.terms import Kind
from palea.demo.days import after, in_a_row
from palea.demo.field.counts import counted, weeks
from palea.demo.field.layout import treatment_id, written
from palea.demo.field.maps import mapped
from palea.demo.field.plants import tagged
from palea.demo.field.seedlings import WEEK
from palea.demo.field.truth import field_setting, field_truth
from palea.demo.field.weather import logged
from palea.demo.lots import one_batch


def sow_and_follow(book, taxa):
    """Enter both field trials of these species.

    book : holds the lots that `palea.demo.lots.one_batch` names, with seed enough, and the treatments.  taxa : ids, in order.
    Rows of one species (its plots and rows, and counts of it in them and in unsown plots) are the same whichever others
    are written with it; sites, weather, visits, main plots and unsown plots are written always.
    """
    seed = field_truth()["seed"]["value"]
    for table in ("sites", "equipment", "calibrations"):
        for row in field_setting(table):
            book.add(table, **row)
    book.add("treatments", **field_setting("unsown"))
    for trial in field_truth()["trials"]:
        _plan(book, trial, taxa, seed)
        mapped(book, trial, seed)
        _sow(book, trial, taxa, seed)
        _visit(book, trial, taxa, seed)
        if field_truth()["trials"][trial]["thinned_week"]:
            tagged(book, written(trial, taxa, seed), seed)
    logged(book, seed)


def _plan(book, trial, taxa, seed):
    planned, thinned = (in_a_row(WEEK * week for week in some if week) for some in (
        weeks(trial), [field_truth()["trials"][trial]["thinned_week"]]))  # fmt: skip
    book.add("trials", random_seed=seed, visit_days=planned, thinning_days=thinned or None, **field_setting("trials")[trial])
    for outcome in field_setting("outcomes")[trial]:
        book.add("trial_outcomes", trial_id=trial, **outcome)
    for factor in field_setting("factors")[trial]:
        book.add("trial_factors", trial_id=trial, factor=factor, applied_to=schema.word("asks_about", factor)["rung"])
    book.add("environments", **field_setting("environments")[trial])
    for taxon in taxa:
        for row in contrasts(trial, taxon):
            book.add("contrasts", **row)


def contrasts(trial, taxon):
    """The declared contrasts of one species, as rows."""
    return [
        {"contrast_id": f"C-{trial}-{taxon}-{number:02d}", "trial_id": trial, **_contrast(taxon, asked)}
        for number, asked in enumerate(field_setting("contrasts")[trial][taxon], 1)
    ]


def _contrast(taxon, asked):
    usual = {"wanted": "higher", "primary": False, "declared_at": field_setting("declared_at")}
    margin = {} if asked["kind"] == Kind.SUPERIORITY else field_setting("margin")
    return usual | asked | {side: f"{taxon}-{asked[side]}" for side in ("a", "b")} | margin


def _sow(book, trial, taxa, seed):
    """Count seed out of its lots into plots or rows; main plots first, then what lies in them."""
    here, plan = written(trial, taxa, seed), field_truth()["trials"][trial]
    for main_plot in dict.fromkeys((s.main_plot, s.block, s.level) for s in here if s.level):
        _main_plot(book, trial, *main_plot)
    for spot in here:
        book.add("units", **_unit(spot))
    for taxon in taxa:
        for name in plan["arms"][taxon]:
            units = plan["seeds"] * sum((s.taxon, s.arm) == (taxon, name) for s in here)
            book.move(one_batch(taxon, name), field_setting("sown_on")[trial], "sown", units=units, trial_id=trial,
                      drawn_how="counted out", moved_by="sorrel")


def _main_plot(book, trial, unit_id, block, level):
    book.add("units", unit_id=unit_id, trial_id=trial, kind="main plot", block=str(block), status="in use",
             environment_id=field_setting("environments")[trial]["environment_id"])
    book.add("unit_levels", unit_id=unit_id, factor=field_setting("fence"), level=level)


def _unit(spot):
    """One plot or row as it is entered."""
    of_kind = dict(field_setting("units")[spot.trial])
    sown = {"lot_id": one_batch(spot.taxon, spot.arm), "seeds_each": 1} if spot.taxon else {}
    known = {
        "unit_id": spot.unit_id, "trial_id": spot.trial, "parent_unit_id": spot.main_plot,
        "treatment_id": treatment_id(spot), "environment_id": field_setting("environments")[spot.trial]["environment_id"],
        "block": str(spot.block), "grid_row": spot.grid_row, "grid_column": spot.grid_column,
        "code": f"{of_kind.pop('letter')}{spot.number:03d}", "placed_at": field_setting("sown_on")[spot.trial],
        "sown_n": field_truth()["trials"][spot.trial]["seeds"] if spot.taxon else 0, "status": "in use",
    }
    return known | of_kind | sown | (_lost(spot) if spot.lost else {})


def _lost(spot):
    gone = field_setting("lost")
    return gone["row"] | {"decided_at": after(field_setting("sown_on")[spot.trial], WEEK * gone["week"])}


def _visit(book, trial, taxa, seed):
    """Visits in their weeks, and what was seen in every plot that was still there."""
    here = written(trial, taxa, seed)
    for week, looked_for in weeks(trial).items():
        visit_id, by = _went(book, trial, week, looked_for)
        for spot in here:
            if spot.lost and week >= field_setting("lost")["week"]:
                continue
            seen_or_not = _reached(spot, week)
            for taxon, outcome, count in counted(spot, taxa, week, seed):
                book.add("counts", visit_id=visit_id, unit_id=spot.unit_id, outcome=outcome, taxon_id=taxon,
                         observer=by, **seen_or_not or {"count": count, "method": "seen"})


def _reached(spot, week):
    """Nothing, or why a plot was not counted in a week."""
    out = field_setting("not_reached")
    if (spot.trial, spot.block, spot.level, week) == (out["trial"], out["block"], out["level"], out["week"]):
        return {"missing": "not reached", "note": out["note"]}
    return {}


def _went(book, trial, week, looked_for):
    """Enter one visit; its id and who counted."""
    visit_id, on = f"{trial}-W{week:02d}", after(field_setting("sown_on")[trial], WEEK * week)
    by, late = field_setting("counters")[trial][str(week)], field_setting("typed_late")[trial].get(str(week), 0)
    some_new = any(schema.word("outcome", o)["seen"] == schema.word("outcome", "emerged")["seen"] for o in looked_for)
    thinning = field_truth()["trials"][trial]["thinned_week"] == week
    book.add("visits", visit_id=visit_id, trial_id=trial, visited_at=on, visited_by=by, blind=True,
             looked_for="; ".join(looked_for), counting="new" if some_new else "standing",
             thinning_rule="spacing" if thinning else None, sheet=f"{trial}, week {week}", typed_at=after(on, late),
             notes=field_setting("visit_notes")[trial].get(str(week)))
    return visit_id, by
