"""Where seed went as a graph, and the treatments two by two."""

import pytest

from palea.checks.examples import lot, moved, run, several
from palea.derived import one_factor, passage
from palea.derived.facts import Facts


def unit(unit_id, lot_id, treatment):
    return {"units": [{"unit_id": unit_id, "lot_id": lot_id, "treatment_id": treatment, "trial_id": "G1", "kind": "dish"}]}


def treatment(name, **more):
    return {"treatments": [{"treatment_id": name, "label": name.lower(), "coat_class": "none", "route": "none"} | more]}


@pytest.fixture
def cleaned(frames):
    """AV-0 received; two like runs make AV-1 and AV-2 with waste, sown as T02; AV-3 a portion of AV-0 that was not weighed."""
    return Facts(frames(several(
        lot("AV-0"), lot("AV-1", fraction="main"), lot("AV-2", fraction="main"), lot("AV-1-w", fraction="waste"),
        lot("AV-2-w", fraction="waste"), lot("AV-3"),
        moved("received", "AV-0", "2025-01-01", 500.0),
        run("R1", "AV-0", "AV-1", in_g=100.0, out_g=60.0), run("R2", "AV-0", "AV-2", in_g=100.0, out_g=55.0),
        moved("made", "AV-1-w", mass_g=30.0, run_id="R1"), moved("made", "AV-2-w", mass_g=35.0, run_id="R2"),
        moved("moved to lot", "AV-0", counterpart_lot_id="AV-3"),
        moved("sown", "AV-1", mass_g=1.0, trial_id="G1"), moved("sown", "AV-2", mass_g=1.5, trial_id="G1"),
        unit("D1", "AV-1", "T02"), unit("D2", "AV-2", "T02"),
    )))  # fmt: skip


def test_a_passage_holds_the_grams_that_went_that_way_and_none_where_one_was_not_weighed(cleaned):
    flows = cleaned[passage.flows].set_index(["from_id", "to_id"])["grams"]
    assert flows["AV-0", "R1"] == 100.0
    assert flows["R1", "AV-1-w"] == 30.0
    assert flows.isna().to_dict()["AV-0", "AV-3"]


def test_what_went_into_runs_and_out_of_them_balances(cleaned):
    flows = cleaned[passage.flows]
    assert flows.loc[flows["to_kind"].eq("run"), "grams"].sum() == 200.0
    assert flows.loc[flows["from_kind"].eq("run"), "grams"].sum() == 60 + 30 + 55 + 35


def test_like_runs_their_products_and_their_waste_are_one_each(cleaned):
    told = cleaned[passage.stations].drop(columns="treatment").join(cleaned[passage.groups])
    group = told.set_index("id")["group"]
    assert group["R1"] == group["R2"]
    assert group["AV-1"] == group["AV-2"]
    assert group["AV-1-w"] == group["AV-2-w"]
    assert len({group[k] for k in ("AV-0", "AV-3", "R1", "AV-1", "AV-1-w", "G1")}) == 6
    assert told.set_index("id").loc[["R1", "AV-1-w"], "treatment"].tolist() == ["T02", "T02"], "handed on from what was sown"


def test_nothing_moved_is_nothing_to_show(frames):
    facts = Facts(frames({}))
    assert facts[passage.stations].empty
    assert facts[passage.passages].empty
    assert facts[passage.groups].empty
    assert facts[one_factor.pairs].empty
    assert facts[one_factor.absent].empty


@pytest.fixture
def arms(frames):
    """T01 in the hull, T02 by hand, T03 brushed, T05 a film, T17 and T18 a film with an active in two doses."""
    film = {"hull": "off", "clean_method": "brush machine", "coat_class": "film"}
    names = ("T01", "T02", "T03", "T05", "T17", "T18")
    active = {"material_id": "wetter", "unit": "mg/kg", "basis": "per kg bare seed", "of_seed_unit": "seed"}
    return Facts(frames(several(
        lot("L"), *(unit(f"D-{t}", "L", t) for t in names),
        treatment("T01", hull="on", role="untouched"), treatment("T02", hull="off", clean_method="hand", role="test"),
        treatment("T03", hull="off", clean_method="brush machine", role="test"), treatment("T05", **film, role="blank coat"),
        treatment("T17", **film, route="coat", role="test"), treatment("T18", **film, route="coat", role="test"),
        {"treatment_actives": [{"treatment_id": t, "amount": mg} | active for t, mg in (("T17", 100.0), ("T18", 300.0))]},
        {"contrasts": [{"contrast_id": "C1", "a": "T03", "b": "T02"}]},
    )))  # fmt: skip


def test_untouched_and_brushed_seed_differ_in_two_things_and_have_hand_cleaning_between_them(arms):
    """The check of the design: T01-T03 has no edge, T01-T02 and T02-T03 have."""
    pairs = arms[one_factor.pairs].set_index(["a", "b"])
    assert pairs.loc[("T01", "T03"), "n"] == 2
    assert pairs.loc[[("T01", "T02"), ("T02", "T03")], "differs"].tolist() == ["hull", "clean_method"]
    assert pairs["declared"].sum() == 1
    assert pairs.loc[("T02", "T03"), "declared"]


def test_two_doses_of_one_active_are_a_step_of_their_own(arms):
    pairs = arms[one_factor.pairs].set_index(["a", "b"])
    assert pairs.loc[[("T17", "T18"), ("T05", "T17")], "differs"].tolist() == ["dose", "active"]


def test_an_active_that_no_arm_puts_on_seed_in_its_hull_is_told(arms):
    assert arms[one_factor.absent].to_dict("records") == [{"taxon": "AV", "active": "wetter", "base": "T01"}]
