"""Answering the questions of a package in several processes: the same bytes in the same order, however many there are."""

import os
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack
from multiprocessing import get_context
from threading import Condition
from typing import NamedTuple

from palea.analyses import plan
from palea.analyses.keep import made_ready
from palea.analyses.run import Subjects, together

MOST = 4  # processes: each holds the package
WORTH = 10  # questions a process, below which its start costs more than it saves
_HERE = {}  # in another process: its hand


def answered(subjects, asked=None, processes=None, progress=None):
    """`Ready` answers, with sentences and figures, of what `plan.questions` gave, in that order.

    subjects : Subjects of the package.  asked : that list; None for all that is planned, which is then found out side by
    side too.
    processes : None for as many as there are cores to use, at most four, and one where few questions are asked. This
    process is one of them.
    progress : called when an answer is begun with a sentence, its number and how many are known of by then.
    """
    many = processes or min(cores(), MOST)
    if many == 1 and asked is None:
        asked = plan.questions(subjects)
    if asked is not None:
        many = min(many, max(1, len(asked) // WORTH))
    pile = Pile(asked or (), plan.subjects_of(subjects) if asked is None else (), progress)
    with ExitStack() as stack:
        context = get_context("spawn")  # a copy of a process in which threads run could stand still for ever
        folder = str(subjects.package.folder)
        others = [stack.enter_context(ProcessPoolExecutor(1, context, _begin, (folder,))) for _ in range(many - 1)]
        ready = [other.submit(len, ()) for other in others]  # starts it
        mine = Hand(subjects)
        threads = stack.enter_context(ThreadPoolExecutor(max(1, many - 1)))
        done = [threads.submit(_lend, pile, *both, subjects.findings) for both in zip(others, ready, strict=True)]
        pile.work_off(mine)
        for each in done:
            each.result()
        pile.work_off(mine)  # what one left that was ended from outside
    return [pile.found[place] for place in sorted(pile.found)]


def cores():
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Task(NamedTuple):
    """A question, with its place among all answers; or, without one, a trial (or "") whose questions are to be planned."""

    of: str
    place: tuple[int, ...]
    question: tuple | None = None


class Pile:
    """Tasks that wait. Who has begun a trial stays with it, then takes a fresh one, then the one with most left to do."""

    def __init__(self, asked=(), unplanned=(), progress=None):
        self.found = {}  # {place: answer}
        self._unplanned = [Task(of, (at,)) for at, of in enumerate(unplanned)]
        self._unplanned = self._unplanned[-1:] + self._unplanned[:-1]  # the whole package takes longest
        self._waiting, self._begun, self._planning, self._changed = {}, set(), 0, Condition()
        self._progress, self._told, self._many = progress, 0, 0
        self._add(asked, ())

    def take(self, mine=None):
        """The next Task for who has last been at work on `mine`; None when there is none, nor will be."""
        with self._changed:
            while self._planning and not self._waiting and not self._unplanned:
                self._changed.wait()
            if self._unplanned and mine not in self._waiting:
                self._planning += 1
                return self._unplanned.pop(0)
            if not self._waiting:
                return None
            of = mine if mine in self._waiting else max(self._waiting, key=self._worth)
            self._begun.add(of)
            task = self._waiting[of].pop(0)
            if not self._waiting[of]:
                del self._waiting[of]
            self._told += 1
            if self._progress:
                all_known = not (self._unplanned or self._planning)
                said = plan.told(self._told, self._many, of, task.question[1], all_known=all_known)
                self._progress(said, self._told, self._many)
            return task

    def work_off(self, hand):
        """Have tasks done by one hand until none waits, or until it is no more."""
        mine = None
        while (task := self.take(mine)) is not None:
            mine = task.of
            try:
                self._done(task, hand.plan(task.of) if task.question is None else hand.answer(task.question))
            except BrokenProcessPool:
                self.give_back(task)
                return
            except BaseException:
                self.give_back(task)  # nobody waits for it in vain
                raise

    def give_back(self, task):
        """Let a task wait again, before the others of its trial."""
        with self._changed:
            if task.question is None:
                self._unplanned.insert(0, task)
                self._planning -= 1
            else:
                self._waiting.setdefault(task.of, []).insert(0, task)
                self._told -= 1
            self._changed.notify_all()

    def _done(self, task, got):
        if task.question is not None:
            self.found[task.place] = got
            return
        with self._changed:
            self._add(got, task.place)
            self._begun.add(task.of)
            self._planning -= 1
            self._changed.notify_all()

    def _add(self, asked, place):
        for at, question in enumerate(asked):
            self._waiting.setdefault(question[0], []).append(Task(question[0], (*place, at), question))
            self._many += 1

    def _worth(self, of):
        """Fresh trials first, then what has most questions left."""
        return of not in self._begun, len(self._waiting[of])


class Hand:
    """Plans and answers in this process."""

    def __init__(self, subjects):
        self.subjects, self._ask = subjects, together(subjects)

    def plan(self, of):
        """Questions of a trial, or of the whole package where it is "", as `plan.planned` gives them."""
        return plan.planned(self.subjects, of)

    def answer(self, question):
        """The answer, ready to be kept."""
        of, recipe_id, options = question
        return made_ready(self._ask(recipe_id, of or None, **options))


class Lent:
    """Has another process plan and answer."""

    def __init__(self, process):
        self._process = process

    def plan(self, of):
        """As a Hand there."""
        return self._process.submit(_plan, of).result()

    def answer(self, question):
        """As a Hand there."""
        return self._process.submit(_answer, question).result()


def _lend(pile, process, ready, findings):
    """Work at the pile from another process, once it is ready and knows what the check has found."""
    try:
        ready.result()
        process.submit(_know, findings).result()
    except BrokenProcessPool:
        return
    pile.work_off(Lent(process))


def _begin(folder):
    from palea import figures, words  # noqa: F401 - loaded while the others still check
    from palea.tables.opening import open_package

    _HERE["hand"] = Hand(Subjects(open_package(folder)))


def _know(findings):
    _HERE["hand"].subjects.findings = findings


def _plan(of):
    return _HERE["hand"].plan(of)


def _answer(question):
    return _HERE["hand"].answer(question)
