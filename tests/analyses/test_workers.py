"""Answers of several processes are those of one."""

from concurrent.futures import ThreadPoolExecutor
from threading import Event, Thread

import pytest

import palea
from palea.analyses import plan, workers
from palea.analyses.keep import made_ready
from palea.analyses.run import Subjects, together
from palea.derived.subject import Subject, fingerprint
from palea.shipped import folder


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


def test_two_processes_give_the_bytes_of_one_in_the_same_order(journey, asked, of_one, monkeypatch):
    told = []
    monkeypatch.setattr(workers, "WORTH", 2)
    several = workers.answered(Subjects(journey), asked, 2, lambda said, *_: told.append(said))
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
    asked = [("A", "a1", {}), ("B", "b1", {}), ("B", "b2", {}), ("B", "b3", {}), ("A", "a2", {}), ("C", "c1", {})]
    pile = workers.Pile(asked)
    assert [pile.take().question[1] for _ in range(2)] == ["b1", "a1"]
    assert [pile.take("B").question[1] for _ in range(3)] == ["b2", "b3", "c1"]
    last = pile.take("C")
    assert (last.question, last.place, pile.take("C")) == (asked[4], (4,), None)


class _Hand:
    """Two questions a trial, answered by themselves; `of_others` is called while a trial is planned."""

    def __init__(self, of_others=lambda of: None):
        self.of_others, self.planned, self.answered = of_others, [], []

    def plan(self, of):
        self.planned.append(of)
        self.of_others(of)
        return [(of, f"{of}{number}", {}) for number in (1, 2)]

    def answer(self, question):
        self.answered.append(question[1])
        return question


def test_trials_are_planned_by_who_answers_them_and_come_back_in_their_order():
    told, hand = [], _Hand()
    pile = workers.Pile((), ["A", "B", ""], lambda said, *_: told.append(said))
    pile.work_off(hand)
    assert (hand.planned, hand.answered) == (["", "A", "B"], ["1", "2", "A1", "A2", "B1", "B2"])
    assert [pile.found[place][1] for place in sorted(pile.found)] == ["A1", "A2", "B1", "B2", "1", "2"]
    assert told[0] == "[1/2 so far] package: 1"
    assert told[-1] == "[6/6] B: B2"


def test_who_has_nothing_left_waits_for_what_another_is_planning_and_helps():
    begun, waited = Event(), Event()

    def slowly(_):
        begun.set()
        waited.wait(5)

    pile, slow, quick = workers.Pile((), ["A"]), _Hand(slowly), _Hand()
    with ThreadPoolExecutor(2) as threads:
        first = threads.submit(pile.work_off, slow)
        begun.wait(5)
        second = threads.submit(pile.work_off, quick)
        with pytest.raises(TimeoutError):
            second.result(0.2)
        waited.set()
        first.result(5), second.result(5)
    assert sorted(slow.answered + quick.answered) == ["A1", "A2"]


def _in_time(task):
    """Do it beside the test, which then fails where it never ends."""
    beside = Thread(target=task, daemon=True)
    beside.start()
    beside.join(5)
    assert not beside.is_alive()


def _gone(_):
    raise workers.BrokenProcessPool


@pytest.mark.parametrize("where", ["plan", "answer"])
def test_what_a_dead_worker_leaves_waits_for_another(where):
    dead, hand = _Hand(), _Hand()
    setattr(dead, where, _gone)
    pile = workers.Pile((), ["A"])
    pile.work_off(dead)
    _in_time(lambda: pile.work_off(hand))
    assert hand.answered == ["A1", "A2"]
    assert len(pile.found) == 2


def test_a_fault_in_planning_is_raised_and_keeps_nobody_waiting():
    def wrong(_):
        raise KeyError

    pile, hand = workers.Pile((), ["A"]), _Hand()
    with pytest.raises(KeyError):
        pile.work_off(_Hand(wrong))
    _in_time(lambda: pile.work_off(hand))
    assert hand.answered == ["A1", "A2"]


def test_what_a_process_that_ended_leaves_is_answered_here(journey, asked, of_one, monkeypatch):
    monkeypatch.setattr(workers, "WORTH", 2)
    monkeypatch.setattr(workers.Lent, "answer", lambda self, question: _gone(question))
    assert list(map(_plain, workers.answered(Subjects(journey), asked, 2))) == list(map(_plain, of_one))


def test_all_that_is_planned_is_planned_and_answered_by_two_as_by_one():
    package = palea.open_package(folder("datapackages_demo") / "outsourced")
    planned = plan.questions(Subjects(package))
    two = workers.answered(Subjects(package), None, 2)
    assert [(ready.trial, ready.recipe.id) for ready in two] == [(of, recipe) for of, recipe, _ in planned]
    few = [place for place, (of, recipe, _) in enumerate(planned) if of or recipe.startswith("lots.")]
    one = workers.answered(Subjects(package), [planned[place] for place in few], 1)
    assert [_plain(two[place]) for place in few] == list(map(_plain, one))


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
