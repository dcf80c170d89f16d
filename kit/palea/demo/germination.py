"""A germination trial of the invented demo: how each seed ends and what is seen of it at each visit."""

from collections import Counter
from dataclasses import dataclass
from functools import cache

from palea.demo.chance import Chance, Urn
from palea.demo.conditions import felt
from palea.demo.truth import arm, brushed, expit, logit, truth

NEVER = float("inf")


@dataclass(frozen=True)
class Place:
    """Where a dish stands: arm, batch of it, number in its group, environment, store that its seed lay in ("": none)."""

    arm: str
    batch: int
    number: int
    environment: str
    store: str = ""


@dataclass(frozen=True)
class Dish:
    """One dish as it was: its place in the trial and what was seen in it.

    seen : {(day, outcome): new since the last visit}.  cut : {outcome: found at the end}.
    """

    taxon: str
    place: Place
    seen: Counter
    cut: Counter

    @property
    def arm(self):
        """Name of its arm."""
        return self.place.arm

    @property
    def ends(self):
        """{outcome: number} over all visits and the cut."""
        total = Counter(self.cut)
        for (_, outcome), number in self.seen.items():
            total[outcome] += number
        return total


def germination_trials():
    """Names of the germination trials, in order."""
    return tuple(truth()["germination"])


def seed_of(trial, seed):
    """The seed of a trial's dishes: its own where it has one, else that of the demo."""
    return truth()["germination"][trial].get("seed", {"value": seed})["value"]


def dishes(trial, taxon, seed):
    """All dishes of one species in a trial, in order of arm, batch and number. seed : of their streams of chance."""
    plan = truth()["germination"][trial]
    return [
        _dish(trial, taxon, place, seed)
        for name in plan["arms"].get(taxon, ())
        for place in _places(plan, taxon, name)
    ]


def _places(plan, taxon, name):
    """Places of the dishes of an arm. In a trial of batches, an arm of one batch has as many dishes as the others."""
    if "batches" not in plan:
        number = truth()["one_batch"][taxon][name]
        return [
            Place(name, number, n, environment, store)
            for environment, there in plan["environments"].items()
            for store in there.get("stores", [""])
            for n in range(1, plan["dishes"] + 1)
        ]
    environment = next(iter(plan["environments"]))
    if name in plan["one_batch"]:
        return [Place(name, 1, n, environment) for n in range(1, plan["batches"] * plan["dishes"] + 1)]
    batches, numbers = range(1, plan["batches"] + 1), range(1, plan["dishes"] + 1)
    return [Place(name, b, n, environment) for b in batches for n in numbers]


@cache
def batch(taxon, name, number, seed):
    """(hard of viable, log odds of germinating) of one batch: its own deviation, and that of the brush run behind it.

    A coat or a soak is put on the seed of one brush run, so it shares that run's scratched seed coats.
    """
    scatter, it = truth()["scatter"], arm(taxon, name)
    odds = Chance(seed, "batch", taxon, name, number).normal(it.logit_germinable, scatter["batch_logit_sd"])
    if not it.hard or not brushed(name):
        return it.hard, odds
    return expit(Chance(seed, "brush", taxon, number).normal(logit(it.hard), scatter["brush_hard_logit_sd"])), odds


def _dish(trial, taxon, place, seed):
    plan = truth()["germination"][trial]
    # Lots are what the demo's seed made them; a seed of a trial's own is one of its dishes alone.
    hard, odds = batch(taxon, place.arm, place.batch, truth()["seed"]["value"] if "seed" in plan else seed)
    it, shift, hydro = felt(trial, taxon, place, seed)
    chance = _stream(plan, trial, taxon, place, seed)
    germinates = Urn(chance, expit(odds + shift), truth()["scatter"]["dish_rho"])
    seen, cut = Counter(), Counter()
    for _ in range(plan["seeds"]):
        for outcome, time in _unit(chance, it, hard, germinates, hydro):
            day = next((d for d in plan["days"] if time <= d), None)
            if day:
                seen[day, outcome] += 1
            else:  # still waiting on the last day: cut, and found sound
                cut["fresh" if time < NEVER else outcome] += 1
    return Dish(taxon, place, seen, cut)


def _stream(plan, trial, taxon, place, seed):
    """The stream of chance of one dish."""
    if "batches" in plan:
        return Chance(seed, trial, taxon, place.arm, place.batch, place.number)
    return Chance(seed, trial, taxon, place.arm, place.environment, place.store, place.number)


def _unit(chance, it, hard, germinates, hydro=None):
    """Ends of the seeds in one seed unit. A unit without a seed is found empty when it is cut."""
    lot = chance.share() if it.doubles or it.empties else 1.0
    if lot < it.empties:
        return [("empty", NEVER)]
    seeds = 2 if lot < it.empties + it.doubles else 1
    return [_seed(chance, it, hard, germinates, hydro) for _ in range(seeds)]


def _seed(chance, it, hard, germinates, hydro=None):
    """How one seed ends, and the time at which it germinates (NEVER, where it does not)."""
    if not chance.happens(it.filled):
        return "empty", NEVER
    if not chance.happens(it.viable):
        return "dead", NEVER
    if hard and chance.happens(hard):
        return "hard", NEVER
    if not germinates.draw():
        return "fresh", NEVER
    time = hydro.time(chance) if hydro else _log_logistic(it, chance.share())
    if time == NEVER:  # too dry for it
        return "fresh", NEVER
    return ("abnormal" if chance.happens(it.abnormal) else "normal"), time


def _log_logistic(it, share):
    return it.t50_d * (share / (1 - share)) ** (1 / it.shape)
