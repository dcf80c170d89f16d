"""What is true in the invented demo: truth.json as values that the generator asks."""

import json
from dataclasses import dataclass
from functools import cache
from math import exp, log
from pathlib import Path

WHERE = Path(__file__).with_name("truth.json")


@cache
def truth():
    """truth.json as it is."""
    return json.loads(WHERE.read_text(encoding="utf-8"))


def species(taxon):
    """The numbers of one species."""
    return truth()["species"][taxon]


def arms_of(taxon):
    """Names of the arms that a species has, in order."""
    return [name for name, arm in truth()["arms"].items() if taxon in arm["species"]]


@dataclass(frozen=True)
class Arm:
    """One treatment of one species, as the seeds feel it.

    filled, viable, hard : shares of seed units, of filled, of viable seed (hard: before a brush run's own deviation).
    logit_germinable : log odds that a viable seed which is not hard germinates in water.
    t50_d, shape : log-logistic time to germination.  abnormal : share of germinated.
    doubles, empties : shares of seed units that hold two seeds or none.
    """

    filled: float
    viable: float
    hard: float
    logit_germinable: float
    t50_d: float
    shape: float
    abnormal: float
    doubles: float
    empties: float


@cache
def arm(taxon, name):
    """The arm of that name in that species, its effects added up along the chain of arms that it goes back to."""
    numbers, own, chain = species(taxon), truth()["arms"][name], _chain(name)
    hull_off = any(a.get("hull_off") for a in chain)
    brushed = any(a.get("brushed") for a in chain)
    return Arm(
        filled=numbers["filled_clean" if hull_off else "filled_in_hull"],
        viable=numbers["viable_of_filled"],
        hard=numbers["hard_after_brush" if brushed else "hard_of_viable"],
        logit_germinable=logit(numbers["germinable"]) + sum(of_taxon(a.get("logit", 0), taxon) for a in chain),
        t50_d=numbers["t50_d"] * of_taxon(_nearest(chain, "times_t50", 1), taxon),
        shape=of_taxon(own.get("shape", numbers["shape"]), taxon),
        abnormal=own.get("abnormal", truth()["abnormal"]),
        doubles=own.get("double_units", 0),
        empties=own.get("empty_units", 0),
    )


def brushed(name):
    """Whether the brush machine is anywhere behind an arm."""
    return any(a.get("brushed") for a in _chain(name))


def _chain(name):
    """The arm and all it goes back to, itself first."""
    own = truth()["arms"][name]
    return (own, *_chain(own["from"])) if "from" in own else (own,)


def _nearest(chain, key, otherwise):
    """Times to germination are given against the bare seed, so they replace what comes before and do not multiply."""
    return next((a[key] for a in chain if key in a), otherwise)


def of_taxon(value, taxon):
    """One number for all species, or one a species (none for a species that is not named)."""
    return value.get(taxon, 0) if isinstance(value, dict) else value


def logit(share):
    """Log odds."""
    return log(share / (1 - share))


def expit(odds):
    """Share from log odds."""
    return 1 / (1 + exp(-odds))
