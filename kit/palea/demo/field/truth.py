"""What is true in the field half of the demo, field_truth.json, and who, where and when, field_setting.json."""

import json
from dataclasses import dataclass
from functools import cache
from math import log
from pathlib import Path

from palea.demo.germination import batch
from palea.demo.truth import arm, expit, truth

HERE = Path(__file__).parent.parent
UNSOWN = "unsown"


@cache
def field_truth():
    """field_truth.json as it is."""
    return json.loads((HERE / "field_truth.json").read_text(encoding="utf-8"))


@cache
def _settings():
    return json.loads((HERE / "field_setting.json").read_text(encoding="utf-8"))


def field_setting(part):
    """One part of field_setting.json."""
    return _settings()[part]


@dataclass(frozen=True)
class Field:
    """One arm of one species, as it fares in the field.

    sound : share of seed units with living seed that is not hard.  comes_up : share of those that make a seedling above
    ground in a plot of the usual kind.  median_d : log-logistic time to that.  hazard, dry_hazard : of a week, to week
    12 or the thinning.  later_hazard : of a week after that, for plants that stand apart.  mass_g : median at the end.
    """

    sound: float
    comes_up: float
    median_d: float
    hazard: float
    dry_hazard: float
    later_hazard: float
    mass_g: float


@cache
def in_field(taxon, name):
    """What an arm does in the field: the seed of its batch as in the laboratory, times what the field makes of it.

    Both trials sow one batch an arm; its own deviation comes from the seed of the whole demo. Abnormal seedlings never
    come up.
    """
    number = truth()["one_batch"][taxon][name]
    seed, (hard, odds) = arm(taxon, name), batch(taxon, name, number, truth()["seed"]["value"])
    own, change = field_truth()["species"][taxon], field_truth()["arms"].get(name, {})
    ready = (1 - seed.abnormal) * expit(odds)
    return Field(
        sound=seed.filled * seed.viable * (1 - hard),
        comes_up=ready * change.get("emerges", own["emerges"]),
        median_d=own["median_d"] * change.get("times_median", 1),
        hazard=own["hazard"],
        dry_hazard=own["dry_hazard"],
        later_hazard=-log(own["alive_at_end"]) / field_truth()["followed_weeks"] * change.get("times_hazard", 1),
        mass_g=own["mass_g"] * change.get("times_mass", 1),
    )
