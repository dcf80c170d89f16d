"""Seedlings of the field trials: when each comes up and when it dies, until they are thinned or winter comes."""

from dataclasses import dataclass
from functools import cache
from math import ceil, exp, inf, log

from palea.demo.chance import Chance, Urn
from palea.demo.field.truth import field_setting, field_truth, in_field
from palea.demo.truth import expit, logit

WEEK = 7


@dataclass(frozen=True)
class Seedling:
    """One seedling: the week in which it came up, the week in which it died (inf: not while it was followed here)."""

    up: int
    died: float


@cache
def followed(spot, taxon, seed):
    """Seedlings of one species in one plot, as a tuple: those sown there, and where it grows wild those that came up unsown.

    They are followed to the thinning, or where there is none to the last visit at which new ones are counted.
    """
    sown = _sown(spot, seed) if spot.taxon == taxon else []
    return (*sown, *_wild(spot, taxon, seed))


def last_week(trial):
    """The last week in which seedlings stand as they came up."""
    plan = field_truth()["trials"][trial]
    return plan["thinned_week"] or plan["new_weeks"][-1]


def times_in_the_open(spot):
    """How many times as great hazards are here, for want of a fence."""
    return field_truth()["times_in_the_open"] if spot.level == field_setting("open") else 1


def _sown(spot, seed):
    chance, it = Chance(seed, spot.unit_id), in_field(spot.taxon, spot.arm)
    odds = logit(it.comes_up) + _place(spot, seed)
    comes_up = Urn(chance, expit(odds), field_truth()["scatter"]["unit_rho"][spot.trial])
    seeds = range(field_truth()["trials"][spot.trial]["seeds"])
    found = [_seedling(spot, chance, it) for _ in seeds if chance.happens(it.sound) and comes_up.draw()]
    return [s for s in found if s]


def _place(spot, seed):
    """What block and main plot add to the log odds."""
    scatter = field_truth()["scatter"]
    added = Chance(seed, spot.trial, "block", spot.block).normal(0, scatter["block_logit_sd"])
    if spot.level:
        added += Chance(seed, spot.main_plot, "main plot").normal(0, scatter["main_plot_logit_sd"])
    return added


def _wild(spot, taxon, seed):
    wild = field_truth()["wild"]
    if (spot.trial, taxon) != (wild["trial"], wild["taxon"]):
        return []
    chance, own = Chance(seed, spot.unit_id, "wild"), field_truth()["species"][taxon]
    it = Wild(own["median_d"], own["hazard"], own["dry_hazard"])
    found = [_seedling(spot, chance, it) for _ in range(_poisson(chance, wild["per_plot"]))]
    return [s for s in found if s]


@dataclass(frozen=True)
class Wild:
    """How a wild seedling fares: as its sown kin."""

    median_d: float
    hazard: float
    dry_hazard: float


def _poisson(chance, mean):
    """How many, by the product of shares. Source: Knuth 1998, The Art of Computer Programming 2, 3.4.1."""
    number, left = 0, chance.share()
    while left > exp(-mean):
        number, left = number + 1, left * chance.share()
    return number


def _seedling(spot, chance, it):
    """A seedling, or None where it would come up after the last count of new ones: winter is then too near."""
    share, strength = chance.share(), -log(1 - chance.share())
    day = it.median_d * (share / (1 - share)) ** (1 / field_truth()["shape"])
    up = max(ceil(day / WEEK), 1)
    if up > field_truth()["trials"][spot.trial]["new_weeks"][-1]:
        return None
    return Seedling(up, _dies(spot, it, up, strength))


def _dies(spot, it, up, strength):
    """The week in which the hazards add up to what it can bear; half a hazard in the week in which it came up."""
    harder = times_in_the_open(spot)
    for week in range(up, last_week(spot.trial) + 1):
        hazard = it.dry_hazard if week in field_truth()["dry_weeks"][spot.trial] else it.hazard
        strength -= harder * hazard * (0.5 if week == up else 1)
        if strength < 0:
            return week
    return inf
