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
