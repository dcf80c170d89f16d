"""One-step answers of the bench as recipes: formula with numbers, the caution, and what is refused."""

import re

import pytest

from palea import schema
from palea.analyses import catalogue
from palea.analyses.bench_answers import RECIPES, precautions
from palea.calc.results import Refusal
from palea.errors import UnfitValue
from palea.words import say

each = pytest.mark.parametrize("recipe", RECIPES, ids=lambda r: r.id)


def ask(recipe_id, **given):
    recipe = catalogue.find(recipe_id)
    return recipe.compute(**recipe.settle(given))


@each
def test_an_answer_reads_no_table_and_shows_its_formula(recipe):
    assert recipe.reads == ()
    result = recipe.compute(**recipe.settle({}))
    assert re.search(r"= .*\d.* = .*\d", result.method), "letters, then the numbers put into it, then the answer"
    assert {e.unit for e in result.estimates} <= set(schema.words("unit"))
    assert {e.quantity for e in result.estimates} <= set(schema.words("quantity"))
    assert say(result, {})


@each
def test_a_quantity_that_a_recipe_is_about_is_among_its_answers(recipe):
    assert recipe.quantity in {e.quantity for e in recipe.compute(**recipe.settle({})).estimates}


def test_the_formula_can_be_checked_on_paper():
    told = ask("coating.volume_for_dose").method
    assert told.endswith("= 200 mg/kg x 0.04 kg / (20 mg/mL x 1 x 1) = 0.4 mL.")


@each
def test_no_answer_says_that_anything_is_safe(recipe):
    result = recipe.compute(**recipe.settle({}))
    told = " ".join((*result.warnings, *result.assumptions, result.method, *say(result, {})))
    told = told.replace("do not say that the step is safe", "").replace("safety", "")
    assert not re.search(r"\bsafe(ly)?\b", told)


@pytest.mark.parametrize(("recipe_id", "kind"), [
    ("coating.dilution", "acid"), ("coating.volume_for_dose", "active"), ("coating.soak_for_dose", "active"),
    ("coating.speed", "dust"), ("cleaning.quicker", "machinery"), ("handling.setting", "dust"),
])  # fmt: skip
def test_precautions_of_the_schema_stand_with_the_answer(recipe_id, kind):
    told = ask(recipe_id).warnings
    assert set(precautions(kind)) <= set(told)
    assert set(schema.hazards()["always"]) <= set(told)


def test_a_question_without_hazard_has_no_precautions():
    assert ask("lots.drying").warnings == ()
    assert precautions() == ()


def test_little_stock_is_carried_in_the_binder():
    assert "will not wet 40 g evenly" in ask("coating.volume_for_dose").warnings[0]
    assert ask("coating.volume_for_dose", carrier_ml=8.0).warnings[0].startswith("Fill 0.4 mL of stock up to 8 mL")


def test_the_temperature_counts_and_an_unmeasured_one_is_not_guessed():
    cool, warm = (ask("coating.osmotic", temperature_c=t).estimates[0].value for t in (15.0, 25.0))
    assert cool < warm, "warmer water needs more glycol for the same potential"
    ten = ask("coating.osmotic", temperature_c=10.0)
    assert {e.of["treatment"] for e in ten.estimates} == {"Michel 1983"}, "the other was measured from 15 to 35 degrees"
    assert any("Kaufmann" in w and "15 to 35" in w for w in ten.warnings)
    assert isinstance(ask("coating.osmotic", temperature_c=45.0), Refusal)


def test_salts_are_named_ideal():
    found = ask("coating.osmotic", solute="sodium chloride")
    assert {e.of["treatment"] for e in found.estimates} == {"sodium chloride, ideal"}
    assert "ideal" in found.warnings[0]


def test_another_acid_needs_its_density():
    refused = ask("coating.dilution", acid="nitric acid")
    assert isinstance(refused, Refusal)
    assert "density" in refused.remedy
    by_mass = ask("coating.dilution", acid="nitric acid", wanted_pct=10.0, stock_pct=65.0, total_g=650.0)
    assert [round(e.value, 6) for e in by_mass.estimates if e.unit == "g"] == [100.0, 550.0]


@pytest.mark.parametrize(("recipe_id", "given", "told"), [
    ("coating.dilution", {"wanted_pct": 60.0, "stock_pct": 50.0}, "cannot make it stronger"),
    ("coating.volume_for_dose", {"carrier_ml": 0.1}, "do not fit"),
    ("coating.osmotic", {"solute": "brine"}, "Known are: PEG 8000, mannitol"),
    ("lots.humidity", {"salt": "kitchen"}, "Known are: lithium chloride"),
    ("decision.bag", {"live_pct": "90"}, "two numbers separated by a semicolon"),
    ("handling.setting", {"tried": "three"}, "write settings and grams caught as 3: 55; 5: 102."),
    ("handling.rate", {"live_pct": 0.0}, "allowed is a share above 0"),
])  # fmt: skip
def test_what_cannot_be_reckoned_is_told(recipe_id, given, told):
    with pytest.raises(UnfitValue) as fault:
        ask(recipe_id, **given)
    assert told in str(fault.value)


def test_a_setting_lies_between_two_that_were_tried_and_never_beyond():
    """90 g lie 35/47 of the way from 55 to 102 g, so the setting is 3 + 2 x 35/47 = 4.489: by hand."""
    found = ask("handling.setting", tried="5: 102; 3: 55")
    assert found.estimates[-1].value == pytest.approx(3 + 2 * 35 / 47)
    beyond = ask("handling.setting", tried="3: 20; 5: 80")
    assert "setting of the seeder" not in {e.quantity for e in beyond.estimates}
    assert "none is guessed" in beyond.warnings[0]


def test_hands_that_are_as_quick_are_not_beaten():
    assert isinstance(ask("cleaning.quicker", hand_min_g=0.2), Refusal)
    first = ask("cleaning.quicker", hand_setup_min=40.0)
    assert first.estimates[0].value == 0
    assert "from the first gram" in first.warnings[0]


def test_seeds_that_do_not_share_out_are_refused():
    assert isinstance(ask("planning.dishes", total=7), Refusal)
