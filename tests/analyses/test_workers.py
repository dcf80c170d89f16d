"""Answers of several processes are those of one."""

import pytest

import palea
from palea.analyses import plan, workers
from palea.analyses.keep import made_ready
from palea.analyses.run import Subjects, together
from palea.derived.subject import Subject, fingerprint


@pytest.fixture(scope="module")
def asked(journey):
    """Four questions of the demo, two of them on the same views."""
    there = {(of, recipe) for of, recipe, _ in plan.questions(Subjects(journey), "G4")}
    whole = next(question for question in plan.questions(Subjects(journey), recipe="lots.purity"))
    return [("G4", recipe, {}) for _, recipe in sorted(there)[:3]] + [whole]


@pytest.fixture(scope="module")
def of_one(journey, asked):
    """The answers of this process."""
    return workers.answered(Subjects(journey), asked, 1)


def _plain(ready):
    return (ready.recipe.id, ready.trial, ready.results.to_csv(), ready.sentences, ready.warnings, ready.data_hash, ready.files)


def test_two_processes_give_the_bytes_of_one_in_the_same_order(journey, asked, of_one):
    told = []
    several = workers.answered(Subjects(journey), lambda: asked, 2, told.append)
    assert list(map(_plain, several)) == list(map(_plain, of_one))
    assert sorted(line.partition("] ")[2] for line in told) == sorted(f"{of or 'package'}: {r}" for of, r, _ in asked)


def test_questions_asked_together_are_answered_as_if_alone(journey, asked, of_one):
    alone = [made_ready(palea.run(r, journey, trial=of or None, **o), figures=False) for of, r, o in asked]
    without = [(*_plain(ready)[:-1], {p: d for p, d in ready.files.items() if p.endswith(".md")}) for ready in of_one]
    assert list(map(_plain, alone)) == without


def test_what_one_answer_puts_into_a_view_no_other_sees(journey, monkeypatch):
    ask = together(Subjects(journey))
    recipe = plan.catalogue.find("germination.final")
    kept = recipe.compute

    def meddling(**frames):
        for frame in frames.values():
            if hasattr(frame, "columns"):
                assert "meddled" not in frame
                frame["meddled"] = 1
        return kept(**{n: f.drop(columns="meddled") if hasattr(f, "columns") else f for n, f in frames.items()})

    object.__setattr__(recipe, "compute", meddling)
    try:
        first, second = ask("germination.final", "G4"), ask("germination.final", "G4")
    finally:
        object.__setattr__(recipe, "compute", kept)
    assert first.results.equals(second.results)
    assert ask("germination.final", "G4").results.equals(first.results)


def test_a_worker_stays_with_its_trial_and_then_takes_the_longest_pile():
    pile = workers.Pile([("A", "a1", {}), ("B", "b1", {}), ("B", "b2", {}), ("B", "b3", {}), ("A", "a2", {}), ("C", "c1", {})])
    first = pile.take()
    other = pile.take()
    assert [pile.asked[n][1] for n in (first, other)] == ["b1", "a1"]
    assert [pile.asked[pile.take("B")][1] for _ in range(2)] == ["b2", "b3"]
    assert pile.asked[pile.take("B")][1] == "c1"
    assert [pile.asked[pile.take("C")][1], pile.take("C")] == ["a2", None]


def test_what_a_dead_worker_leaves_is_answered_here(journey, asked, of_one, monkeypatch):
    def gone(_):
        raise workers.BrokenProcessPool

    pile = workers.Pile(asked)
    pile.work_off(gone)
    assert [pile.take("G4") for _ in range(3)] == [0, 1, 2]
    monkeypatch.setattr(workers, "WORTH", 1)
    monkeypatch.setattr(workers, "_by", lambda other, findings: gone)
    assert list(map(_plain, workers.answered(Subjects(journey), asked, 2))) == list(map(_plain, of_one))


def test_hashes_of_one_subject_are_those_of_each_question_alone(journey):
    subjects, recipes = Subjects(journey), [plan.catalogue.find(f"germination.{n}") for n in ("curve", "final", "curve")]
    told = [subjects.fingerprint("G4", r.columns) for r in recipes]
    assert told == [fingerprint(Subject(journey, "G4"), r.columns) for r in recipes]
    assert told[0] == told[2] != told[1]


def test_questions_are_answered_from_the_views_that_chose_them_until_another_subject(journey):
    subjects = Subjects(journey)
    asked = plan.questions(subjects, "G4")
    known = subjects["G4"]
    outcomes = list(plan.answers(subjects, asked[:1]))
    assert subjects["G4"] is known
    assert not outcomes[0].refused
    list(plan.answers(subjects, [asked[0], ("", "lots.purity", {})]))
    assert subjects["G4"] is not known


def test_few_questions_are_not_worth_a_second_process(journey, asked, monkeypatch):
    monkeypatch.setattr(workers, "ProcessPoolExecutor", None)
    assert len(workers.answered(Subjects(journey), asked[:1], 2)) == 1
