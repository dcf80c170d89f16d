"""Every recipe answers on the demo, in rows, words and a picture; what cannot be answered is refused in words."""

import pytest

import palea
from palea import schema
from palea.analyses import catalogue
from palea.analyses.plan import _applies
from palea.analyses.recipe import Recipe
from palea.calc.results import Refusal
from palea.derived.facts import Facts
from palea.derived.subject import Subject, known_trials
from palea.errors import RecipeError
from palea.figures import draw
from palea.stamp import Stamp
from palea.tables.saving import adopt
from palea.words import say

STAMP = Stamp("A. Fennel", "2026-09-01T09:00:00+00:00")
NOT_IN_THE_DEMO = {"germination.dose": "no trial of it has four doses of one active; tests/calc and tests/truths do"}
each = pytest.mark.parametrize("recipe", catalogue.RECIPES, ids=lambda r: f"{r.id}/{r.version}")


def fitting(recipe, package):
    """The first trial that a question applies to; None where it is about the whole package."""
    if recipe.about == "package":
        return None
    known = known_trials(package)
    return next((t for t in known if _applies(Facts(Subject(package, t)), recipe)), known[0])


@each
def test_a_recipe_answers_on_the_demo(recipe, journey):
    outcome = palea.run(recipe.id, journey, trial=fitting(recipe, journey))
    if recipe.id in NOT_IN_THE_DEMO:
        assert outcome.refused
        return
    assert not outcome.refused, outcome.result.missing
    rows = outcome.results
    assert list(rows) == list(schema.table("results").fields)
    assert rows["result_no"].tolist() == list(range(1, len(rows) + 1))
    for column in ("quantity", "denominator", "scale", "verdict", "rung"):
        field = schema.table("results")[column]
        assert set(rows[column].dropna()) <= set(schema.words(field.vocabulary)), column
    assert set(rows["unit"].dropna()) <= set(schema.words("unit"))
    assert outcome.sentences
    assert outcome.figure().to_dict()["$schema"].endswith(".json")


@each
def test_a_recipe_says_what_it_rests_on(recipe: Recipe):
    for table, columns in recipe.columns.items():
        for column in columns:
            # What is only asked about before sharing stays as it is; what is made coarse would make shared results stale.
            assert schema.table(table)[column].sharing in {"", "ask"}
    assert recipe.source
    assert recipe.rung in schema.words("rung")


@each
def test_a_refusal_has_rows_words_and_a_picture(recipe, journey, tmp_path):
    empty = palea.new_package(tmp_path / "p", "Nothing yet", palea.Stamp("A. Fennel", "2026-09-01T09:00:00+00:00"))
    planned = empty.having("trials", journey["trials"])
    outcome = palea.run(recipe.id, planned, trial=None if recipe.about == "package" else "G1")
    if not recipe.reads:  # a question of options alone is answered anywhere
        return
    assert outcome.refused
    assert outcome.results["verdict"].tolist() == ["not judged"]
    assert outcome.results["reason"].iloc[0]
    assert outcome.sentences
    assert outcome.figure().to_dict()
    assert set(outcome.results["quantity"]) <= set(schema.words("quantity"))


def test_a_refusal_of_a_recipe_is_a_result():
    refusal = Refusal(quantity="germinated", missing="Nothing was counted.", remedy="Count.")
    assert say(refusal, {})
    assert draw(refusal, say(refusal, {}), {}).to_dict()


@pytest.mark.parametrize(
    ("ask", "sentence"),
    [
        (
            {"recipe_id": "germination.finel"},
            "There is no recipe “germination.finel”. The nearest is “germination.final”.",
        ),
        ({"recipe_id": "germination.final/9"}, "germination.final has no version 9 here. It can be run in: 1, 2."),
        ({"recipe_id": "germination.final", "trial": "G7"}, "There is no trial “G7”. The package holds: G1, G2"),
        (
            {"recipe_id": "germination.time", "dishes": 3},
            "germination.time takes no option “dishes”. It takes: confidence, replicates, seed.",
        ),
        (
            {"recipe_id": "germination.final", "denominator": "sown"},
            "germination.final, option denominator: “sown” is not one of: ",
        ),
        (
            {"recipe_id": "germination.time", "replicates": 5},
            "germination.time, option replicates: 5 is outside 99 to 100000.",
        ),
        ({"recipe_id": "germination.time", "seed": "one"}, "germination.time, option seed: “one” is no int."),
    ],
)
def test_a_wrong_question_is_told_what_is_allowed(journey, ask, sentence):
    with pytest.raises(RecipeError) as told:
        palea.run(ask.pop("recipe_id"), journey, **ask)
    assert str(told.value).startswith(sentence)


def test_no_verdict_rests_on_rows_that_are_known_to_be_wrong(journey):
    """27 seeds came up in a dish of 25: the answer is a refusal that names the row."""
    dish = journey["units"]["unit_id"].iloc[0]
    counts = journey["counts"]
    first = counts[counts["unit_id"].eq(dish) & counts["outcome"].eq("normal")].iloc[:1].assign(count=27)
    outcome = palea.run("germination.final", journey.having("counts", first), trial="G1")
    assert outcome.refused
    assert dish in outcome.result.missing


def test_a_refusal_is_kept_with_its_reason(journey_copy):
    """Data that are known to be wrong may lie in a folder; the answer that they do not allow is kept and shared too."""
    path = journey_copy / "data" / "counts.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    at = lines[0].split(",").index("count")
    cells = lines[1].split(",")
    cells[at] = "27"
    path.write_text("\n".join([lines[0], ",".join(cells), *lines[2:]]) + "\n", encoding="utf-8")
    package = palea.open_package(journey_copy)
    package = adopt(package, STAMP, "Typed in a spreadsheet.")
    outcome = palea.run("germination.final", package, trial="G1")
    kept = palea.keep(package, [outcome], STAMP, figures=False)
    rows = kept["results"]
    assert rows["verdict"].tolist() == ["not judged"]
    assert "were sown" in rows["reason"].iloc[0]


def test_the_answer_is_the_same_twice_and_rests_on_nothing_else(journey):
    one, two = (palea.run("germination.time", journey, trial="G1") for _ in range(2))
    assert one.results.equals(two.results)
    assert one.data_hash == two.data_hash
    lots = journey["lots"].assign(notes="a remark")
    assert palea.run("germination.time", journey.replacing("lots", lots), trial="G1").data_hash == one.data_hash


def test_seed_moved_for_another_trial_makes_no_answer_stale(journey):
    """A lot that no unit of the trial came from is no part of what the trial's answer rests on."""
    other = journey["lots"].iloc[:1].assign(lot_id="AV-OTHER")
    moved = (
        journey["movements"]
        .iloc[:1]
        .assign(movement_id="M-OTHER", lot_id="AV-OTHER", kind="received", run_id=None, counterpart_lot_id=None)
    )
    changed = journey.having("lots", other).having("movements", moved)
    assert palea.run("germination.final", changed, trial="G1").data_hash == (
        palea.run("germination.final", journey, trial="G1").data_hash
    )
