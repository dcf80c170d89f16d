"""Planned against done: what deviates is in the table with its reason, or with a gap for it."""

import pytest

from palea.documents.page import gaps, said
from palea.record import planned_done
from palea.record.story import Story, open_cells


def rows(package):
    part = planned_done.part(Story(package))
    return [[said(cell) for cell in row.cells] for row in part.children[-1].rows]


@pytest.fixture(scope="module")
def told(package):
    return rows(package)


def test_recipe_layout_visits_and_exclusions_stand_in_one_table(told):
    kinds = {row[0].split()[0].rstrip(":") for row in told}
    assert kinds == {"Recipe", "Layout", "Visits", "Exclusions"}


def test_what_was_planned_and_kept_says_as_planned(told):
    (layout,) = [row for row in told if row[0].startswith("Layout of G1")]
    assert layout[2] == "as planned"
    assert layout[1].startswith("160 dishes, ")


def test_a_plot_that_was_lost_is_an_exclusion_with_its_reason(told):
    (lost,) = [row for row in told if row[0].startswith("Exclusions: F1-unsown-07")]
    assert lost[2] == "lost"
    assert lost[3].startswith("Dug over by rabbits")
    assert "before the outcome was known" in lost[3]


def test_a_reason_that_is_taken_away_is_a_gap_at_its_cell(package):
    units = package["units"].set_index("unit_id")
    line = package["units"].index[package["units"]["unit_id"].eq("F1-unsown-07")][0]
    assert units.loc["F1-unsown-07", "reason"]
    before = gaps(planned_done.part(Story(package)))
    after = gaps(planned_done.part(Story(package.having("units", [{"unit_id": "F1-unsown-07", "reason": None}]))))
    (more,) = [gap for gap in after if gap not in before]
    assert open_cells(more.anchor) == ("units", (int(line) + 2,), "reason")


def test_a_setting_outside_of_what_the_procedure_allows_is_a_deviation(package):
    """The procedure of the pellet sets bounds for the speed; 400 turns a minute are beyond."""
    steps = package["run_steps"]
    step = steps[steps["run_id"].eq("R-CC-T08-2") & steps["speed_rpm"].notna()].iloc[0]
    procedure = package["protocol_steps"]
    mine = procedure[procedure["protocol_id"].eq("pellet") & procedure["highest_speed_rpm"].notna()]
    assert len(mine)
    high = mine["highest_speed_rpm"].max()
    changed = package.having("run_steps", [{"run_id": "R-CC-T08-2", "step": step["step"], "speed_rpm": high * 2}])
    new = [row for row in rows(changed) if row not in rows(package)]
    assert len(new) == 1
    assert new[0][0].startswith(f"Recipe: R-CC-T08-2, step {step['step']}")
    assert f"{high:g}" in new[0][1]
    assert new[0][2] == f"{high * 2:g} rpm"
    assert new[0][3].startswith("[not recorded: reason")


def test_a_late_sheet_names_both_days(told):
    (late,) = [row for row in told if row[0] == "Visits: sheet of F1-W12"]
    assert (late[1], late[2]) == ("typed on 2024-11-18", "typed on 2024-11-20")


def test_units_that_were_not_looked_at_are_counted_with_the_reason(told):
    (row,) = [row for row in told if row[0] == "Visits: F2-W25"]
    assert "not counted" in row[2]
    assert row[3].startswith("not reached")


def test_build_up_is_told_beside_its_aim(told):
    (pellet,) = [row for row in told if "build-up of pellet" in row[0]]
    assert pellet[1] == "1100 %"
    assert pellet[2].endswith("% in 4 batches")


PLANNED = "3; 5; 7; 10; 14; 21; 28; 35; 42"


def looks(package, trial, days, **more):
    """Rows on the days of visits, with these planned days."""
    changed = package.having("trials", [{"trial_id": trial, "visit_days": days, **more}])
    return [row for row in rows(changed) if row[0].startswith(f"Visits of {trial}") and "judged" not in row[0]]


def test_visits_on_their_days_are_as_planned(package):
    """Units of one trial that began on different days have their own days: those of G5 began over a year."""
    (row,) = [r for r in rows(package.having("trials", [{"trial_id": "G1", "visit_days": PLANNED}]))
              if r[0].endswith("days from the start")]  # fmt: skip
    assert row[0].startswith("Visits of G1")
    assert "G1 days 3, 5, 7, 10, 14, 21, 28, 35 and 42" in row[1]
    assert row[2] == "as planned"
    (aged,) = [r for r in rows(package.having("trials", [{"trial_id": "G5", "visit_days": "3; 5; 7; 10; 14; 21; 28"}]))
               if r[0].endswith("days from the start")]  # fmt: skip
    assert "G5 days 3, 5, 7, 10, 14, 21 and 28" in aged[1]


def test_a_visit_on_another_day_stands_there_with_its_reason_or_a_gap(package):
    ((what, planned, done, why),) = looks(package, "G1", PLANNED.replace("14;", "13;"))
    assert what == "Visits of G1"
    assert planned.startswith("days 3, 5, 7, 10, 13, 21")
    assert done == "not on day 13; on day 14 without a plan"
    assert why == "Mould on four dishes, wiped off the lids."
    ((*_, why),) = looks(package, "G1", PLANNED.replace("10;", "9;"))
    assert why.startswith("[not recorded: notes, why other days than planned")


def test_days_of_a_running_trial_that_are_still_to_come_are_not_missed(package):
    later = PLANNED + "; 49"
    assert looks(package, "G1", later)[0][2] == "not on day 49"
    told = looks(package, "G1", later, status="running")
    assert [row[2] for row in told] == ["as planned"]
