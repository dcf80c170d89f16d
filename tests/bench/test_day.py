"""What is to be done on a day, what was missed and what comes; a draw from a keep-sample is stopped before it is written."""

import datetime as dt

import pytest

import palea
from palea.bench import day_page, entry
from palea.bench.day import UNKNOWN, day
from palea.errors import EntryError, PaleaError
from palea.stamp import Stamp
from palea.tables.beginning import new_package

STAMP = Stamp("A. Fennel", "2026-03-10T09:00:00+00:00")
ROWS = {
    "people": [{"person_id": "P1", "kind": "person", "name": "A. Fennel"}],
    "taxa": [{"taxon_id": "AV", "scientific_name": "Anthyllis vulneraria"}],
    "lots": [
        {"lot_id": "AV-0", "taxon_id": "AV", "seed_unit": "seed", "status": "in use", "source_kind": "purchased"},
        {"lot_id": "AV-K", "taxon_id": "AV", "seed_unit": "seed", "fraction": "keep-sample", "keep_of": "AV-0",
         "status": "reserved"},
    ],
    "movements": [
        {"movement_id": "M1", "lot_id": "AV-0", "moved_at": "2025-01-02", "kind": "received", "mass_g": 100.0,
         "seed_units": 40000},
        {"movement_id": "M2", "lot_id": "AV-0", "moved_at": "2025-01-03", "kind": "moved to lot", "mass_g": 20.0,
         "seed_units": 8000, "counterpart_lot_id": "AV-K"},
        {"movement_id": "M3", "lot_id": "AV-0", "moved_at": "2025-03-12", "kind": "weighed", "mass_g": 80.0},
    ],
    "tests": [{"test_id": "T1", "lot_id": "AV-0", "quantity": "viability", "tested_at": "2025-03-14", "tested_by": "P1",
               "status": "valid"}],
    "equipment": [{"equipment_id": "balance-2", "kind": "balance"}],
    "calibrations": [
        {"equipment_id": "balance-2", "done_on": "2024-03-01", "quantity": "mass", "due_on": "2025-03-01"},
        {"equipment_id": "balance-2", "done_on": "2025-03-08", "quantity": "mass", "due_on": "2026-03-08"},
    ],
    "treatments": [{"treatment_id": "T1", "label": "Film", "role": "test"},
                   {"treatment_id": "T0", "label": "Kept back", "role": "keep-sample"}],
    "trials": [
        {"trial_id": "G1", "title": "One", "question": "?", "status": "running", "visit_days": "3; 7;9", "thinning_days": "7"},
        {"trial_id": "G2", "title": "Over", "question": "?", "status": "finished", "visit_days": "9"},
    ],
    "trial_outcomes": [{"trial_id": "G1", "outcome": "germinated", "at_day": 14}],
    "environments": [{"environment_id": "G1-dry", "trial_id": "G1", "renewed_every_d": 3.0, "water_potential_mpa": -0.4}],
    "units": [
        {"unit_id": "D1", "trial_id": "G1", "kind": "dish", "treatment_id": "T1", "lot_id": "AV-0", "environment_id": "G1-dry",
         "sown_n": 25, "first_wetted_at": "2026-03-01", "status": "in use"},
        {"unit_id": "D2", "trial_id": "G1", "kind": "dish", "treatment_id": "T1", "lot_id": "AV-0", "sown_n": 25,
         "first_wetted_at": "2026-03-02", "status": "in use"},
        {"unit_id": "D3", "trial_id": "G1", "kind": "dish", "treatment_id": "T1", "lot_id": "AV-0", "sown_n": 25,
         "first_wetted_at": "2026-03-09", "status": "lost"},
        {"unit_id": "D9", "trial_id": "G2", "kind": "dish", "treatment_id": "T1", "lot_id": "AV-0", "sown_n": 25,
         "first_wetted_at": "2026-03-01", "status": "in use"},
    ],
    "visits": [{"visit_id": "V1", "trial_id": "G1", "visited_at": "2026-03-05", "visited_by": "P1", "looked_for": "normal",
                "counting": "new"}],
    "counts": [{"visit_id": "V1", "unit_id": "D1", "outcome": "normal", "taxon_id": "AV", "observer": "P1", "count": 3}],
}  # fmt: skip


@pytest.fixture(scope="module")
def begun(tmp_path_factory):
    """Two dishes of one trial begun a day apart, of which the first was looked at once, a day late."""
    package = new_package(tmp_path_factory.mktemp("day") / "p", "Begun", STAMP)
    for table, rows in ROWS.items():
        package = package.having(table, rows)
    return package


def told(jobs, *dos):
    return [(j.do, j.about, j.on, j.what.partition(":")[0]) for j in jobs if j.do in dos]


def test_each_group_of_units_has_its_own_days(begun):
    assert told(day(begun, "2026-03-09").today, "count") == [("count", "G1", "2026-03-09", "day 7 of 1 unit begun on 2026-03-02")]
    assert told(day(begun, "2026-03-10").today, "count") == [("count", "G1", "2026-03-10", "day 9 of 1 unit begun on 2026-03-01")]


def test_a_late_visit_keeps_a_day_and_one_to_other_units_does_not(begun):
    """D1 was looked at on its day 4, which keeps day 3; that was day 3 of D2, which was not counted then."""
    assert told(day(begun, "2026-03-10").missed, "count") == [
        ("count", "G1", "2026-03-05", "day 3 of 1 unit begun on 2026-03-02"),
        ("count", "G1", "2026-03-08", "day 7 of 1 unit begun on 2026-03-01"),
        ("count", "G1", "2026-03-09", "day 7 of 1 unit begun on 2026-03-02"),
    ]


def test_a_visit_keeps_no_day_before_the_last_planned_one(begun):
    """A visit to all units on day 9 of D1 comes too late for its day 7, and is in time for day 7 of D2."""
    seen = begun.having("visits", [{"visit_id": "V2", "trial_id": "G1", "visited_at": "2026-03-10", "visited_by": "P1",
                                    "looked_for": "normal", "counting": "new"}])
    found = day(seen, "2026-03-10")
    assert told(found.today, "count") == []
    assert [t[2] for t in told(found.missed, "count")] == ["2026-03-05", "2026-03-08"]


def test_a_visit_that_is_still_to_come_keeps_nothing(begun):
    assert ("count", "G1", "2026-03-04", "day 3 of 1 unit begun on 2026-03-01") in told(day(begun, "2026-03-04").today, "count")


def test_what_is_judged_is_named_a_week_ahead_and_no_longer(begun):
    soon = [j for j in day(begun, "2026-03-10").soon if j.do == "count"]
    assert [(j.on, j.what.partition(": ")[2]) for j in soon] == [
        ("2026-03-11", "planned visit"), ("2026-03-15", "germinated is judged"), ("2026-03-16", "germinated is judged"),
    ]  # fmt: skip
    assert not [j for j in day(begun, "2026-03-07").soon if j.on > "2026-03-14"]


def test_thinning_is_missed_until_a_visit_thins(begun):
    assert [t[2] for t in told(day(begun, "2026-03-10").missed, "thin")] == ["2026-03-08", "2026-03-09"]
    thinned = begun.having("visits", [{"visit_id": "V2", "trial_id": "G1", "visited_at": "2026-03-09", "visited_by": "P1",
                                       "looked_for": "normal", "counting": "new", "thinning_rule": "spacing"}])
    assert told(day(thinned, "2026-03-10").missed, "thin") == []
    late = ("count", "G1", "2026-03-08", "day 7 of 1 unit begun on 2026-03-01")
    assert late not in told(day(thinned, "2026-03-10").missed, "count")


def test_solutions_are_renewed_until_the_last_planned_day(begun):
    found = day(begun, "2026-03-10")
    assert [j.on for j in (*found.today, *found.soon) if j.do == "renew"] == ["2026-03-10", "2026-03-13"]
    assert found.unknown == (UNKNOWN.format(trials="G1"),)
    assert not [j for j in day(begun, "2026-04-10").today if j.do == "renew"]


def renewing(package, day, renewed="true", **more):
    """The package with one more visit, which says whether solution was renewed."""
    row = {"visit_id": f"R{day}", "trial_id": "G1", "visited_at": f"2026-03-{day:02d}", "visited_by": "P1", "looked_for": "normal",
           "counting": "new", "renewed": renewed == "true"} | more  # fmt: skip
    return package.having("visits", [row])


def missed_renewals(package, on):
    return [j.on for j in day(package, on).missed if j.do == "renew"]


def test_a_renewal_is_missed_where_visits_say_of_renewals_and_none_did_it(begun):
    """D1 lies dry since 1 March and is renewed every 3 days: on 4, 7, 10 and 13 March (counted by hand)."""
    assert missed_renewals(begun, "2026-03-10") == [], "nobody said anything of it, so nothing is known"
    late = renewing(begun, 8)
    assert missed_renewals(late, "2026-03-09") == ["2026-03-04"], "8 March keeps the 7th, a day late"
    assert day(late, "2026-03-09").unknown == ()
    assert missed_renewals(renewing(late, 5), "2026-03-09") == []
    assert missed_renewals(renewing(begun, 8, "false"), "2026-03-09") == ["2026-03-04", "2026-03-07"]
    assert [j.on for j in day(renewing(late, 10), "2026-03-10").soon if j.do == "renew"] == ["2026-03-13"]


def test_a_renewal_of_other_dishes_keeps_nothing(begun):
    """D2 lies in no solution; a visit at which it alone was counted and renewed says nothing of D1."""
    count = {"visit_id": "R8", "unit_id": "D2", "outcome": "normal", "taxon_id": "AV", "observer": "P1", "count": 0}
    assert missed_renewals(renewing(begun, 8).having("counts", [count]), "2026-03-09") == ["2026-03-04", "2026-03-07"]
    assert missed_renewals(renewing(begun, 8).having("counts", [count | {"unit_id": "D1"}]), "2026-03-09") == ["2026-03-04"]


def test_the_latest_calibration_counts(begun):
    found = day(begun, "2026-03-10")
    assert told(found.missed, "calibrate") == [("calibrate", "balance-2", "2026-03-08", "mass; done last on 2025-03-08")]
    assert told(day(begun, "2026-03-08").today, "calibrate")


def test_seed_in_store_is_weighed_and_tested_each_year(begun):
    found = day(begun, "2026-03-10")
    assert told(found.soon, "weigh", "test") == [
        ("weigh", "AV-0", "2026-03-12", "last done on 2025-03-12"), ("test", "AV-0", "2026-03-14", "last done on 2025-03-14"),
    ]  # fmt: skip
    assert not told(day(begun, "2026-03-10", weigh_every_d=0, test_every_d=0).soon, "weigh", "test")


def test_an_empty_package_has_an_empty_day(tmp_path):
    found = day(new_package(tmp_path / "p", "Empty", STAMP), dt.date(2026, 3, 10))
    assert (found.on, found.today, found.missed, found.soon, found.unknown) == ("2026-03-10", (), (), (), ())
    page = day_page.write(found, "Empty", tmp_path / "day.md")
    assert "Nothing is planned for today." in page.read_text(encoding="utf-8")


def test_the_page_holds_every_job_with_a_box(begun, tmp_path):
    found = day(begun, "2026-03-10")
    text = day_page.write(found, "Begun", tmp_path / "day.html").read_text(encoding="utf-8")
    assert text.count(day_page.BOX) == len(found.today) + len(found.missed) + len(found.soon)
    assert UNKNOWN.format(trials="G1") in text


def test_a_text_that_is_no_date_is_told(begun):
    with pytest.raises(PaleaError, match="is not a date"):
        day(begun, "10 March")


DRAW = {"movement_id": "M9", "moved_at": "2026-03-10", "mass_g": "5", "moved_by": "P1"}


@pytest.mark.parametrize(("table", "row", "rule"), [
    ("movements", DRAW | {"lot_id": "AV-K", "kind": "sown", "trial_id": "G1"}, "lots.keep-sample-sown"),
    ("movements", DRAW | {"lot_id": "AV-0", "kind": "sown", "trial_id": "G1", "mass_g": "81"}, "lots.more-drawn-than-held"),
    ("units", {"unit_id": "D7", "trial_id": "G1", "kind": "dish", "treatment_id": "T1", "lot_id": "AV-K", "sown_n": "25",
               "status": "in use"}, "lots.keep-sample-planned"),
])  # fmt: skip
def test_a_draw_that_touches_the_keep_sample_is_stopped_before_it_is_written(begun, table, row, rule):
    proposal = entry.propose(begun, table, [row])
    assert rule in {f.rule for f in proposal.new_errors}
    with pytest.raises(EntryError, match="Nothing was written"):
        entry.save(proposal, STAMP, "entry")
    assert len(palea.open_package(begun.folder)[table]) == 0, "the package on disk is still as it was begun"


def test_what_the_lot_holds_beside_its_keep_sample_may_all_be_drawn(begun):
    row = DRAW | {"lot_id": "AV-0", "kind": "sown", "trial_id": "G1", "mass_g": "80"}
    assert not [f for f in entry.propose(begun, "movements", [row]).new_errors if f.rule.startswith("lots.")]
