"""Questions on screen: boxes from the options of a recipe, the answer with its formula and caution in plain sight."""

import pytest

from palea import panels
from palea.analyses import catalogue


def told(panel):
    """All that stands below the boxes."""
    return " ".join(getattr(part, "value", "") for box in panel.answer_place.children for part in getattr(box, "children", (box,)))


def test_a_volume_for_a_dose_comes_with_its_formula(empty, choose, type_into):
    """40 g of seed to 200 mg/kg of a 2 % w/v stock: 8 mg in 0.400 mL (worked by hand)."""
    panel = panels.bench(empty)
    choose(panel.question_box, "coating.volume_for_dose")
    assert "0.4" in told(panel)
    assert "Formula: V = dose x seed" in told(panel)
    type_into(panel.form, {"seed_g": "80,0"})
    assert "0.8" in told(panel), "a decimal comma is taken"
    type_into(panel.form, {"seed_g": "a bag"})
    assert "“a bag” is not a number" in panel.form.marks["seed_g"][1]


def test_acid_is_never_diluted_without_its_caution(empty, choose):
    panel = panels.bench(empty)
    choose(panel.question_box, "coating.dilution")
    assert "Add acid to water" in told(panel)


@pytest.mark.parametrize("recipe", [r.id for r in catalogue.RECIPES if not r.reads])
def test_every_question_of_the_bench_is_answered_as_it_opens(empty, choose, recipe):
    panel = panels.bench(empty)
    choose(panel.question_box, recipe)
    assert "did not work" not in panel.status.value
    assert len(told(panel)) > 80


def test_a_decision_is_asked_of_a_trial_and_drawn_when_wanted(journey, click):
    panel = panels.decision(journey, first="decision.reserve")
    panel.trial_box.value = "G1"
    assert "<svg" not in told(panel)
    click(panel.draw_button)
    assert "<svg" in told(panel)
