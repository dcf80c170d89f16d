"""A colleague's coat for my batch: amounts by hand, the speed as published, and what does not scale marked."""

import pytest

from palea.documents.page import Grid, gaps, said, walk
from palea.errors import PaleaError
from palea.record import for_my_batch
from palea.record.for_my_batch import Mine
from palea.record.story import Story

RUN = "R-CC-T08-1"


def grids(page):
    return [block for block in walk(page.children) if isinstance(block, Grid)]


def numbers(text):
    return float(text.split()[0])


@pytest.fixture(scope="module")
def mine(package):
    return for_my_batch.assemble(package, RUN, Mine(24.0, 0.1, 900.0))


def test_the_bill_is_the_sum_of_the_steps_per_gram_of_seed(package, mine):
    """By hand from the tables: all binder of the run, times my grams over theirs (1.2 g)."""
    steps = package["run_steps"]
    theirs = steps[steps["run_id"].eq(RUN) & steps["material_id"].notna()].groupby("material_id")["amount"].sum()
    bill = next(g for g in grids(mine) if "Equal build-up" in [c.heading for c in g.columns] and g.columns[0].heading == "Material")
    told = sorted(numbers(said(row.cells[1])) for row in bill.rows)
    assert told == pytest.approx(sorted(theirs * 24.0 / 1.2), rel=5e-3)


def test_the_speed_keeps_its_share_of_the_critical_speed(package):
    """0.30 m at 40 turns a minute is 23.1 in 0.90 m: n sqrt(D1 / D2), derived by hand from 42.3 / sqrt(D)."""
    step = package["run_steps"].query("run_id == @RUN and speed_rpm.notna()").iloc[0]
    wide = package.having("equipment", [{"equipment_id": step["equipment_id"], "bowl_diameter_mm": 300.0}])
    slow = wide.having("run_steps", [{"run_id": RUN, "step": step["step"], "speed_rpm": 40.0}])
    page = for_my_batch.assemble(slow, RUN, Mine(24.0, None, 900.0))
    table = grids(page)[-1]
    (row,) = [row for row in table.rows if said(row.cells[0]) == str(step["step"])]
    assert said(row.cells[4]) == "23.1 rpm"


def test_seed_eight_times_as_heavy_takes_half_the_coat_for_equal_thickness(package):
    """Like bodies: eight times the mass has four times the surface, so a gram has half of it."""
    story = Story(package)
    theirs = for_my_batch._tsw(story, story.row("runs", RUN))
    assert for_my_batch._thickness(Mine(1.0, theirs), Mine(1.0, 8 * theirs)) == pytest.approx(0.5)
    page = for_my_batch.assemble(package, RUN, Mine(24.0, 8 * theirs, 300.0))
    bill = next(g for g in grids(page) if g.columns[0].heading == "Material")
    for row in bill.rows:
        assert numbers(said(row.cells[2])) == pytest.approx(numbers(said(row.cells[1])) / 2, rel=0.01)


def test_times_air_and_drying_are_marked_to_be_tried(mine):
    table = grids(mine)[-1]
    dried = [row for row in table.rows if said(row.cells[1]).startswith("Dry")]
    assert dried
    assert all(said(row.cells[5]).endswith("to be tried") for row in dried)
    warned = " ".join(said(p.runs) for p in walk(mine.children) if hasattr(p, "runs"))
    assert "guards, dust extraction" in warned


def test_a_pan_that_is_not_known_leaves_the_speed_to_be_tried(package):
    page = for_my_batch.assemble(package, RUN, Mine(24.0))
    speeds = {said(row.cells[4]).partition("; ")[2] for row in grids(page)[-1].rows if said(row.cells[4])}
    assert speeds == {"to be tried"}
    assert "[not given: yours]" in [gap.text for gap in gaps(page)]


def test_a_setting_that_they_did_not_write_down_is_a_gap(package):
    step = package["run_steps"].query("run_id == @RUN and action == 'dry'").iloc[0]
    without = package.having("run_steps", [{"run_id": RUN, "step": step["step"], "temperature_c": None}])
    before, after = (gaps(for_my_batch.assemble(p, RUN, Mine(24.0, 0.1, 300.0))) for p in (package, without))
    assert len(after) == len(before) + 1
    assert after[-1].text.startswith("[not recorded: temperature")


@pytest.mark.parametrize(("run", "mine", "says"), [
    ("R-CC-T09-1", Mine(10.0), "withheld by Brackwater Coating Yard"),
    ("R-X", Mine(10.0), "There is no run “R-X”"),
    (RUN, Mine(0.0), "must be above zero"),
    (RUN, Mine(1.0, -0.1), "must be above zero"),
    (RUN, Mine(float("nan")), "must be above zero"),
])  # fmt: skip
def test_what_cannot_be_rescaled_says_why(package, run, mine, says):
    with pytest.raises(PaleaError, match=says):
        for_my_batch.assemble(package, run, mine)


def test_a_run_whose_seed_was_not_weighed_is_refused(package):
    movements = package["movements"]
    line = movements[movements["run_id"].eq(RUN) & movements["kind"].eq("drawn for run")].iloc[0]
    blank = package.having("movements", [{"movement_id": line["movement_id"], "mass_g": None}])
    with pytest.raises(PaleaError, match="mass of the seed"):
        for_my_batch.assemble(blank, RUN, Mine(10.0))
