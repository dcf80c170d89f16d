"""Where seed came from, as a graph: ancestors, origins, batches, loops."""

import pytest

from palea.checks.examples import lot, moved, run, several
from palea.derived.facts import Facts
from palea.derived.lineage import ancestry, batches, history, looped, origins, parents


@pytest.fixture
def facts(frames):
    """AV-0 is cleaned into AV-1, coated into AV-2, of which AV-3 is a portion; AV-4 and AV-5 are portions of AV-0."""
    return Facts(frames(several(
        *(lot(f"AV-{n}") for n in range(6)),
        run("R1", "AV-0", "AV-1"), run("R2", "AV-1", "AV-2", "2025-02-10", kind="coat"),
        moved("moved to lot", "AV-2", "2025-02-11", counterpart_lot_id="AV-3"),
        moved("moved to lot", "AV-0", "2025-02-01", counterpart_lot_id="AV-4"),
        moved("moved to lot", "AV-0", "2025-02-02", counterpart_lot_id="AV-5"),
    )))


def test_every_lot_before_a_lot_is_its_ancestor(facts):
    before = facts[ancestry]
    assert set(before.loc[before["lot"].eq("AV-3"), "ancestor"]) == {"AV-0", "AV-1", "AV-2"}
    assert set(before.loc[before["lot"].eq("AV-4"), "ancestor"]) == {"AV-0"}


def test_a_received_lot_is_its_own_origin(facts):
    origin = facts[origins].set_index("lot")["origin"]
    assert origin.to_dict() == dict.fromkeys(["AV-0", "AV-1", "AV-2", "AV-3", "AV-4", "AV-5"], "AV-0")


def test_portions_of_untouched_seed_are_batches_and_portions_of_a_product_share_its_run(facts):
    batch = facts[batches].set_index("lot")["batch"]
    assert batch.to_dict() == {"AV-0": "AV-0", "AV-1": "R1", "AV-2": "R2", "AV-3": "R2", "AV-4": "AV-4", "AV-5": "AV-5"}


def test_history_lists_the_runs_behind_a_lot(facts):
    runs = facts[history]
    assert runs[runs["lot"].eq("AV-3")]["run"].tolist() == ["R2", "R1"]


def test_a_loop_is_found_and_does_not_hang(frames):
    facts = Facts(frames(several(
        lot("A"), lot("B"), lot("C"), moved("moved to lot", "A", counterpart_lot_id="B"),
        moved("moved to lot", "B", counterpart_lot_id="C"), moved("moved to lot", "C", counterpart_lot_id="A"),
    )))
    assert looped(facts[parents]) == ["A", "B", "C"]
    assert len(facts[ancestry]) == 9
