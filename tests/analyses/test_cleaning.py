"""Answers on cleaning in the demo, held against the numbers from which it was made (kit/palea/demo/truth.json)."""

import json

import pandas as pd
import pytest

import palea
from palea.shipped import HERE

TRUTH = json.loads((HERE / "demo" / "truth.json").read_text())
each = pytest.mark.parametrize("taxon", TRUTH["species"])


@pytest.fixture(scope="module")
def recovered(journey):
    return palea.run("cleaning.recovery", journey)


@pytest.fixture(scope="module")
def effort(journey):
    return {(e.of.get("taxon"), e.of.get("treatment"), e.quantity): e
            for e in palea.run("cleaning.effort", journey).result.estimates}  # fmt: skip


def _group(outcome, treatment, quantity):
    (found,) = [e for e in outcome.result.groups if e.of["treatment"] == treatment and e.quantity == quantity]
    return found


@each
def test_recovery_of_filled_units_is_that_of_the_truth(recovered, taxon):
    """Within 4 points: the fill of the received lot is known from 400 units, which is worth 2 points either way."""
    for treatment, name in (("T02", "hand_recovery"), ("T03", "brush_recovery")):
        found = _group(recovered, f"{taxon}-{treatment}", "recovery of filled units")
        assert found.value == pytest.approx(100 * TRUTH["species"][taxon][name], abs=4.0)


def test_the_brush_hurts_more_than_the_hand(recovered):
    """Setting of the demo: by hand 0.6 + 0.4 % are scratched or broken, by brush 7.5 + 1.7 %."""
    assert _group(recovered, "AV-T02", "damaged in cleaning").value == pytest.approx(1.0, abs=1.0)
    assert _group(recovered, "AV-T03", "damaged in cleaning").value == pytest.approx(9.2, abs=2.0)


def test_what_was_not_declared_earns_no_verdict(recovered):
    assert recovered.result.effects
    assert {e.verdict for e in recovered.result.effects} == {""}


def test_a_declared_contrast_earns_one(journey):
    """Truth: 62 against 90 % of the filled units of CC come through, so the brush keeps fewer."""
    declared = journey["contrasts"].iloc[:1].assign(
        contrast_id="C-NEW", a="CC-T03", b="CC-T02", asks_about="clean_method", outcome="recovery of filled units",
        kind="superiority", wanted="higher", declared_at="2023-01-01", margin=pd.NA,
    )  # fmt: skip
    outcome = palea.run("cleaning.recovery", journey.having("contrasts", declared))
    (found,) = [e for e in outcome.result.effects if e.verdict]
    assert (found.of["a"], found.quantity, found.verdict) == ("CC-T03", "recovery of filled units", "worse")


def test_minutes_by_hand_and_by_brush_are_those_of_the_truth(effort):
    """Truth: 4.5 min/g by hand and 4 min beside; the brush takes 30 min to set up and 8 beside, hands-on a quarter of
    the 0.25 min/g that it turns. From there 38 / (4.9 - 0.0625) = 7.9 g. Derived by hand.
    """
    minutes = TRUTH["minutes"]
    assert effort["AV", "AV-T02", "minutes per gram more"].value == pytest.approx(minutes["hand_per_g"] + 0.4, abs=0.4)
    assert effort["", "AV-T03", "minutes to set up"].value == pytest.approx(minutes["brush_setup"] + 8, abs=1.0)
    assert effort["", "AV-T03", "minutes per gram more"].value == pytest.approx(minutes["brush_per_g"] / 4, abs=0.01)
    assert effort["", None, "mass from which it is quicker"].value == pytest.approx(7.9, abs=0.5)


def test_one_mass_alone_cannot_tell_setting_up_from_grams(journey):
    told = palea.run("cleaning.effort", journey).warnings
    assert any(w.startswith("AV-T03: too few runs (4, different masses: 1)") for w in told)
