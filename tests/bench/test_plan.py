"""The plan of a trial: laid out from a seed, locked with time and hash, later edits told as changes to it."""

import pytest

import palea
from palea.bench import entry, plan
from palea.errors import EntryError
from palea.stamp import Stamp

LATER = Stamp("sorrel", "2025-03-20T10:00:00+00:00")
LOTS = {"AV-T01": ["AV-T01-1", "AV-T01-2"], "AV-T03": ["AV-T03-1", "AV-T03-2"], "AV-T00": []}


@pytest.fixture
def planned(small, stamp):
    """The small package with a trial F9 that has an unsown treatment and no units yet."""
    trial = {"trial_id": "F9", "title": "Plots (invented)", "question": "Does the brush matter in the field?", "status": "draft"}
    treatment = {"treatment_id": "AV-T00", "label": "unsown", "role": "unsown"}
    proposal = entry.propose(small, "treatments", [treatment]).then("trials", [trial])
    assert proposal.new_errors == ()
    return entry.save(proposal, stamp, "entry")


def test_the_same_seed_gives_the_same_layout_and_another_seed_another(planned):
    first, again, other = (plan.lay_out(planned, "F9", LOTS, repeats=4, seeds=100, seed=n) for n in (3, 3, 4))
    assert first.proposal.rows == again.proposal.rows
    assert first.proposal.rows["units"] != other.proposal.rows["units"]
    rows = first.proposal.rows["units"]
    assert len(rows) == 12
    for block in {r["block"] for r in rows}:
        assert sorted(r["treatment_id"] for r in rows if r["block"] == block) == ["AV-T00", "AV-T01", "AV-T03"]


def test_batches_take_turns_unsown_plots_hold_no_seed_and_codes_tell_nothing(planned, stamp):
    laid = plan.lay_out(planned, "F9", LOTS, repeats=4, seeds=100)
    assert laid.proposal.new_errors == (), laid.proposal.new_errors
    saved = entry.save(laid.proposal, stamp, "entry")
    units = saved["units"][saved["units"]["trial_id"].eq("F9")]
    assert units[units["treatment_id"].eq("AV-T01")]["lot_id"].value_counts().to_dict() == {"AV-T01-1": 2, "AV-T01-2": 2}
    assert units.loc[units["treatment_id"].eq("AV-T00"), "sown_n"].tolist() == [0] * 4
    assert units["code"].tolist() == [f"P{n:02d}" for n in range(1, 13)], "codes follow the walk"
    trial = saved["trials"].set_index("trial_id").loc["F9"]
    assert (trial["allocation_method"], trial["random_seed"], trial["design"]) == ("palea.layout", 1, "randomised blocks")


def test_a_split_plot_has_main_plots_of_its_own_with_their_level(planned):
    laid = plan.lay_out(planned, "F9", LOTS, design="split plot", repeats=3, mains="open; fenced", main_factor="fence", seeds=50)
    rows, levels = laid.proposal.rows["units"], laid.proposal.rows["unit_levels"]
    mains = [r for r in rows if r["kind"] == "main plot"]
    assert len(mains) == 6
    assert sorted(r["level"] for r in levels) == ["fenced"] * 3 + ["open"] * 3
    assert {r["parent_unit_id"] for r in rows if r["kind"] == "plot"} == {r["unit_id"] for r in mains}


def test_a_locked_plan_tells_every_later_change_with_its_reason(planned, stamp):
    saved = entry.save(plan.lay_out(planned, "F9", LOTS, repeats=4, seeds=100).proposal, stamp, "entry")
    assert plan.stands(saved, "F9") is None
    locked = plan.lock(saved, "F9", stamp)
    when, told = plan.locked_as(locked, "F9")
    assert when == stamp.when
    assert told == plan.plan_hash(locked, "F9")
    assert plan.stands(locked, "F9") is True
    assert list(plan.changes_to(locked, "F9")) == []
    sown = entry.propose(locked, "units", [{"unit_id": "F9-AV-T01-01", "placed_at": "2025-03-18"}])
    locked = entry.save(sown, LATER, "entry")
    assert plan.stands(locked, "F9") is True, "sowing is no change to the plan"
    moved = entry.propose(locked, "units", [{"unit_id": "F9-AV-T01-01", "sown_n": "80"}])
    changed = entry.save(moved, LATER, "misread", "The bag held less.")
    assert plan.stands(changed, "F9") is False
    assert list(plan.changes_to(changed, "F9")) == [
        "2025-03-20 10:00, sorrel: units of trials, F9-AV-T01-01: Seed units sown was 100 and is 80 (Misread; The bag held less.).",
    ]


@pytest.mark.parametrize(("trial", "sentence"), [("F0", "There is no trial “F0”. There are: G1, F9"), ("G1", "has units already")])
def test_what_cannot_be_laid_out_is_refused(planned, trial, sentence):
    with pytest.raises(EntryError, match=sentence):
        plan.lay_out(planned, trial, LOTS)


def test_a_plan_without_units_is_not_locked_and_none_twice(planned, stamp):
    with pytest.raises(EntryError, match="has no units yet"):
        plan.lock(planned, "F9", stamp)
    locked = plan.lock(planned, "G1", stamp)
    with pytest.raises(EntryError, match="is locked since 2025-03-12"):
        plan.lock(palea.open_package(locked.folder), "G1", stamp)
