"""Earlier versions of recipes give the numbers that they gave, and no number moves without a version of its own.

The kept numbers of version 1 were written by commit 93d52c4 itself (tests/earlier/README.md), not by what is tested here.
"""

import importlib.util
import json
import shutil
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

import palea
from palea.analyses import catalogue, earlier, keep, plan
from palea.errors import RecipeError
from palea.sharing.compare import AGREE, compare
from palea.stamp import Stamp
from palea.tables import saving, upgrade
from palea.tables.opening import open_package

EARLIER = Path(__file__).parent.parent / "earlier"
STAMP = Stamp("thrift", "2026-11-25T21:00:00+00:00")
# No treatment of the package was sown in so few units that the versions differ; tests/calc/test_earlier.py shows them apart.
ALIKE_HERE = {"decision.cost", "decision.cost_curve"}
TWO_SITES = {"emergence.sites"}  # the calculation of emergence.final, over sites; the frozen package has one that was judged


def _module():
    spec = importlib.util.spec_from_file_location("numbers_of", EARLIER / "numbers_of.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


numbers_of = _module()


@pytest.fixture(scope="module")
def first():
    """A small package with numbers of version 1, as the present schema has it."""
    return upgrade.in_passing(open_package(EARLIER / "version-1.zip"))[0]


@pytest.fixture(scope="module")
def frozen():
    """One species through every stage, written by an earlier palea, with numbers of version 1."""
    return numbers_of.package()


@pytest.fixture(scope="module")
def others():
    """What one species on its way had not: a series of doses, seed in stores, a mixture, one question at two sites."""
    return numbers_of.package(numbers_of.OTHERS)


def _kept(packages, recipe):
    """(package, kept rows, trial, options) of a recipe: of lots and germination from the small package, else of its last trial."""
    package = packages[recipe.stage not in ("lots", "germination")]
    mine = package["analyses"]["recipe"].eq(recipe.id) & package["analyses"]["version"].eq(str(recipe.version))
    *_, row = package["analyses"][mine].to_dict("records")
    rows = package["results"][package["results"]["analysis_id"].eq(row["analysis_id"])]
    return package, rows, None if pd.isna(row["trial_id"]) else row["trial_id"], json.loads(row["options"])


kept = pytest.mark.parametrize(
    "recipe", [r for r in earlier.KEPT if r.id not in TWO_SITES], ids=lambda r: f"{r.id}/{r.version}"
)


@kept
def test_an_earlier_version_gives_the_numbers_that_it_gave(recipe, first, frozen):
    package, was, trial, options = _kept((first, frozen), recipe)
    outcome = palea.run(recipe.id, package, trial, version=recipe.version, **options)
    found = compare(was, outcome.results)
    assert len(found) == len(was) > 1
    if recipe.id == "survival.rows":  # its live seeds can end on a half, which another pandas rounds the other way
        found = found[found["apart"] != palea.schema.table("results")["n_seeds"].title]
    assert found["verdict"].isin(AGREE).all(), found
    assert len(found) > len(was) / 2
    (caution,) = [w for w in outcome.warnings if w.startswith("This is an earlier version, 1. Changed since: ")]
    assert earlier.left_behind()[recipe.id, recipe.version].better in caution


@kept
def test_the_present_version_gives_others(recipe, first, frozen):
    package, was, trial, options = _kept((first, frozen), recipe)
    found = compare(was, palea.run(recipe.id, package, trial, **options).results)
    assert found["verdict"].isin(AGREE).all() == (recipe.id in ALIKE_HERE)


def test_every_version_that_was_left_behind_is_run_or_says_why_not():
    known = {r.id: r.version for r in catalogue.RECIPES}
    wanted = [(name, version) for name, present in known.items() for version in range(1, present)]
    assert sorted(earlier.left_behind()) == sorted(wanted)
    for (name, version), left in earlier.left_behind().items():
        assert bool(left.gone) != bool(earlier.find(name, version)), (name, version)
        assert all(text.endswith(".") for text in (left.changed, left.better, left.gone) if text)


def test_a_version_is_found_by_number_and_one_that_is_gone_says_why():
    assert catalogue.find("germination.final/1").compute.__name__ == "final_1"
    assert catalogue.find("germination.final", 1) is catalogue.find("germination.final/1")
    assert catalogue.find("germination.final").version == 2
    with pytest.raises(RecipeError, match=r"^Version 1 of growth.compare can no longer be run: .* It can be run in: 2\.$"):
        catalogue.find("growth.compare", 1)
    with pytest.raises(RecipeError, match=r"has no version 7 here. It can be run in: 1, 2\.$"):
        catalogue.find("germination.final", 7)


def test_the_list_of_recipes_tells_of_earlier_versions():
    (row,) = [r for r in catalogue.as_rows() if r["id"] == "lots.tsw"]
    assert [(v["version"], v["can_be_run"], v["gone"]) for v in row["earlier"]] == [(1, True, "")]


def test_what_was_planned_in_a_version_is_asked_in_it_as_long_as_it_can_be(first, tmp_path):
    package = open_package(shutil.copytree(first.folder, tmp_path / "p"))
    analyses = package["analyses"].iloc[:2].assign(recipe=["germination.final", "germination.water"], version="1", options="{}")
    changed = package.replacing("analyses", analyses).replacing("results", package["results"].iloc[:0])
    package = saving.save(changed, STAMP, "entry")
    asked = [(o.recipe.id, o.recipe.version) for o in plan.answer_all(package, trial="G1")]
    assert asked == [("germination.final", 1), ("germination.water", 2)]


@pytest.fixture(scope="module")
def again():
    """What a rerun of the older package finds."""
    return palea.rerun(EARLIER / "version-1.zip")


def test_a_rerun_runs_the_recorded_version_and_tells_of_the_present_one(again):
    assert (again.count("identical") + again.count("within tolerance"), len(again.results)) == (33, 33)
    assert (again.agrees, again.reasons) == (True, {})
    told = again.later["G1-germination.final"]
    assert told.startswith(
        "version 1 was run again, as recorded. Version 2, the present one, gives 5 of 7 numbers otherwise, first of all "
        "normal seedlings (AV, G1-20, T01, sown units, value), which was 0.547386 and is 0. Changed since: "
    )
    assert "with another interval or verdict" in again.later["lots.tsw"]


def test_a_rerun_of_an_older_package_reads_it_in_a_temporary_copy_and_says_so(again, tmp_path):
    assert again.upgraded[0] == f"From schema 0.2.0 to {palea.schema.version()}."
    assert again.upgraded[1].startswith("trials: Columns added, blank: visit_days, thinning_days")
    assert "Read in a temporary copy. From schema 0.2.0" in again.told()
    assert (again.as_json()["upgraded"], again.as_json()["later_versions"]) == (list(again.upgraded), again.later)
    again.write(tmp_path / "rerun.md")
    page = (tmp_path / "rerun.md").read_text(encoding="utf-8")
    assert "The package follows an earlier schema, so it was read in a temporary copy" in page
    assert "version 1 was run again, as recorded" in page


def test_a_rerun_gives_as_its_reason_that_a_version_can_no_longer_be_run(first, tmp_path):
    package = open_package(shutil.copytree(first.folder, tmp_path / "p"))
    package = keep.keep(package, [palea.run("planning.size", package)], STAMP, figures=False)
    mine = {name: package[name][package[name]["analysis_id"].eq("planning.size")] for name in ("results", "analyses")}
    package = package.replacing("results", mine["results"]).replacing("analyses", mine["analyses"].assign(version="1"))
    saving.save(package, STAMP, "entry")
    found = palea.rerun(tmp_path / "p")
    why = earlier.why_gone("planning.size", 1)
    assert found.reasons == {"planning.size": f"{why} The numbers were held against version 2, the present one."}
    assert len(found.results) > 0
    assert found.agrees


def test_a_package_that_is_not_of_this_schema_is_answered_with_what_to_do():
    older = open_package(EARLIER / "version-1.zip")
    outcome = palea.run("lots.tsw", older)
    assert outcome.refused
    assert outcome.result.remedy.startswith("`palea upgrade PACKAGE --to FOLDER`")


@pytest.mark.parametrize("recipe", catalogue.RECIPES, ids=lambda r: r.id)
def test_no_number_moves_without_a_version(recipe, frozen, others):
    was = numbers_of.kept().get(recipe.id)
    package = frozen if numbers_of.package_for(recipe) == numbers_of.JOURNEY else others
    now = numbers_of.sketch(recipe, package, was and was["trial"])
    told = numbers_of.verdict(recipe, was, now)
    assert not told, told
    assert now.get("drawn", now["estimate"])[0] > 0, "it says nothing there that could move"


def test_a_number_that_moved_is_told_with_what_to_do():
    recipe = catalogue.find("germination.final")
    was = numbers_of.kept()[recipe.id]
    count, total = was["estimate"]
    assert numbers_of.verdict(recipe, was, was | {"estimate": [count, total * (1 + 1e-9)]}) == ""
    told = numbers_of.verdict(recipe, was, was | {"estimate": [count, total * (1 + 1e-4)]})
    assert told.startswith("germination.final: its numbers moved (estimate) and its version is still 2. If that was meant, raise")
    assert "Run `python tests/earlier`" in numbers_of.verdict(replace(recipe, version=3), was, was)
