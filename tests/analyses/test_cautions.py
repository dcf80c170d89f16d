"""A caution on an interval is borne in mind wherever the answer is: told first, kept beside it, printed in the record."""

from dataclasses import replace

import pytest

import palea
from palea.analyses import keep
from palea.calc import simulated
from palea.record import kept


@pytest.fixture(scope="module")
def outcome(journey):
    """Purity of the demo's lots, the first as if its samples had been uneven."""
    found = palea.run("lots.purity", journey)
    first, *others = found.result.estimates
    return replace(found, result=replace(found.result, estimates=(replace(first, caution=simulated.LEANING), *others)))


def test_it_is_the_first_thing_to_bear_in_mind(outcome, journey):
    first = outcome.warnings[0]
    lot = outcome.result.estimates[0].of["lot"]
    assert first.startswith(f"Intervals of {lot} (")
    assert first.endswith("held the true value in as few as 91 (tests/coverage, purity).")
    assert palea.run("lots.purity", journey).warnings == outcome.warnings[1:]


def test_it_is_kept_beside_the_answer_and_no_number_moves(outcome, journey):
    told = dict(keep._files(outcome, figures=False))[f"analyses/{keep.analysis_id(outcome)}/sentences.md"].decode()
    assert f"{kept.CAUTION}{outcome.warnings[0]}" in told.strip().split("\n\n")
    assert outcome.results.equals(palea.run("lots.purity", journey).results)


def test_the_record_prints_it_before_other_cautions(outcome, monkeypatch):
    others = [f"Doubt number {n} of another kind, with words enough." for n in ["one", "two", "three", "four"]]
    monkeypatch.setattr(kept, "sentences", lambda *_: ([], [*others, outcome.warnings[0]]))
    (note,) = kept.doubts(None, [{"analysis_id": "x"}], 3)
    assert note.children[0].runs[0] == outcome.warnings[0]
    assert len(note.children) == 4
    (alone,) = kept.doubts(None, [{"analysis_id": "x"}], 3, kept.OF_INTERVALS)
    assert [p.runs[0] for p in alone.children] == [outcome.warnings[0]], "of a question on the whole package only these"
