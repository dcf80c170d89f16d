"""`palea plan` as a person and as a program meet it."""

import json
import subprocess
import sys

import pytest

from palea.shipped import folder

JOURNEY = folder("datapackages_demo") / "journey"


def plan(*arguments):
    command = [sys.executable, "-m", "palea", "plan", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def test_a_layout_is_one_document_with_its_checks_and_its_source():
    done = plan("layout", "--treatments", "T01; T03; T05", "--repeats", 4, "--seed", 7, "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert len(told["units"]) == 12
    assert {u["treatment"] for u in told["units"] if u["block"] == 2} == {"T01", "T03", "T05"}
    assert all(check["holds"] for check in told["checks"])
    assert (told["options"]["seed"], told["recipe"]) == (7, "planning.layout")
    assert "Cochran" in told["source"]


def test_a_plan_to_print_is_written_once(tmp_path):
    file = tmp_path / "plan.svg"
    asked = ("layout", "--treatments", "T01; T03", "--figure", file)
    assert plan(*asked).returncode == 0
    assert "T03" in file.read_text(encoding="utf-8")
    again = plan(*asked)
    assert again.returncode == 2
    assert again.stderr.strip().endswith("Name another file, or say --replace.")
    assert plan(*asked, "--replace").returncode == 0


def test_size_shows_formula_and_units():
    """171 plots for 6 points from 60 %, 8 plants a plot, rho 0.05: Fleiss 1981 with the design effect, by hand."""
    done = plan("size", "--level-a", 66, "--level-b", 60, "--seeds", 8, "--rho", 0.05, "--have", 16, "--trials", 0)
    assert done.returncode == 0, done.stderr
    assert "you need about 171 units a treatment; you have 16, which can see 18 points." in done.stdout
    assert "(z_a + z_b)^2" in done.stdout
    assert done.stdout.startswith("Units needed for each arm 171, "), "it is of no group, so none is named"
    assert "Source: Fleiss 1981" in done.stdout


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (("size", "--kind", "equivalence"), "Give the smallest difference that matters, in points."),
        (("size", "--kind", "sameness"), "“sameness” is not one of: "),
        (("size", "--rho", "1.5"), "1.5 is outside 0 to 0.99."),
        (("layout", "--treatments", "T01"), "Add its control."),
        (("layout", "--treatments", "T01; T01"), "is named twice"),
        (("seed", "no-such-folder"), "no-such-folder"),
    ],
)
def test_what_cannot_be_planned_is_said_in_a_sentence(asked, told):
    done = plan(*asked)
    assert done.returncode == 2
    assert told in done.stderr
    assert not done.stdout
    assert "Traceback" not in done.stderr


def test_seed_says_whether_the_lots_hold_the_plan():
    done = plan("seed", JOURNEY, "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert told["fits"] is True
    assert {row["lot_id"] for row in told["results"]} == {"AV-0", "CC-0", "AM-0"}


def test_seed_that_falls_short_is_exit_1():
    """41 times the seed of the plan is 307 g of hair-grass; 240 g came."""
    done = plan("seed", JOURNEY, "--spare", 40)
    assert done.returncode == 1, done.stderr
    assert "of CC-0; the lot holds 240 g, of which 8 g are the keep-sample. Largest plan that fits: " in done.stdout
