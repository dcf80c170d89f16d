"""How a run of the invented demo is entered: when its turn comes, its row, its steps, and what went otherwise."""

from dataclasses import dataclass

from palea.demo.chance import Chance
from palea.demo.days import at, workday
from palea.demo.setting import setting
from palea.demo.truth import species, truth

STEP, RUN = "step", "run"
VERSION = "1"  # of every written procedure


def turns(kind):
    """{(taxon, arm, number): (day, clock)}: which run has its turn when, over all species, so that none shifts another.

    Each round takes one batch of every arm, in random order, so that no arm is made in one week only.
    """
    plan = setting("turns")[kind]
    numbers = range(1, max(_batches(taxon, kind) for taxon in truth()["species"]) + 1)
    queue = []
    for number in numbers:
        of_round = [(t, a, number) for t, arms in plan["arms"].items() for a in arms if number <= _batches(t, kind)]
        queue += Chance("turns", kind, number).shuffled(of_round)
    clocks = plan["clocks"]
    return {run: (workday(plan["first"], n // len(clocks)), clocks[n % len(clocks)]) for n, run in enumerate(queue)}


def _batches(taxon, kind):
    return species(taxon)["brush_runs"] if kind == "brush" else truth()["batches"]


@dataclass(frozen=True)
class Job:
    """One batch of an arm to be made: its number, the brush run whose seed it gets, how much of it, and its turn."""

    taxon: str
    arm: str
    number: int
    source: int
    grams: float
    day: str
    clock: str

    @property
    def lot_id(self):
        """The lot that it becomes."""
        return f"{self.taxon}-{self.arm}-{self.number}"

    @property
    def source_id(self):
        """The brushed lot that it is made from."""
        return f"{self.taxon}-T03-{self.source}"


def jobs(kind, taxon, arm):
    """Batches of an arm, in order of their numbers: those of the first round, then what later trials need."""
    first = [
        Job(taxon, arm, number, number, species(taxon)["coat_g"], *turn)
        for (t, a, number), turn in turns(kind).items()
        if (t, a) == (taxon, arm)
    ]
    return sorted([*first, *_again(kind, taxon, arm)], key=lambda job: job.number)


def _again(kind, taxon, arm):
    """Batches of the second round, which have turns of their own so that the first round stays as it was."""
    plan = setting("turns")[f"{kind} again"]
    queue, clocks = Chance("turns", kind, "again").shuffled(plan["lots"]), plan["clocks"]
    for place, lot in enumerate(queue):
        if (lot["taxon"], lot["arm"]) == (taxon, arm):
            grams = lot.get("grams", species(taxon)["coat_g"])
            turn = workday(plan["first"], place // len(clocks)), clocks[place % len(clocks)]
            yield Job(taxon, arm, lot["number"], lot["from"], grams, *turn)


class Run:
    """One run while it is written down: steps with their times, one after the other, then the row of the run itself."""

    def __init__(self, book, lot_id, kind, day, clock, by, protocol):
        self.run_id, self._protocol = f"R-{lot_id}", protocol
        self.day, self._clock, self._minutes, self._by, self._kind = day, clock, 0.0, by, kind
        self._book, self._lot_id, self._steps = book, lot_id, 0
        self.chance = Chance(book.seed, "run", lot_id)
        self._incidents = [i for i in setting("incidents") if i["run_id"] == self.run_id]

    def step(self, action, *, minutes=1.0, **row):
        """Enter a step. minutes : until the next one starts; what is known to have gone otherwise is laid over it."""
        self._steps += 1
        known = row | self._otherwise(STEP, action=action, cycle=row.get("cycle"))
        started_at = at(self.day, self._clock, self._minutes)
        self._book.add("run_steps", run_id=self.run_id, step=self._steps, action=action,
                       **{"started_at": started_at} | known)
        self._minutes += minutes

    def finish(self, **row):
        """Enter the run: its room, its end, who checked the precautions, deviations (“none”, where nothing was odd)."""
        room = {"room_c": round(self.chance.normal(20.2, 0.6), 1), "room_rh": round(self.chance.normal(46, 3))}
        known = {
            "place_kind": "in house", "protocol_id": self._protocol, "version": VERSION, "disclosure": "disclosed",
            "done_by": self._by, "deviations": "none",
            "safety_checked_by": "sorrel" if self._by != "sorrel" else "fennel",
        }
        at_end = {"started_at": at(self.day, self._clock), "ended_at": at(self.day, self._clock, self._minutes)}
        self._book.add("runs", run_id=self.run_id, kind=self._kind, batch_label=self._lot_id, status="finished",
                       **room | known | at_end | row | self._otherwise(RUN))

    def _otherwise(self, place, **where):
        """What the list of incidents says of this place in the run."""
        found = {}
        for incident in self._incidents:
            if incident["in"] == place and all(incident.get(k) in (None, v) for k, v in where.items()):
                found |= incident["set"]
        return found
