"""Handling on the demo: flow, the seeder and the mixtures, against the truth from which the demo was generated.

Source of what is expected: kit/palea/demo/truth.json ("seeder").
"""

import pytest

import palea
from palea.analyses import handling
from palea.analyses.plan import _applies
from palea.calc.handling.seeder import seeder
from palea.demo.truth import truth
from palea.derived import handled
from palea.derived.facts import Facts
from palea.derived.subject import Subject, known_trials

TRUTH = truth()["seeder"]
MATERIALS = [(taxon, arm) for taxon, arms in TRUTH["row_cv"].items() for arm in arms]


def groups(journey, recipe):
    result = palea.run(f"handling.{recipe}", journey, trial="H1").result
    return {(g.of.get("treatment", g.of.get("lot")), g.of["taxon"], g.quantity): g for g in result.groups}


@pytest.mark.parametrize(("taxon", "arm"), MATERIALS)
def test_evenness_of_the_row(taxon, arm, journey):
    """Twenty metres a run: a CV of 60 % is read as some 10 % less, since the counts of a metre are not below 0."""
    of = groups(journey, "seeder")
    row = of[f"{taxon}-{arm}", taxon, "row variation"]
    assert row.value == pytest.approx(100 * TRUTH["row_cv"][taxon][arm], rel=0.15)
    assert of[f"{taxon}-{arm}", taxon, "units per metre"].value == pytest.approx(TRUTH["units_a_metre"], rel=0.1)
    stops = TRUTH["stops_a_100_m"][taxon].get(arm, 0)
    found = of[f"{taxon}-{arm}", taxon, "stops per 100 m"]
    assert found.lower <= stops <= found.upper


def test_the_pellet_halves_the_row_variation(journey):
    """Truth: 24 against 50 %, lower is better; in Anthyllis 28 against 35 %, for which five runs are few.

    Asked of the views of the whole package, in which H1 is the only trial that was handled: a subject narrowed to H1 has
    no treatments.
    """
    facts = Facts(journey)
    frames = {v.name: facts[v] for v in (handled.metres, handled.runs, handled.gaps, handled.asked)}
    of = {e.of["a"]: e for e in seeder(**frames).effects if e.quantity == "row variation"}
    assert of["CC-T08"].value == pytest.approx(0.24 / 0.50, rel=0.1)
    assert of["CC-T08"].upper < 0.7
    assert of["CC-T08"].verdict == "better"
    assert of["AV-T06"].lower < 0.28 / 0.35 < of["AV-T06"].upper


def test_rates_of_coated_product_are_told_beside_those_of_seed(journey):
    """By hand: 30 units a metre of rows 0.25 m apart are 120 a square metre, of which some 93 x 97 % are alive."""
    of = groups(journey, "seeder")
    assert of["CC-T08", "CC", "live seeds per square metre"].value == pytest.approx(120 * 0.97 * 0.90, rel=0.1)
    product, seed = (of["CC-T08", "CC", f"sowing rate of {name}"].value for name in ("product", "bare seed"))
    assert product / seed == pytest.approx(1 + 1000 / 100, rel=0.03), "what was delivered weighs 11 times the seed"


@pytest.mark.parametrize(("taxon", "arm"), MATERIALS)
def test_flow_of_single_materials(taxon, arm, journey):
    """Truth, read with a CV of 2 %; Carr's index amplifies it."""
    expected, of = TRUTH["flow"][taxon][arm], groups(journey, "flow")

    def found(quantity):
        return of[f"{taxon}-{arm}", taxon, quantity].value

    assert found("bulk density") == pytest.approx(expected["loose_g_ml"], rel=0.05)
    assert found("tapped density") == pytest.approx(expected["tapped_g_ml"], rel=0.05)
    assert found("angle of repose") == pytest.approx(expected["angle_deg"], rel=0.05)
    assert found("blockages") == (100 if expected["funnel_g_s"] is None else 0)
    if expected["funnel_g_s"]:
        assert found("funnel flow") == pytest.approx(expected["funnel_g_s"], rel=0.05)


@pytest.mark.parametrize("mix", TRUTH["mixes"])
def test_share_of_the_hair_grass_along_the_hopper(mix, journey):
    of = groups(journey, "mixture")
    for third, share in TRUTH["mixes"][mix]["share"].items():
        if third != "of":
            assert of[f"mix-{mix}", "CC", f"share in the {third} third"].value == pytest.approx(100 * share, abs=4)
    drift = of[f"mix-{mix}", "CC", "drift along the hopper"]
    assert (drift.upper < 0) == (mix == "bare")


def test_a_mixture_is_named_as_its_lot(journey):
    for recipe in ("seeder", "mixture"):
        rows = palea.run(f"handling.{recipe}", journey, trial="H1").results
        assert {"mix-bare", "mix-dressed"} <= set(rows["lot_id"].dropna()) <= set(journey["lots"]["lot_id"])
        assert set(rows["treatment_a"].dropna()) <= set(journey["treatments"]["treatment_id"])


@pytest.mark.parametrize("recipe", handling.RECIPES, ids=lambda r: r.id)
def test_handling_is_asked_of_the_trial_that_was_handled(recipe, journey):
    assert [t for t in known_trials(journey) if _applies(Facts(Subject(journey, t)), recipe)] == ["H1"]


@pytest.mark.parametrize("recipe", ["flow", "seeder", "mixture"])
def test_a_single_batch_is_said_of_runs_and_once(recipe, journey):
    """Nothing lay in a dish here, and every material came out of one batch."""
    outcome = palea.run(f"handling.{recipe}", journey, trial="H1")
    told = [*outcome.sentences, *outcome.result.warnings]
    assert not [line for line in told if "dish" in line]
    assert all(line.count("These runs come from one batch: the answer holds for that batch") == 1 for line in outcome.sentences
               if "1 batch" in line or "2 batches" in line)  # fmt: skip
    assert any("These runs come from one batch" in line for line in outcome.sentences)
