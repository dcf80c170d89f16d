"""Answering the questions of a package in several processes: the same bytes in the same order, however many there are."""

import os
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import ExitStack
from multiprocessing import get_context
from threading import Lock

from palea.analyses import plan
from palea.analyses.keep import made_ready

MOST = 4  # processes: each holds the package
WORTH = 10  # questions a process, below which its start costs more than it saves
_HERE = {}  # in a worker: its package, and how it asks


def answered(package, asked, processes=None, progress=None):
    """`Ready` answers, with sentences and figures, of what `plan.questions` gave, in that order.

    asked : that list, or a function that makes it: the others get ready meanwhile.
    processes : None for as many as there are cores to use, at most four, and one where few questions are asked.
    progress : called with a sentence when an answer is begun.
    """
    many = processes or min(cores(), MOST)
    if not callable(asked):
        many = min(many, max(1, len(asked) // WORTH))
    if many == 1:
        return [made_ready(outcome) for outcome in plan.answers(package, asked() if callable(asked) else asked, progress)]
    with ExitStack() as stack:
        context = get_context("spawn")  # a copy of a process in which threads run could stand still for ever
        workers = [
            stack.enter_context(ProcessPoolExecutor(1, context, _begin, (str(package.folder),))) for _ in range(many)
        ]
        for worker in workers:
            worker.submit(len, ())  # starts it
        asked = asked() if callable(asked) else asked
        pile = Pile(asked, progress)
        threads = stack.enter_context(ThreadPoolExecutor(many))
        for done in [threads.submit(pile.work_off, worker) for worker in workers]:
            done.result()
    left = pile.left()  # of a worker that was ended from outside: this process does its part
    for number, outcome in zip(left, plan.answers(package, [asked[n] for n in left]), strict=True):
        pile.found[number] = made_ready(outcome)
    return [pile.found[number] for number in range(len(asked))]


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

    def work_off(self, worker):
        """Hand questions to one worker until none waits, or until it is no more."""
        mine = None
        while (number := self.take(mine)) is not None:
            mine = self.asked[number][0]
            try:
                self.found[number] = worker.submit(_answer, self.asked[number]).result()
            except BrokenProcessPool:
                return

    def left(self):
        """Numbers of the questions that nobody has answered."""
        return [number for number in range(len(self.asked)) if number not in self.found]

    def _worth(self, of):
        """Fresh trials first, then what has most questions left."""
        return of not in self._begun, len(self._waiting[of])


def _begin(folder):
    from palea.analyses.run import together
    from palea.tables.opening import open_package

    _HERE["ask"] = together(open_package(folder))


def _answer(question):
    of, recipe_id, options = question
    return made_ready(_HERE["ask"](recipe_id, of or None, **options))
