"""The walk from a result, plant, unit or lot back to the collected seed, and forward to all that came of it."""

import json

import pytest
from typer.testing import CliRunner

from palea.cli.__main__ import app
from palea.derived.facts import Facts
from palea.documents import html
from palea.documents.page import Picture, said
from palea.documents.page import walk as parts
from palea.errors import PaleaError
from palea.record import lineage, walk

UNIT = "G1-CC-T05-1-1"


@pytest.fixture(scope="module")
def of_a_dish(package):
    return walk.back(package, UNIT)


def test_a_dish_leads_back_through_coat_and_brush_to_the_received_seed(of_a_dish):
    assert of_a_dish.lots == ("CC-T05-1", "CC-T03-1", "CC-0")
    keys = [(line.table, line.key) for line in of_a_dish.lines]
    wanted = ("units", UNIT), ("runs", "R-CC-T05-1"), ("lots", "CC-T03-1"), ("runs", "R-CC-T03-1"), ("lots", "CC-0")
    in_order = [keys.index(key) for key in wanted]
    assert in_order == sorted(in_order)
    assert "was received" in of_a_dish.lines[-1].what
    assert "It was collected" in of_a_dish.lines[-1].what


def test_every_step_of_the_runs_behind_it_is_told(of_a_dish, package):
    told = {(line.table, line.rows[0]) for line in of_a_dish.lines if line.table == "run_steps"}
    steps = package["run_steps"]
    behind = steps[steps["run_id"].isin(["R-CC-T05-1", "R-CC-T03-1"])]
    assert told == {("run_steps", int(i) + 2) for i in behind.index}
    assert len(told) > 10


def test_each_line_says_where_it_stands(of_a_dish, package):
    for line in of_a_dish.lines:
        row = package[line.table].iloc[line.rows[0] - 2]
        assert str(row.iloc[0]) == line.key.split("/")[0], "a row's first column begins its key"
        assert (line.what[0].isupper() or line.what[0].isdigit())
        assert line.what.endswith(".")


def test_a_place_that_may_not_be_told_is_not_told(of_a_dish, package):
    lots = package["lots"]
    place = lots.loc[lots["lot_id"].eq("CC-0"), "place"].iloc[0]
    assert place not in " ".join(line.what for line in of_a_dish.lines)


def test_a_result_rests_on_its_dishes_and_each_lot_is_told_once(package):
    row = package["results"].iloc[0]
    found = walk.back(package, f"{row['analysis_id']}/{row['result_no']}")
    units = package["units"]
    sown = units[units["trial_id"].eq("G1") & units["treatment_id"].eq(row["treatment_a"])]
    told = [n for line in found.lines if line.table == "units" for n in line.rows]
    assert sorted(told) == [int(i) + 2 for i in sown.index]
    lots = [line.key for line in found.lines if line.table == "lots" and line.what.startswith("Lot ")]
    assert len(lots) == len(set(lots))
    assert set(lots) == set(found.lots)
    assert "CC-0" in lots


def test_forward_from_the_received_lot_is_everything_that_came_of_it(package):
    found = walk.ahead(package, "CC-0")
    assert set(found.lots) == set(package["lots"]["lot_id"]), "in a package of one species all lots came of it"
    sown = sum(len(line.rows) for line in found.lines if line.table == "units")
    assert sown == package["units"]["lot_id"].notna().sum()
    assert any(line.table == "results" for line in found.lines)


def test_forward_and_back_agree(package):
    ahead = set(walk.ahead(package, "CC-T03-1").lots)
    for lot in ("CC-T05-1", "CC-T08-1"):
        assert lot in ahead
        assert "CC-T03-1" in walk.back(package, lot).lots


def test_what_is_not_there_is_told_with_the_nearest(package):
    with pytest.raises(PaleaError, match="The nearest is “CC-T05-1”"):
        walk.back(package, "CC-T05-1x")
    with pytest.raises(PaleaError, match="Only from a lot does a walk lead forward"):
        walk.ahead(package, UNIT)


def test_a_walk_is_a_page_with_the_picture_of_its_lot(of_a_dish, package):
    page = walk.assemble(package, of_a_dish)
    (picture,) = (x for x in parts(page) if isinstance(x, Picture))
    assert "CC-0 to R-CC-T03-1" in picture.alternative
    assert "R-CC-T05-1" in html.write(page)
    assert said(page.title).startswith(f"From {UNIT} back")


def test_the_picture_of_a_species_weighs_what_the_book_weighs(package):
    nodes, links = lineage.frames(Facts(package), "CC")
    moves = package["movements"]
    drawn = moves.loc[moves["kind"].eq("drawn for run"), "mass_g"].sum()
    into = links.loc[nodes["kind"].to_numpy()[links["to"]] == "run", "grams"].sum()
    assert into == pytest.approx(float(drawn))
    assert len(nodes) < (len(package["lots"]) + len(package["runs"])) / 2, "like things are one"


def test_the_command_tells_it_in_lines_and_in_json(package):
    run = CliRunner().invoke(app, ["walk", str(package.source), UNIT])
    assert run.exit_code == 0
    assert f"The dish {UNIT} of trial G1 was sown with 25 seeds of CC-T05-1" in run.stdout
    document = json.loads(CliRunner().invoke(app, ["walk", str(package.source), "CC-T05-1", "--forward", "--json"]).stdout)
    assert document["forward"]
    assert document["lots"][0] == "CC-T05-1"
    assert CliRunner().invoke(app, ["walk", str(package.source), "nowhere"]).exit_code == 2
