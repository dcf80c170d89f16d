"""The thinned plots of F1: which plants are kept, how long each lives, how large it becomes."""

from dataclasses import dataclass
from functools import cache
from math import exp, hypot, inf, log

from palea.demo.chance import Chance, Urn
from palea.demo.field.seedlings import followed, last_week
from palea.demo.field.truth import field_truth, in_field


@dataclass(frozen=True)
class Plant:
    """One plant that was kept and tagged.  number : on its tag.  x_mm, y_mm : from the lower left corner of the plot.

    died : the week in which it died (a fraction; inf: alive in the last week).  mass_g : dry, had it been cut then.
    heights : {week: mm}, had it been alive then.
    """

    number: int
    x_mm: int
    y_mm: int
    died: float
    mass_g: float
    heights: dict


def standing(spot, taxon, week, seed):
    """How many stand at the end of a week up to the thinning."""
    return sum(s.up <= week < s.died for s in followed(spot, taxon, seed))


@cache
def kept(spot, seed):
    """The tagged plants of a sown plot, in order of their tags."""
    places = _apart(spot, standing(spot, spot.taxon, last_week(spot.trial), seed), seed)
    chance, it = Chance(seed, spot.unit_id, "kept"), in_field(spot.taxon, spot.arm)
    size = log(it.mass_g) + _place(spot, seed)
    lives = Urn(chance, _to_the_end(it.later_hazard), field_truth()["scatter"]["kept_rho"])
    return tuple(_plant(chance, n, spot, place, it, lives, size) for n, place in enumerate(places, 1))


def left_unsown(spot, taxon, seed):
    """Weeks of death of wild plants in an unsown plot, where nothing is taken out."""
    chance, own = Chance(seed, spot.unit_id, taxon, "left"), field_truth()["species"][taxon]
    hazard = -log(own["alive_at_end"]) / field_truth()["followed_weeks"]
    number = standing(spot, taxon, last_week(spot.trial), seed)
    return [_death(chance, spot.trial, hazard, chance.happens(own["alive_at_end"])) for _ in range(number)]


def _to_the_end(hazard):
    return exp(-hazard * field_truth()["followed_weeks"])


def _apart(spot, number, seed):
    """Places of those kept: in random order, each that stands far enough from all kept before it, until there are enough."""
    plan, chance = field_truth()["trials"][spot.trial], Chance(seed, spot.unit_id, "places")
    found = []
    for _ in range(number):
        x, y = (round(chance.share() * plan["side_mm"]) for _ in range(2))
        if len(found) < plan["kept"] and all(hypot(x - a, y - b) >= plan["apart_mm"] for a, b in found):
            found.append((x, y))
    return found


def _place(spot, seed):
    """What block and plot add to the log of the mass."""
    scatter = field_truth()["scatter"]
    of_block = Chance(seed, spot.trial, spot.taxon, "growth", spot.block).normal(0, scatter["block_log_sd"])
    return of_block + Chance(seed, spot.unit_id, "growth").normal(0, scatter["plot_log_sd"])


def _plant(chance, number, spot, place, it, lives, size):
    died = _death(chance, spot.trial, it.later_hazard, lives.draw())
    deviation = chance.normal(0, field_truth()["scatter"]["plant_log_sd"])
    mass = exp(size + deviation)
    return Plant(number, *place, died, mass, _heights(chance, spot.taxon, mass))


def _death(chance, trial, hazard, lives):
    """The week of death of one that does not live to the end, by a steady hazard; one draw either way."""
    share = chance.share()
    return inf if lives else last_week(trial) - log(1 - share * (1 - _to_the_end(hazard))) / hazard


def _heights(chance, taxon, mass):
    own, sd = field_truth()["species"][taxon], field_truth()["scatter"]["height_log_sd"]
    usual = own["height_mm"] * (mass / own["mass_g"]) ** field_truth()["height_power"]
    return {int(week): usual * part * exp(chance.normal(0, sd)) for week, part in field_truth()["height_at"].items()}
