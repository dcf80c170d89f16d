"""A run at the bench: steps ticked against a procedure, departures explained, hazards first, nothing lost."""

import shutil

import pytest

import palea
from palea import panels
from palea.shipped import folder
from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package

FACTS = {"movements.lot_id": "AV-T03-1", "movements.mass_g": "15", "movements.moisture_pct": "9,4",
         "started_at": "2024-03-01T09:00", "risk_assessment": "RA-05", "safety_checked_by": "sorrel"}  # fmt: skip


KNOWN = ("people", "taxa", "materials", "material_parts", "equipment", "protocols", "protocol_steps")


@pytest.fixture(scope="session")
def workshop(tmp_path_factory):
    """Folder of a package with the journey's people, materials, machines and procedures, and one bag of clean seed."""
    by = Stamp("thrift", "2024-02-01T09:00:00+00:00")
    place = tmp_path_factory.mktemp("workshop") / "package"
    new_package(place, "Workshop (invented)", by, invented=True)
    package, journey = palea.open_package(place), palea.open_package(folder("datapackages_demo") / "journey")
    for table in KNOWN:
        package = package.replacing(table, journey[table])
    lot = {"lot_id": "AV-T03-1", "taxon_id": "AV", "seed_unit": "seed", "source_kind": "purchased", "status": "in use"}
    bag = {"movement_id": "m1", "lot_id": "AV-T03-1", "moved_at": "2024-02-01", "kind": "received", "mass_g": 100.0,
           "moisture_pct": 9.4, "moved_by": "thrift"}  # fmt: skip
    saving.save(package.having("lots", [lot]).having("movements", [bag]), by, "entry")
    return place


@pytest.fixture
def coat(workshop, tmp_path, choose, type_into):
    """A coating panel with the procedure of a film open, and everything said before the first step."""
    panel = panels.coating(palea.open_package(shutil.copytree(workshop, tmp_path / "package")), who="thrift")
    choose(panel.plan_box, "film/1")
    type_into(panel.form, FACTS)
    return panel


def ready(panel, put):
    """Say that the data sheets were read."""
    put(panel.read, value=True)
    return panel


def test_a_hazardous_step_is_ticked_only_after_risk_assessment_and_data_sheets(coat, click, put, type_into):
    assert "H372 Causes damage to organs" in coat.safety.value, "codes always with their text"
    assert "Local codes, licences and trained staff decide" in coat.safety.value
    assert "safe" not in coat.safety.value.replace("safety", "")
    type_into(coat.form, {"risk_assessment": ""})
    click(coat.buttons["plan"])
    assert "Name the local risk assessment first" in coat.status.value
    type_into(coat.form, {"risk_assessment": "RA-05"})
    click(coat.buttons["plan"])
    assert "Tick first that risk assessment and data sheets were read" in coat.status.value
    put(coat.read, value=True)
    click(coat.buttons["plan"])
    assert len(coat.book.done) == 1


def test_amounts_per_kg_are_told_for_the_seed_that_went_in(coat, click, put, type_into):
    ready(coat, put)
    click(coat.buttons["plan"])
    step = palea.open_package(coat.package.folder)["protocol_steps"]
    wet = step[step["protocol_id"].eq("film") & step["action"].eq("wet")].iloc[0]
    assert float(coat.book.next["amount"]) == pytest.approx(wet["amount"] * 15 / 1000, rel=1e-3)
    assert "mL in all" in coat.planned.value
    type_into(coat.form, {"movements.mass_g": "30"})
    assert float(coat.book.next["amount"]) == pytest.approx(wet["amount"] * 30 / 1000, rel=1e-3)


def test_a_departure_is_asked_for_and_kept_with_its_reason(coat, click, put, type_into):
    ready(coat, put)
    click(coat.buttons["plan"])
    type_into(coat.step, {"amount": "3"})
    assert coat.step.marks["reason"][0] == "warning"
    click(coat.buttons["typed"])
    assert "Not ticked: Amount: planned" in coat.status.value
    assert len(coat.book.done) == 1
    type_into(coat.step, {"reason": "the pump dripped"})
    click(coat.buttons["typed"])
    step = coat.book.done[-1]
    assert (step["amount"], step["reason"], step["material_id"]) == ("3", "the pump dripped", coat.book.plan[1]["material_id"])
    assert step["deviation"].startswith("Amount: planned")


def test_a_cycle_repeats_with_one_key(coat, click, put, type_into):
    ready(coat, put)
    click(coat.buttons["plan"])
    type_into(coat.step, {"amount": "0,72", "observed": "evenly wet"})
    click(coat.buttons["typed"])
    click(coat.buttons["plan"])  # powder of cycle 1
    click(coat.buttons["like"])  # wet of cycle 2, as the last one
    again = coat.book.done[-1]
    assert (again["action"], again["cycle"], again["amount"]) == ("wet", "2", "0,72")
    assert "observed" not in again, "what was seen is of its own step"


def test_a_text_that_cannot_be_read_is_not_ticked(coat, click, put, type_into):
    ready(coat, put)
    click(coat.buttons["plan"])
    type_into(coat.step, {"amount": "a drop"})
    click(coat.buttons["typed"])
    assert "“a drop” is not a number" in coat.step.marks["amount"][1]
    assert len(coat.book.done) == 1


def test_nothing_is_lost_when_the_kernel_dies_at_any_step(coat, click, put, type_into):
    ready(coat, put)
    for _ in range(3):
        click(coat.buttons["plan"])
    type_into(coat.step, {"observed": "half typ"})
    again = panels.coating(palea.open_package(coat.package.folder), who="thrift")  # a new kernel knows the files alone
    assert "is under way: it stands where it was left, 3 steps done" in again.status.value
    assert again.book.as_draft() == coat.book.as_draft()
    assert again.step.texts["observed"] == "half typ"
    assert again.form.texts["risk_assessment"] == "RA-05"


def test_a_step_can_be_taken_back_and_one_besides_the_plan_be_put_in(coat, click, put, choose):
    ready(coat, put)
    click(coat.buttons["plan"])
    choose(coat.action_box, "look")
    assert "A step besides the plan" in coat.planned.value
    click(coat.buttons["typed"])
    assert (coat.book.done[-1]["action"], coat.book.done[-1]["planned"], coat.book.at) == ("look", None, 1)
    click(coat.buttons["back"])
    assert len(coat.book.done) == 1


def test_a_finished_run_is_one_entry_and_build_up_is_told_before(coat, click, put, cells, type_into):
    ready(coat, put)
    while coat.book.next:
        click(coat.buttons["plan"])
    assert "build-up if all of it stays" in coat.answer_place.value
    cells(coat.grid, {(0, "fraction"): "main", (0, "seed_unit"): "film-coated", (0, "mass_g"): "15,6", (0, "moisture_pct"): "9"})
    type_into(coat.end, {"ended_at": "2024-03-01T10:00", "hands_on_min": "20", "machine_min": "12"})
    for step in coat.book.done:
        step["started_at"] = "2024-03-01T09:10"  # the run is told as of that day
    before = len(coat.package["run_steps"])
    click(coat.save_button)
    assert "Saved" in coat.status.value, coat.status.value + coat.findings.value
    saved = palea.open_package(coat.package.folder)
    run = saved["runs"].iloc[-1]
    assert (run["kind"], run["protocol_id"], run["status"], run["risk_assessment"]) == ("coat", "film", "finished", "RA-05")
    assert len(saved["run_steps"]) - before == 11
    moves = saved["movements"][saved["movements"]["run_id"].eq(run["run_id"])]
    assert moves["kind"].tolist() == ["drawn for run", "made"]
    assert saved["lots"].iloc[-1]["taxon_id"] == "AV"
    assert coat.book.done == [], "the next run begins anew"


def test_a_package_without_procedures_takes_steps_as_they_come(small, choose, click, type_into):
    panel = panels.cleaning(small, who="sorrel")
    type_into(panel.form, {"movements.lot_id": "AV-T01-1", "movements.mass_g": "3"})
    choose(panel.action_box, "screen")
    click(panel.buttons["typed"])
    assert "Name the local risk assessment first" in panel.status.value, "dust is a hazard without a plan too"
