"""Mistakes at the count sheet."""

from palea.demo.broken.mistake import mistake

GERMINATED = ("normal", "abnormal")


def _sheet(desk, unit, outcome, visits=None):
    """The count rows of one unit and outcome, in the order of its visits."""
    rows = [r for r in desk["counts"] if r["unit_id"] == unit and r["outcome"] == outcome]
    return [r for r in rows if visits is None or r["visit_id"] in visits]


@mistake(1, "a dish with 27 germinated of 25 single-seed units")
def more_than_sown(desk):
    unit = desk.one("units", unit_id="G1-AV-T03-1-1")
    highest = max(_sheet(desk, unit["unit_id"], "normal"), key=lambda r: int(r["count"]))
    highest["count"] = str(int(highest["count"]) + 2)
    return [("germination.more-than-sown", "units", unit)]


@mistake(2, "running totals typed as new counts, 61 of 25 in all")
def cumulative_as_new(desk):
    unit = desk.one("units", unit_id="G1-AM-T05-2-1")
    for row, count in zip(_sheet(desk, unit["unit_id"], "normal"), (0, 2, 5, 7, 9, 9, 9, 10, 10), strict=True):
        row["count"] = str(count)
    return [("germination.rising-sheet", "units", unit)]


@mistake(3, "a running total that drops")
def total_that_drops(desk):
    visits = [v for v in desk["visits"] if v["trial_id"] == "G3"]
    for visit in visits:
        visit["counting"] = "cumulative"
    units = [u["unit_id"] for u in desk["units"] if u["trial_id"] == "G3"]
    for unit in units:
        for outcome in GERMINATED:
            total = 0
            for row in _sheet(desk, unit, outcome):
                total += int(row["count"])
                row["count"] = str(total)
    slipped = next(
        s
        for u in units
        if (s := _sheet(desk, u, "normal")) and int(s[3]["count"]) >= 5 and int(s[4]["count"]) > int(s[3]["count"])
    )
    slipped[3]["count"] = str(int(slipped[2]["count"]) - 1)
    return [("germination.cumulative-falls", "counts", slipped[3])]


@mistake(4, "a dish counted before it was wetted")
def counted_before_sowing(desk):
    unit = desk.one("units", unit_id="G2-AV-T05-20-10-wet-1-2")
    unit["first_wetted_at"] = _day_after(_first_visit(desk, unit))
    first = next(r for r in desk["counts"] if r["unit_id"] == unit["unit_id"])
    return [("germination.counted-before-sowing", "counts", first)]


def _first_visit(desk, unit):
    seen = next(r for r in desk["counts"] if r["unit_id"] == unit["unit_id"])
    return desk.one("visits", visit_id=seen["visit_id"])["visited_at"]


def _day_after(day):
    from palea.demo.days import after

    return after(day, 1)


@mistake(5, "day and month of a visit swapped")
def swapped(desk):
    visit = desk.one("visits", visit_id="F2-W32")
    year, month, day = visit["visited_at"].split("-")
    visit["visited_at"] = visit["typed_at"] = f"{year}-{day}-{month}"
    return [("germination.day-and-month-swapped", "visits", visit)]


@mistake(7, "a visit that nobody made, exported as zeros for a whole trial")
def blank_as_zero(desk):
    visit, later = (desk.one("visits", visit_id=f"G4-D{day}") for day in ("10", "14"))
    by_unit = {(r["unit_id"], r["outcome"]): r for r in desk["counts"] if r["visit_id"] == later["visit_id"]}
    for row in desk["counts"]:
        if row["visit_id"] == visit["visit_id"]:
            found = by_unit[row["unit_id"], row["outcome"]]
            found["count"] = str(int(found["count"]) + int(row["count"]))
            row["count"] = "0"
    return [("germination.nothing-between", "visits", visit)]


@mistake(30, "one dish left of a treatment")
def one_dish(desk):
    dishes = [u for u in desk["units"] if u["treatment_id"] == "CC-T09"]
    for unit in dishes[1:]:
        unit |= {"status": "spoiled", "reason": "Tray dropped.", "decided_at": "2024-02-02", "outcome_known": "false"}
    return [("germination.one-dish", "treatments", desk.one("treatments", treatment_id="CC-T09"))]


@mistake(33, "seedlings taken out at the thinning entered as dead")
def thinned_as_dead(desk):
    visit = desk.one("visits", visit_id="F1-W13")
    visit["looked_for"] = "standing; removed; kept; died"
    for row in [r for r in desk["counts"] if r["visit_id"] == "F1-W13" and r["outcome"] == "removed"]:
        desk.add("counts", **(row | {"outcome": "died", "count": "0" if row["count"] else "", "method": row["method"]}))
    wrong = next(
        r
        for r in desk["counts"]
        if r["visit_id"] == "F1-W13"
        and r["outcome"] == "removed"
        and r["count"] not in ("", "0")
        and r["taxon_id"] == "AV"
        and "-AV-" in r["unit_id"]
    )
    dead = next(
        r
        for r in desk["counts"]
        if r["outcome"] == "died" and all(r[k] == wrong[k] for k in ("visit_id", "unit_id", "taxon_id"))
    )
    dead["count"], wrong["count"] = wrong["count"], "0"
    first = next(r for r in desk["counts"] if all(r[k] == wrong[k] for k in ("visit_id", "unit_id", "taxon_id")))
    return [("field.thinned-as-dead", "counts", first)]


@mistake(34, "more plants standing than were kept at the thinning")
def more_than_kept(desk):
    row = next(
        r
        for r in desk["counts"]
        if r["visit_id"] == "F1-W16"
        and r["outcome"] == "standing"
        and "-AV-T16-" in r["unit_id"]
        and int(r["count"] or 0) > 4
    )
    row["count"] = str(int(row["count"]) + 4)
    first = next(r for r in desk["counts"] if all(r[k] == row[k] for k in ("visit_id", "unit_id", "taxon_id")))
    return [("field.more-than-kept", "counts", first)]


@mistake(45, "an outcome that is not on the list")
def unknown_outcome(desk):
    row = next(
        r
        for r in desk["counts"]
        if r["unit_id"] == "G1-AV-T02-1-1" and r["outcome"] == "abnormal" and r["count"] == "0"
    )
    row["outcome"] = "abnrmal"
    visit = desk.one("visits", visit_id=row["visit_id"])
    return [("cell.word", "counts", row), ("germination.outcome-not-entered", "visits", visit)]


@mistake(46, "a dish far from the others of its batch")
def dishes_apart(desk):
    unit = desk.one("units", unit_id="G1-AM-T11-3-2")
    moved = 0
    for row in _sheet(desk, unit["unit_id"], "normal"):
        moved, row["count"] = moved + int(row["count"]), "0"
    dead = _sheet(desk, unit["unit_id"], "dead")[0]
    dead["count"] = str(int(dead["count"]) + moved)
    return [("germination.dishes-apart", "units", unit)]


MISTAKES = (
    more_than_sown,
    cumulative_as_new,
    total_that_drops,
    counted_before_sowing,
    swapped,
    blank_as_zero,
    one_dish,
    thinned_as_dead,
    more_than_kept,
    unknown_outcome,
    dishes_apart,
)
