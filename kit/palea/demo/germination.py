"""A germination trial of the invented demo: how each seed ends and what is seen of it at each visit."""

from collections import Counter
from dataclasses import dataclass
from functools import cache

from palea.demo.chance import Chance, Urn
from palea.demo.truth import arm, brushed, expit, logit, truth

NEVER = float("inf")


@dataclass(frozen=True)
class Dish:
    """One dish as it was: its place in the trial and what was seen in it.

    seen : {(day, outcome): new since the last visit}.  cut : {outcome: found at the end}.
    """

    taxon: str
    arm: str
    batch: int
    number: int
    seen: Counter
    cut: Counter

    @property
    def ends(self):
        """{outcome: number} over all visits and the cut."""
        total = Counter(self.cut)
        for (_, outcome), number in self.seen.items():
            total[outcome] += number
        return total


def dishes(trial, taxon, seed):
    """All dishes of one species in a trial, in order of arm, batch and number."""
    plan = truth()["germination"][trial]
    return [
        _dish(trial, taxon, name, batch, number, seed)
        for name in plan["arms"][taxon]
        for batch, number in _places(plan, name)
    ]


def _places(plan, name):
    """Batch and number of each dish of an arm; an arm of one batch has as many dishes as the others."""
    together = plan["batches"] * plan["dishes"]
    if name in plan["one_batch"]:
        return [(1, n) for n in range(1, together + 1)]
    return [(b, n) for b in range(1, plan["batches"] + 1) for n in range(1, plan["dishes"] + 1)]


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


def _dish(trial, taxon, name, number_of_batch, number, seed):
    plan, it = truth()["germination"][trial], arm(taxon, name)
    hard, odds = batch(taxon, name, number_of_batch, seed)
    chance = Chance(seed, trial, taxon, name, number_of_batch, number)
    germinates = Urn(chance, expit(odds), truth()["scatter"]["dish_rho"])
    seen, cut = Counter(), Counter()
    for _ in range(plan["seeds"]):
        for outcome, time in _unit(chance, it, hard, germinates):
            day = next((d for d in plan["days"] if time <= d), None)
            if day:
                seen[day, outcome] += 1
            else:  # still waiting on the last day: cut, and found sound
                cut["fresh" if time < NEVER else outcome] += 1
    return Dish(taxon, name, number_of_batch, number, seen, cut)


def _unit(chance, it, hard, germinates):
    """Ends of the seeds in one seed unit. A unit without a seed is found empty when it is cut."""
    lot = chance.share() if it.doubles or it.empties else 1.0
    if lot < it.empties:
        return [("empty", NEVER)]
    seeds = 2 if lot < it.empties + it.doubles else 1
    return [_seed(chance, it, hard, germinates) for _ in range(seeds)]


def _seed(chance, it, hard, germinates):
    """How one seed ends, and the time at which it germinates (NEVER, where it does not)."""
    if not chance.happens(it.filled):
        return "empty", NEVER
    if not chance.happens(it.viable):
        return "dead", NEVER
    if hard and chance.happens(hard):
        return "hard", NEVER
    if not germinates.draw():
        return "fresh", NEVER
    share = chance.share()
    time = it.t50_d * (share / (1 - share)) ** (1 / it.shape)
    return ("abnormal" if chance.happens(it.abnormal) else "normal"), time
