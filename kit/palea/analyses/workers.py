"""Answering the questions of a package in several processes: the same bytes in the same order, however many there are."""

import os
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack, suppress
from multiprocessing import get_context
from threading import Lock

from palea.analyses import plan
from palea.analyses.keep import made_ready
from palea.analyses.run import Subjects, together

MOST = 4  # processes: each holds the package
WORTH = 10  # questions a process, below which its start costs more than it saves
_HERE = {}  # in a worker: its package, and how it asks


def answered(subjects, asked, processes=None, progress=None):
    """`Ready` answers, with sentences and figures, of what `plan.questions` gave, in that order.

    subjects : Subjects of the package.  asked : that list, or a function that makes it: others get ready meanwhile.
    processes : None for as many as there are cores to use, at most four, and one where few questions are asked. This
    process is one of them.
    progress : called with a sentence when an answer is begun.
    """
    many = processes or min(cores(), MOST)
    if not callable(asked):
        many = min(many, max(1, len(asked) // WORTH))
    with ExitStack() as stack:
        context = get_context("spawn")  # a copy of a process in which threads run could stand still for ever
        folder = str(subjects.package.folder)
        others = [stack.enter_context(ProcessPoolExecutor(1, context, _begin, (folder,))) for _ in range(many - 1)]
        for other in others:
            other.submit(len, ())  # starts it
        asked = asked() if callable(asked) else asked
        pile = Pile(asked, progress)
        threads = stack.enter_context(ThreadPoolExecutor(many)) if others else None
        done = [threads.submit(pile.work_off, _by(other, subjects.findings)) for other in others]
        mine = together(subjects)
        pile.work_off(lambda question: _ready(mine, question))
        for each in done:
            each.result()
        pile.work_off(lambda question: _ready(mine, question))  # what one left that was ended from outside
    return [pile.found[number] for number in range(len(asked))]


def _by(other, findings):
    """How a question is answered in another process, which is told first what the check has found."""
    with suppress(BrokenProcessPool):
        other.submit(_told, findings)
    return lambda question: other.submit(_answer, question).result()


def cores():
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


class Pile:
    """Questions that wait. A worker stays with the trial it has begun, then takes the one with most left to do."""

    def __init__(self, asked, progress=None):
        self.asked, self.found = list(asked), {}
        self._waiting = {}
        for number, (of, *_) in enumerate(self.asked):
            self._waiting.setdefault(of, []).append(number)
        self._progress, self._lock, self._told, self._begun = progress, Lock(), 0, set()

    def take(self, mine=None):
        """The number of the next question for who has last answered about `mine`; None when there is none."""
        with self._lock:
            if not self._waiting:
                return None
            of = mine if mine in self._waiting else max(self._waiting, key=self._worth)
            self._begun.add(of)
            number = self._waiting[of].pop(0)
            if not self._waiting[of]:
                del self._waiting[of]
            self._told += 1
            if self._progress:
                self._progress(plan.told(self._told, len(self.asked), of, self.asked[number][1]))
            return number

    def work_off(self, answer):
        """Have questions answered until none waits, or until there is nobody to answer any more."""
        mine = None
        while (number := self.take(mine)) is not None:
            mine = self.asked[number][0]
            try:
                self.found[number] = answer(self.asked[number])
            except BrokenProcessPool:
                self.give_back(number)
                return

    def give_back(self, number):
        """Let a question wait again, before the others of its trial."""
        with self._lock:
            self._waiting.setdefault(self.asked[number][0], []).insert(0, number)
            self._told -= 1

    def _worth(self, of):
        """Fresh trials first, then what has most questions left."""
        return of not in self._begun, len(self._waiting[of])


def _begin(folder):
    from palea.tables.opening import open_package

    _HERE["package"] = open_package(folder)


def _told(findings):
    _HERE["ask"] = together(Subjects(_HERE["package"], findings))


def _answer(question):
    return _ready(_HERE["ask"], question)


def _ready(ask, question):
    of, recipe_id, options = question
    return made_ready(ask(recipe_id, of or None, **options))
