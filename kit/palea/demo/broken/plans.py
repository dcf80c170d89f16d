"""Mistakes in plans: controls, contrasts, layouts."""

from palea.demo.broken.mistake import mistake


@mistake(25, "a control from another collection")
def other_collection(desk):
    bought = desk.one("lots", lot_id="AM-0")
    desk.add(
        "lots",
        **(
            bought
            | {
                "lot_id": "AM-9",
                "seed_unit": "seed",
                "source_kind": "purchased",
                "prior_treatment": "described",
                "prior_treatment_text": "Cleaned by the seller.",
                "collected_from": "2021-07",
                "collected_to": "2021-08",
                "place": "",
                "latitude": "",
                "longitude": "",
                "coordinate_uncertainty_m": "",
                "mother_plants": "",
                "permit": "",
                "permit_may_share": "",
            }
        ),
    )
    desk.add(
        "movements",
        movement_id="AM-9-m01",
        lot_id="AM-9",
        moved_at="2023-09-01",
        kind="received",
        mass_g="60",
        moved_by="fennel",
    )
    for quantity in ("fill", "viability"):
        test = desk.add(
            "tests",
            **(
                desk.one("tests", test_id=f"Q-AM-0-{quantity}")
                | {"test_id": f"Q-AM-9-{quantity}", "lot_id": "AM-9", "movement_id": ""}
            ),
        )
        for row in [r for r in desk["readings"] if r["test_id"] == f"Q-AM-0-{quantity}"]:
            desk.add("readings", **(row | {"test_id": test["test_id"]}))
    for row in desk["movements"]:
        if row["run_id"].startswith("R-AM-T13") and row["kind"] == "drawn for run":
            row["lot_id"] = "AM-9"
    contrast = next(c for c in desk["contrasts"] if c["a"] == "AM-T13" and c["b"] == "AM-T05")
    return [("planning.other-collection", "contrasts", contrast)]


@mistake(26, "brushed seed against seed in its pods declared as the primary contrast")
def two_factors(desk):
    row = next(c for c in desk["contrasts"] if c["trial_id"] == "G1" and c["primary"] == "true" and c["a"] == "AV-T03")
    row["b"] = "AV-T01"
    return [("planning.two-factors", "contrasts", row)]


@mistake(27, "a soak in an active without the soak in water")
def no_water_soak(desk):
    gone = {u["unit_id"] for u in desk["units"] if u["trial_id"] == "G4" and u["treatment_id"] == "AM-T12"}
    desk.take_out("units", lambda r: r["unit_id"] not in gone)
    desk.take_out("counts", lambda r: r["unit_id"] not in gone)
    lots = {m["lot_id"] for m in desk["movements"] if m["lot_id"].startswith("AM-T12")}
    desk.take_out("movements", lambda r: not (r["trial_id"] == "G4" and r["lot_id"] in lots))
    desk.take_out("contrasts", lambda r: not (r["trial_id"] == "G4" and "AM-T12" in (r["a"], r["b"])))
    return [("planning.no-solvent-soak", "treatments", desk.one("treatments", treatment_id="AM-T11"))]


@mistake(28, "a soak compared with a coat at 200 against 93 mg/kg")
def doses_apart(desk):
    """The invented journey holds this one on purpose: the question was asked, and cannot be judged."""
    return [
        (
            "planning.doses-apart",
            "contrasts",
            next(c for c in desk["contrasts"] if c["asks_about"] == "route" and c["b"] == "AM-T10"),
        )
    ]


@mistake(31, "two temperatures, one incubator each, run once")
def one_incubator(desk):
    for row in desk["environments"]:
        if row["trial_id"] == "G2" and row["day_c"] == "30.0":
            row |= {"chamber": "incubator-2", "run_no": "1"}
    return [("planning.temperature-unreplicated", "trials", desk.one("trials", trial_id="G2"))]


@mistake(32, "a margin chosen after the first count")
def late_margin(desk):
    row = next(c for c in desk["contrasts"] if c["trial_id"] == "G1" and c["a"] == "CC-T05" and c["b"] == "CC-T03")
    row["declared_at"] = "2024-03-01"
    return [("planning.margin-after-count", "contrasts", row)]


@mistake(35, "a block without one of the treatments")
def block_incomplete(desk):
    unit = next(
        u for u in desk["units"] if u["trial_id"] == "F1" and u["treatment_id"] == "CC-T05" and u["status"] == "in use"
    )
    plants = {p["plant_id"] for p in desk["plants"] if p["unit_id"] == unit["unit_id"]}
    desk.take_out("units", lambda r: r is not unit)
    for table in ("counts", "plants", "unit_levels"):
        desk.take_out(table, lambda r: r["unit_id"] != unit["unit_id"])
    desk.take_out("measurements", lambda r: r["unit_id"] != unit["unit_id"] and r["plant_id"] not in plants)
    draw = next(m for m in desk["movements"] if m["trial_id"] == "F1" and m["lot_id"] == unit["lot_id"])
    draw["seed_units"] = str(int(draw["seed_units"]) - int(unit["sown_n"]))
    return [("planning.block-incomplete", "trials", desk.one("trials", trial_id="F1"))]


@mistake(36, "a Latin square with a treatment twice in a row")
def latin_repeat(desk):
    trial = desk.one("trials", trial_id="G3")
    desk.add(
        "trials",
        **(
            trial
            | {
                "trial_id": "L1",
                "title": "A square of pots (invented)",
                "question": "Does the shelf matter?",
                "design": "Latin square",
                "status": "draft",
                "random_seed": "7",
                "locked_at": "",
                "planned_at": "2024-03-08",
            }
        ),
    )
    square = (("CC-T03", "CC-T05", "CC-T06"), ("CC-T05", "CC-T06", "CC-T03"), ("CC-T06", "CC-T03", "CC-T03"))
    units = [
        desk.add(
            "units",
            unit_id=f"L1-{r}{c}",
            trial_id="L1",
            kind="pot",
            treatment_id=name,
            lot_id=f"{name}-1",
            grid_row=r,
            grid_column=c,
            status="in use",
        )
        for r, row in enumerate(square, 1)
        for c, name in enumerate(row, 1)
    ]
    return [("planning.latin-repeat", "units", units[8])]


@mistake(37, "a dish left out without a reason")
def without_reason(desk):
    unit = desk.one("units", unit_id="G1-AM-T06-3-2")
    unit |= {"status": "excluded", "decided_at": "2024-02-09", "outcome_known": "false"}
    return [("germination.left-out-without-reason", "units", unit)]


@mistake(49, "a unit pasted twice")
def pasted_twice(desk):
    unit = desk.one("units", unit_id="G2-AM-T05-20-10-wet-1-1")
    again = desk.add("units", **(unit | {"code": "", "grid_row": "", "grid_column": "", "sown_n": ""}))
    return [("key.duplicate", "units", again)]


MISTAKES = (
    other_collection,
    two_factors,
    no_water_soak,
    doses_apart,
    one_incubator,
    late_margin,
    block_incomplete,
    latin_repeat,
    without_reason,
    pasted_twice,
)
