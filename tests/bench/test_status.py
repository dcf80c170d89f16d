"""How things stand in a package: lots, trials, stages, checklist."""

import pytest

import palea
from palea.bench.status import status
from palea.stamp import Stamp
from palea.tables.beginning import new_package

STAMP = Stamp("A. Fennel", "2026-09-01T09:00:00+00:00")


@pytest.fixture
def begun(tmp_path):
    """A lot of which some was drawn, and a trial that was looked at once."""
    package = new_package(tmp_path / "p", "Begun", STAMP)
    for table, rows in {
        "people": [{"person_id": "P1", "kind": "person", "name": "A. Fennel"}],
        "taxa": [{"taxon_id": "AV", "scientific_name": "Anthyllis vulneraria"}],
        "lots": [{"lot_id": "AV-0", "taxon_id": "AV", "seed_unit": "seed", "status": "in use"},
                 {"lot_id": "AV-0-keep", "taxon_id": "AV", "seed_unit": "seed", "fraction": "keep-sample", "keep_of": "AV-0"}],
        "movements": [
            {"movement_id": "M1", "lot_id": "AV-0", "moved_at": "2026-01-02", "kind": "received", "mass_g": 100.0},
            {"movement_id": "M2", "lot_id": "AV-0", "moved_at": "2026-01-03", "kind": "moved to lot", "mass_g": 20.0,
             "counterpart_lot_id": "AV-0-keep"},
            {"movement_id": "M3", "lot_id": "AV-0", "moved_at": "2026-02-01", "kind": "weighed", "mass_g": 79.5},
        ],
        "treatments": [{"treatment_id": "T1", "label": "Bare", "role": "reference"}],
        "trials": [{"trial_id": "G1", "title": "One", "question": "?", "status": "running"}],
        "trial_outcomes": [{"trial_id": "G1", "outcome": "germinated", "at_day": d} for d in (28,)],
        "units": [{"unit_id": "D1", "trial_id": "G1", "kind": "dish", "treatment_id": "T1", "lot_id": "AV-0", "sown_n": 25,
                   "first_wetted_at": "2026-03-01", "status": "in use"}],
        "visits": [{"visit_id": "V1", "trial_id": "G1", "visited_at": "2026-03-08", "visited_by": "P1", "looked_for": "germinated",
                    "counting": "new"}],
    }.items():  # fmt: skip
        package = package.having(table, rows)
    return package


def test_what_is_left_is_the_sum_of_the_movements(begun):
    lots = {r["lot_id"]: r for r in status(begun).lots}
    assert lots["AV-0"]["left_g"] == 80
    assert lots["AV-0"]["weighed_g"] == 79.5
    assert lots["AV-0-keep"]["left_g"] == 20
    assert lots["AV-0-keep"]["keep_sample"]
    assert not lots["AV-0"]["keep_sample"]


def test_a_running_trial_says_what_is_judged_next(begun):
    (trial,) = status(begun).trials
    assert (trial["units"], trial["visits"], trial["last_visit"]) == (1, 1, "2026-03-08")
    assert (trial["next_day"], trial["next_on"]) == (28, "2026-03-29")


def test_a_planned_visit_comes_before_the_day_that_is_judged(begun):
    planned = begun.having("trials", [{"trial_id": "G1", "visit_days": "3; 7; 14; 28"}])
    assert [(t["next_day"], t["next_on"]) for t in status(planned).trials] == [(14, "2026-03-15")]
    open_ended = begun.having("trials", [{"trial_id": "G1", "visit_days": "3;35"}])
    assert status(open_ended).trials[0]["next_day"] == 28, "what is judged is looked at, whatever the plan of visits says"


def test_nothing_is_due_where_the_last_day_was_reached(begun):
    later = begun.having("visits", [{"visit_id": "V2", "trial_id": "G1", "visited_at": "2026-03-29", "visited_by": "P1",
                                     "looked_for": "germinated", "counting": "new"}])
    assert status(later).trials[0]["next_day"] is None


def test_stages_without_a_record_are_named(begun):
    stages = {r["stage"]: r for r in status(begun).stages}
    assert stages["field"]["rows"] == 0
    assert "plants" in stages["field"]["empty"]
    assert "movements" not in stages["lots"]["empty"]


def test_an_empty_package_stands_too(tmp_path):
    found = status(new_package(tmp_path / "p", "Empty", STAMP))
    assert found.lots == found.trials == ()
    assert found.treatments == ()


def test_each_treatment_answers_for_what_is_behind_it(journey):
    rows = status(palea.open_package(journey.folder)).treatments
    names = {r["treatment"] for r in rows}
    assert set(journey["treatments"]["treatment_id"]) == names
    coats = {(r["treatment"], r["stage"]): r for r in rows if r["weight"] == "essential"}
    assert coats["AV-T05", "coating"]["applicable"] > coats["AV-T03", "coating"]["applicable"]
