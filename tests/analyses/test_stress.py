"""Stress and storage on the demo: the verdicts that its truth foresees, and numbers that its truth lies within.

Source of what is expected: kit/palea/demo/truth.json, from which the demo was generated.
"""

from statistics import NormalDist

import numpy as np
import pytest

import palea
from palea.analyses import germination_stress
from palea.analyses.plan import _applies
from palea.demo.truth import truth
from palea.derived.facts import Facts
from palea.derived.subject import Subject, known_trials

CHANGES = [c for c in truth()["expected"] if c.startswith("C-G2-") and c.endswith("-05")]


@pytest.fixture(scope="module")
def drought(journey):
    return palea.run("germination.water", journey, trial="G2").result


@pytest.fixture(scope="module")
def hydrotime(journey):
    return palea.run("germination.water", journey, trial="G3").result


@pytest.mark.parametrize("contrast_id", CHANGES)
def test_whether_a_coat_is_as_harmless_in_drought(contrast_id, drought):
    taxon = contrast_id.split("-")[2]
    (effect,) = [e for e in drought.effects if e.verdict and e.of["taxon"] == taxon]
    assert (effect.of["a"], effect.of["b"], effect.of["environment"]) == (f"{taxon}-T06", f"{taxon}-T03", "G2-20-10-dry-1")
    assert effect.verdict == truth()["expected"][contrast_id]


def test_changes_that_nobody_declared_carry_no_verdict(drought):
    bare = [e for e in drought.effects if not e.verdict]
    assert len(bare) == 9
    assert all(np.isfinite(e.value) and not e.kind and np.isnan(e.margin) for e in bare)
    assert {e.of["environment"] for e in bare} == {"G2-20-10-dry-1", "G2-30-20-dry-1"}


def test_too_few_potentials_are_told_once(drought):
    assert not drought.groups
    assert sum("Hydrotime needs" in w for w in drought.warnings) == 1


@pytest.mark.parametrize("arm", ["T03", "T05", "T06"])
@pytest.mark.parametrize(
    ("quantity", "name", "sign"),
    [("base water potential", "base", 1), ("spread of base water potential", "sigma", 1), ("hydrotime", "theta", 1)],
)
def test_hydrotime_lies_within_its_intervals(arm, quantity, name, sign, hydrotime):
    """Nine intervals of 95 %, of which the demo's seed has all around the truth."""
    (group,) = [g for g in hydrotime.groups if g.quantity == quantity and g.of["treatment"] == f"CC-{arm}"]
    assert group.lower < sign * truth()["hydrotime"][arm][name] < group.upper


def test_the_encrusted_seed_needs_it_wetter(hydrotime):
    """Truth: by 0.31 MPa; the film by none."""
    of = {e.of["a"]: e for e in hydrotime.effects if e.quantity == "base water potential"}
    assert 0 < of["CC-T06"].lower < 0.31 < of["CC-T06"].upper
    assert of["CC-T05"].lower < 0 < of["CC-T05"].upper
    assert not of["CC-T06"].verdict, "it was not declared"


def test_warmth_is_judged_between_fillings_of_chambers(journey):
    """Truth: -.9 on the logit for thrift, with two fillings a temperature, so four units."""
    result = palea.run("germination.temperature", journey, trial="G2").result
    warmth = [g for g in result.groups if g.quantity == "effect of temperature"]
    assert len(warmth) == 6
    assert {(g.rung, g.n_units) for g in warmth} == {("incubator run", 4)}
    assert all(g.value < 0 for g in warmth if g.of["taxon"] == "AM")
    assert not [e for e in result.effects if e.verdict]


def stored(journey):
    return palea.run("germination.storage", journey, trial="G5")


@pytest.mark.parametrize("arm", ["T03", "T08"])
def test_half_lives_in_the_room_lie_within_their_intervals(arm, journey):
    """Truth: probit = 1.28 - months / s, so half is alive after 1.28 s: 23.0 months bare and 14.1 in the pellet."""
    months = truth()["ageing"]["probit_at_start"] * truth()["ageing"]["months_a_probit"]["room"][arm]
    groups = [g for g in stored(journey).result.groups if g.of.get("lot") == f"CC-{arm}-1-room"]
    of = {g.quantity: g for g in groups}
    assert of["half-life in storage"].lower < months < of["half-life in storage"].upper
    start = 100 * NormalDist().cdf(truth()["ageing"]["probit_at_start"])
    assert of["viability before storage"].lower < start < of["viability before storage"].upper


def test_the_pellet_keeps_less_long_but_that_is_not_shown(journey):
    """Truth: 11 / 18. In the dry store no fall is shown within a year, so nothing can be compared there."""
    room, dry = sorted((e for e in stored(journey).result.effects), key=lambda e: e.verdict == "not judged")
    assert room.lower < 11 / 18 < room.upper
    assert room.verdict == "not shown"
    assert room.reason.startswith("Store: room shelf.")
    assert dry.verdict == "not judged"


def test_stores_are_said_and_not_named_as_environments(journey):
    rows = stored(journey).results
    assert rows["environment_id"].isna().all()
    assert set(rows["lot_id"].dropna()) <= set(journey["lots"]["lot_id"])


@pytest.mark.parametrize(
    ("recipe", "trials"),
    [("germination.water", "G2 G3"), ("germination.temperature", "G2"), ("germination.storage", "G5"), ("germination.dose", "")],
)
def test_a_question_is_chosen_for_the_trials_that_it_fits(recipe, trials, journey):
    (asked,) = [r for r in germination_stress.RECIPES if r.id == recipe]
    assert [t for t in known_trials(journey) if _applies(Facts(Subject(journey, t)), asked)] == trials.split()


def test_two_doses_make_no_curve(journey):
    outcome = palea.run("germination.dose", journey, trial="G1")
    assert outcome.refused
    assert "needs four doses above 0" in outcome.result.missing
