"""Runs told together: the right ones, with the right numbers, each once."""

import doctest

import pytest

from palea.documents import page
from palea.documents.page import Grid, Paragraph, said, walk
from palea.record import batches, coating, lots, procedures, spread, steps, story, tested
from palea.record.story import Story


@pytest.fixture
def told(soaked):
    return Story(soaked)


@pytest.fixture
def coats(told):
    return batches.all_batches(told, {"coat", "soak"})


@pytest.mark.parametrize("module", [spread, steps, lots, story, page])
def test_examples_in_the_docstrings_hold(module):
    assert doctest.testmod(module).failed == 0
    assert doctest.testmod(module).attempted > 0


def test_batches_are_the_runs_of_one_treatment(coats):
    """From the demo's plan: four batches for G1, six where G4 needs them, a fifth for the field."""
    six, five = dict.fromkeys(["AM-T05", "AM-T11", "AM-T12", "AM-T14"], 6), dict.fromkeys(["AM-T06", "AM-T07"], 5)
    assert {b.id: len(b.runs) for b in coats} == {**dict.fromkeys(["AM-T04", "AM-T10", "AM-T13"], 4), **six, **five}


def test_a_film_is_told_with_the_films_that_carry_something(told, coats):
    together = [[b.id for b in p.members] for p in procedures.together(told, coats)]
    assert ["AM-T05", "AM-T10", "AM-T13", "AM-T14"] in together
    assert sorted(key for members in together for key in members) == sorted(b.id for b in coats)


def test_what_differs_in_cycles_or_materials_is_told_apart(told, coats):
    together = [{b.id for b in p.members} for p in procedures.together(told, coats)]
    for one, other in (("AM-T05", "AM-T06"), ("AM-T05", "AM-T07"), ("AM-T05", "AM-T04"), ("AM-T11", "AM-T12")):
        assert not any({one, other} <= members for members in together)


def test_build_up_is_the_gain_in_dry_matter():
    """Source: common practice; 50 g at 8 % water to 80.5 g at 9 % is 46 to 73.255 g of dry matter: +59.25 % by hand."""
    run = {"run_id": "R"}
    seed = {"run_id": "R", "mass_g": 50.0, "moisture_pct": 8.0}
    product = {"run_id": "R", "mass_g": 80.5, "moisture_pct": 9.0}
    both = batches.Batches("AM", "coat", None, (run,), (seed,), (product,), ())
    assert batches.build_up(both, run) == pytest.approx(59.25, abs=0.005)
    wet = batches.Batches("AM", "coat", None, (run,), (seed,), (product | {"moisture_pct": None},), ())
    assert batches.build_up(wet, run) is None


def test_recovery_is_a_share_of_mass():
    """The demo's design, journey 12: 1200 g of AV as received gave 486 g of clean seed, 40 % by mass."""
    run = {"run_id": "R"}
    both = batches.Batches(
        "AV", "clean", None, (run,), ({"run_id": "R", "mass_g": 1200.0},), ({"run_id": "R", "mass_g": 486.0},), ()
    )
    assert batches.recovery(both, run) == pytest.approx(40.5)


def test_the_table_shows_the_mean_over_batches(told, coats, soaked):
    """The mean that stands in the record is the one that pandas takes over the same movements."""
    film = next(p for p in procedures.together(told, coats) if p.members[0].id == "AM-T05")
    grid = procedures.grid(told, film, batches.build_up, "Build-up on dry matter, %")
    row = next(r for r in grid.rows if said(r.cells[0]) == "AM-T10")
    moved = soaked["movements"]
    moved = moved[moved["run_id"].isin([f"R-AM-T10-{i}" for i in range(1, 5)])]
    dry = (moved["mass_g"] * (1 - moved["moisture_pct"] / 100)).astype(float)
    main = moved["lot_id"].isin([f"AM-T10-{i}" for i in range(1, 5)])
    bare, coated = (
        dry[m].groupby(moved["run_id"]).sum()
        for m in (moved["kind"].eq("drawn for run"), moved["kind"].eq("made") & main)
    )
    gain = 100 * (coated / bare - 1)
    (last,) = (i for i, c in enumerate(grid.columns) if c.heading == "Build-up on dry matter, % (planned 5)")
    shown = said(row.cells[last])
    assert shown == f"{gain.mean():.1f} ({gain.min():.1f} to {gain.max():.1f})"


def test_each_run_is_in_one_procedure(told, coats):
    runs = [run["run_id"] for p in procedures.together(told, coats) for run in p.runs]
    assert len(runs) == len(set(runs)) == 46


def test_an_active_is_told_beside_the_film(told, coats):
    film = next(p for p in procedures.together(told, coats) if p.members[0].id == "AM-T05")
    part = procedures.part(told, film, batches.build_up, "Build-up")
    words = " ".join(said(b.runs) for b in part.children if isinstance(b, Paragraph))
    assert "In cycle 2, AM-T10 and AM-T14 were also wetted with" in words
    assert "In cycle 2, AM-T13 was also wetted with" in words


def test_doses_keep_their_grade(told):
    grid = next(
        thing for thing in walk(coating.part(told).children) if isinstance(thing, Grid) and thing.anchor == "doses"
    )
    grades = {said(row.cells[0]): said(row.cells[4]) for row in grid.rows}
    assert grades["AM-T10"] == grades["AM-T13"] == "assayed"
    assert grades["AM-T11"].startswith("by uptake (an upper bound")


def _readings(**items):
    return [
        {
            "test_id": "Q",
            "replicate": i,
            "item": item.replace("_", " "),
            "value": value,
            "unit": unit,
            "out_of": out_of,
            "reported_only": None,
        }
        for item, (unit, out_of, values) in items.items()
        for i, value in enumerate(values, 1)
    ]


def test_thousand_seed_weight_is_ten_times_the_mean_of_hundreds():
    """Source: ISTA Rules, chapter 10: the mean of eight groups of 100, times ten; CV = 100 s / mean, by hand 1.0 %."""
    masses = [0.270, 0.272, 0.268, 0.274, 0.266, 0.270, 0.272, 0.268]
    found = tested.found({"quantity": "mass of units"}, _readings(mass=("g", 100, masses)))
    assert found == "2.70 g per 1000, CV 1.0 %"


def test_water_content_is_loss_over_moist_mass():
    """Source: ISTA Rules, chapter 9: (M2 - M3) / (M2 - M1) x 100: tins of 10 g, 4 g of seed, 0.4 g lost: 10 %."""
    readings = _readings(
        tin=("g", None, [10, 10]),
        tin_with_moist_seed=("g", None, [14, 14]),
        tin_with_dry_seed=("g", None, [13.6, 13.6]),
    )
    assert tested.found({"quantity": "moisture"}, readings) == "10.0 % of moist mass"


def test_purity_is_a_share_of_the_parts():
    """Source: ISTA Rules, chapter 3: percentages are based on the sum of the parts, not on the sample weighed first."""
    readings = _readings(
        pure_seed=("g", None, [4.7]), other_seed=("g", None, [0.1]), inert=("g", None, [0.2]), sample=("g", None, [5.1])
    )
    assert tested.found({"quantity": "purity"}, readings) == "94.0 % pure seed by mass, of 5.000 g"


def test_counts_are_pooled_over_replicates():
    readings = _readings(viable=("1", 50, [47, 45]), dead=("1", 50, [3, 5]))
    assert tested.found({"quantity": "viability"}, readings) == "92.0 % viable and 8.0 % dead of 100"


def test_a_percentage_without_counts_says_so():
    (reading,) = _readings(viable=("%", None, [92]))
    assert "reported without counts" in tested.found({"quantity": "viability"}, [reading | {"reported_only": True}])
