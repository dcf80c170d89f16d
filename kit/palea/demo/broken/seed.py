"""Mistakes with lots, tests, runs and materials."""

from palea.demo.broken.mistake import mistake


def _reading(desk, test, item, replicate="1"):
    return desk.one("readings", test_id=test, item=item, replicate=replicate)


@mistake(6, "a test on the 30th of February")
def no_such_day(desk):
    test = desk.one("tests", test_id="Q-CC-0-moisture")
    test["tested_at"] = "2024-02-30"
    return [("cell.date", "tests", test)]


def _germination_test(desk, lot, of, count, **more):
    """A baseline germination test of a lot, drawn and counted, entered beside what is there."""
    viability = desk.one("tests", test_id=f"Q-{lot}-viability")
    test = desk.add(
        "tests",
        **(viability | {"test_id": f"Q-{lot}-germination", "quantity": "germination", "movement_id": ""} | more),
    )
    reading = desk.add(
        "readings", test_id=test["test_id"], replicate=1, item="normal", value=count, unit="1", out_of=of
    )
    return test, reading


@mistake(8, "a percentage without counts")
def percentage_alone(desk):
    _, reading = _germination_test(desk, "AM-T03-2", 100, 55)
    reading |= {"unit": "%", "out_of": "", "reported_only": "true"}
    return [("lots.percentages-only", "readings", reading)]


@mistake(9, "a share of viable seed entered as a share of units sown")
def of_viable(desk):
    test, _ = _germination_test(desk, "CC-0", 100, 86)
    return [("germination.above-filled", "tests", test)]


@mistake(10, "the thousand-seed weight of clean seed entered for the lot in its pods")
def clean_for_pods(desk):
    rows = [r for r in desk["readings"] if r["test_id"] == "Q-AV-0-mass-of-units"]
    for row in rows:
        row["value"] = f"{float(row['value']) * 2.7 / 5.2:.4f}"
    test = desk.one("tests", test_id="Q-AV-0-mass-of-units")
    return [("lots.unit-mass-disagrees", "tests", test)]


@mistake(11, "purity parts that weigh more than the sample")
def purity_too_heavy(desk):
    row = _reading(desk, "Q-AM-0-purity", "pure seed")
    row["value"] = f"{float(row['value']) + 0.9:.4f}"
    return [("lots.parts-exceed-sample", "readings", _reading(desk, "Q-AM-0-purity", "sample"))]


@mistake(12, "more seed germinated than is alive")
def above_viable(desk):
    for row in [r for r in desk["readings"] if r["test_id"] == "Q-AV-T02-2-viability"]:
        share = 0.64 if row["item"] == "viable" else 0.36
        row["value"] = str(round(share * int(row["out_of"])))
    test, _ = _germination_test(desk, "AV-T02-2", 100, 88)
    return [("lots.germination-above-viability", "tests", test)]


@mistake(13, "more grams drawn than the lot held")
def overdrawn(desk):
    row = next(
        m
        for m in desk["movements"]
        if m["lot_id"] == "AM-T10-2" and m["kind"] == "drawn for test" and m["mass_g"] and not m["seed_units"]
    )
    row["mass_g"] = "21.6"
    return [("lots.more-drawn-than-held", "movements", row)]


@mistake(14, "a lot weighed while it was still wet")
def still_wet(desk):
    row = next(m for m in desk["movements"] if m["run_id"] == "R-AM-T04-2" and m["kind"] == "made")
    row["mass_g"] = f"{float(row['mass_g']) * 1.35:.4f}"
    return [("lots.run-gained-mass", "runs", desk.one("runs", run_id="R-AM-T04-2"))]


@mistake(15, "a pelleted lot of one species made from a lot of another")
def other_species(desk):
    draw = next(m for m in desk["movements"] if m["run_id"] == "R-CC-T08-2" and m["kind"] == "drawn for run")
    draw["lot_id"] = "AM-T03-2"
    return [("lots.other-taxon", "lots", desk.one("lots", lot_id="CC-T08-2"))]


@mistake(16, "a lot made after it was sown")
def made_after_use(desk):
    for row in desk["movements"]:
        if row["lot_id"] == "AV-T06-4" and row["kind"] == "made":
            row["moved_at"] = "2024-06-03"
    sown = [("lots.made-after-use", "units", u) for u in desk["units"] if u["lot_id"] == "AV-T06-4"]
    drawn = next(m for m in desk["movements"] if m["lot_id"] == "AV-T06-4" and m["kind"] != "made")
    stored = desk.one("storage", lot_id="AV-T06-4")
    return [*sown, ("lots.more-drawn-than-held", "movements", drawn), ("lots.stored-before-it-came", "storage", stored)]


@mistake(17, "a lot that is its own ancestor")
def loop(desk):
    for n, (out, into) in enumerate((("AM-T06-4", "AM-T06-4-fines"), ("AM-T06-4-fines", "AM-T06-4")), 1):
        desk.add(
            "movements",
            movement_id=f"AM-T06-4-back{n}",
            lot_id=out,
            counterpart_lot_id=into,
            kind="moved to lot",
            mass_g="0.01",
            moved_at="2023-11-24",
            moved_by="sorrel",
        )
    return [("lots.lineage-loop", "lots", desk.one("lots", lot_id="AM-T06-4"))]


@mistake(18, "a treatment that names a wetting agent, and runs that used the binder alone")
def not_done(desk):
    for row in desk["run_steps"]:
        if row["run_id"].startswith("R-CC-T17") and row["material_id"] == "wetter-solution":
            row |= {"material_id": "binder", "concentration": "", "concentration_unit": ""}
    return [("coating.treatment-not-done", "treatments", desk.one("treatments", treatment_id="CC-T17"))]


@mistake(19, "a dose of inoculant without what it is of")
def no_basis(desk):
    row = desk.one("treatment_actives", treatment_id="AV-T16")
    row["basis"] = ""
    return [("value.required", "treatment_actives", row), ("coating.dose-without-basis", "treatment_actives", row)]


@mistake(20, "acid of 75 %, without mass or volume")
def bare_percent(desk):
    row = next(s for s in desk["run_steps"] if s["run_id"] == "R-AV-acid-1" and s["action"] == "soak in acid")
    row["concentration_unit"] = "%"
    return [("cleaning.strength-without-basis", "run_steps", row)]


@mistake(21, "millilitres of a powder")
def volume_of_powder(desk):
    row = next(s for s in desk["run_steps"] if s["run_id"] == "R-AV-T06-2" and s["action"] == "powder")
    row["unit"] = "mL"
    return [("coating.powder-by-volume", "run_steps", row)]


@mistake(22, "a contractor's coat called “coated”, its recipe withheld by nobody")
def coated(desk):
    treatment, material = (
        desk.one("treatments", treatment_id="CC-T09"),
        desk.one("materials", material_id="brackwater-pellet"),
    )
    treatment["coat_class"], material["withheld_by"] = "coated", ""
    return [("cell.word", "treatments", treatment), ("coating.withheld-by-nobody", "materials", material)]


@mistake(23, "a CAS number with a wrong check digit")
def wrong_cas(desk):
    row = desk.one("materials", material_id="kaolin")
    row["cas"] = "1332-58-8"
    return [("cell.cas", "materials", row)]


@mistake(24, "an acid without a hazard statement")
def hazard_not_said(desk):
    row = desk.one("materials", material_id="sulfuric-acid")
    row["hazards"] = ""
    return [("coating.hazard-not-said", "materials", row)]


@mistake(47, "an incubator past its calibration")
def past_calibration(desk):
    row = next(c for c in desk["calibrations"] if c["equipment_id"] == "incubator-2" and c["due_on"] == "2025-08-05")
    row["due_on"] = "2025-02-05"
    return [("germination.chamber-past-calibration", "environments", desk.one("environments", environment_id="G5-m12"))]


@mistake(48, "a coating run that was stopped, and its seed sown all the same")
def stopped(desk):
    run = desk.one("runs", run_id="R-CC-T15-3")
    run |= {"status": "stopped", "reason": "Seed stuck together after cycle 2."}
    return [("coating.unfit-run-sown", "units", desk.one("units", lot_id="CC-T15-3"))]


MISTAKES = (
    no_such_day,
    percentage_alone,
    of_viable,
    clean_for_pods,
    purity_too_heavy,
    above_viable,
    overdrawn,
    still_wet,
    other_species,
    made_after_use,
    loop,
    not_done,
    no_basis,
    bare_percent,
    volume_of_powder,
    coated,
    wrong_cas,
    hazard_not_said,
    past_calibration,
    stopped,
)
