"""The reporting checklist: five states, each from the cell that decides it; never one number over all."""

import pytest

from palea import schema
from palea.checks import checklist
from palea.checks.checklist import State
from palea.checks.examples import lot, moved, several


class Told:
    """Tables with a descriptor, as a package has."""

    def __init__(self, tables, **descriptor):
        self._tables, self.descriptor = tables, descriptor

    def __getitem__(self, name):
        return self._tables[name]


def states(frames, example, item, **descriptor):
    return [a.state for a in checklist.evaluate(Told(frames(example), **descriptor)) if a.item == item]


WILD = {"source_kind": "wild harvest"}


@pytest.mark.parametrize(
    ("more", "state"),
    [
        (WILD | {"mother_plants": 40}, State.REPORTED),
        (WILD, State.MISSING),
        (WILD | {"why_blank": "mother_plants: not recorded"}, State.NOT_RECORDED),
        (WILD | {"why_blank": "mother_plants: withheld"}, State.WITHHELD),
        (WILD | {"why_blank": "mother_plants: not applicable"}, State.NOT_APPLICABLE),
        ({"source_kind": "purchased"}, State.NOT_APPLICABLE),
    ],
)
def test_each_state_comes_from_the_cell_that_decides_it(frames, more, state):
    assert states(frames, lot("AV-0", **more), "lots.mothers") == [state]


def test_what_lives_in_another_table_must_be_there_and_filled(frames):
    bag = lot("AV-0", **WILD)
    assert states(frames, bag, "lots.mass") == [State.MISSING]
    assert states(frames, several(bag, moved("received", "AV-0")), "lots.mass") == [State.MISSING]
    assert states(frames, several(bag, moved("received", "AV-0", mass_g=80)), "lots.mass") == [State.REPORTED]


def test_a_withheld_recipe_names_who_withholds(frames):
    coat = {"material_id": "COAT", "name": "coat", "role": "product", "disclosure": "withheld", "withheld_by": "P9"}
    told = [a for a in checklist.evaluate(Told(frames({"materials": [coat]}))) if a.item == "coating.material"]
    assert [(a.state, a.by) for a in told] == [(State.WITHHELD, "P9")]


def test_the_package_itself_is_asked_too(frames):
    assert states(frames, {}, "record.licence") == [State.MISSING]
    assert states(frames, {}, "record.licence", licenses=[{"name": "CC0-1.0"}]) == [State.REPORTED]


def test_counts_stand_by_stage_and_weight_and_leave_out_what_does_not_apply(frames):
    answers = checklist.evaluate(Told(frames(lot("AV-0", source_kind="purchased"))))
    rows = checklist.tally(answers)
    assert all(r["applicable"] == r["reported"] + r["withheld"] + r["not_recorded"] + r["missing"] for r in rows)
    due = [a for a in answers if a.state is not State.NOT_APPLICABLE]
    assert sum(r["applicable"] for r in rows) == len(due)
    assert {(r["stage"], r["weight"]) for r in rows} <= {(i["stage"], i["weight"]) for i in schema.checklist()}


def test_a_gap_points_at_the_row_that_is_asked_about(frames):
    found = [f for f in checklist.gaps(Told(frames(lot("AV-0", **WILD)))) if f.rule == "checklist.lots.purity"]
    assert [(f.table, f.row, f.field) for f in found] == [("lots", 2, "")]
    assert "For AV-0. (tests: method, tested_at, tested_by)" in found[0].message


def test_the_demo_says_truthfully_what_is_withheld_and_missing(journey):
    answers = checklist.evaluate(journey)
    withheld = {a.subject for a in answers if a.state is State.WITHHELD}
    assert any("CC-T09" in subject for subject in withheld), (
        "the contractor's coat scores low, and says who withholds it"
    )
    assert not [a for a in answers if a.state is State.WITHHELD and a.by == "not named"]
