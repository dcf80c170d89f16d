"""What is true of each declared contrast of an invented journey, by integration and not by drawing.

Where several batches stand behind both arms the recipe is judged, so the truth is the mean over all batches that could
have been made; where an arm has one batch the answer is for the batches that were made, and so is the truth.
"""

from math import exp

import numpy as np

from palea.demo import germination
from palea.demo.conditions import felt
from palea.demo.field.layout import spots, treatment_id
from palea.demo.field.seedlings import WEEK, _place, last_week, times_in_the_open
from palea.demo.field.truth import field_truth, in_field
from palea.demo.truth import arm, brushed, expit, logit, truth

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(40)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


def _over_batches(mean, sd):
    """Mean share of a normal logit."""
    return float(_WEIGHTS @ (1 / (1 + np.exp(-(mean + sd * _NODES)))))


def _by(it, day):
    """Share of a log-logistic time by a day."""
    return 1 / (1 + (it.t50_d / day) ** it.shape)


def _usual_hard(taxon, name):
    it = arm(taxon, name)
    if not it.hard or not brushed(name):
        return it.hard
    return _over_batches(logit(it.hard), truth()["scatter"]["brush_hard_logit_sd"])


def _of_recipe(taxon, name, days):
    """Share of filled seed that makes a normal seedling, over all batches."""
    it = arm(taxon, name)
    ready = _over_batches(it.logit_germinable, truth()["scatter"]["batch_logit_sd"])
    return it.viable * (1 - _usual_hard(taxon, name)) * ready * (1 - it.abnormal) * _by(it, days[-1])


def _of_batches(trial, taxon, name, seed, environments):
    """The same of the batches that were made, over these environments."""
    plan = truth()["germination"][trial]
    shares = []
    for place in germination._places(plan, taxon, name):
        if place.environment in environments:
            it, shift, _ = felt(trial, taxon, place, seed)
            hard, odds = germination.batch(taxon, name, place.batch, truth()["seed"]["value"])
            shares.append(it.viable * (1 - hard) * expit(odds + shift) * (1 - it.abnormal) * _by(it, plan["days"][-1]))
    return float(np.mean(shares))


def germinated(trial, row, seed, fillings):
    """Truth of a declared contrast of a germination trial, in points or as a ratio.

    row : as palea.demo.seeds asks it.  fillings : environments of the trial by the name of their condition.
    """
    taxon, a, b = row.taxon, row.a.rpartition("-")[2], row.b.rpartition("-")[2]
    plan = truth()["germination"][trial]
    if row.quantity == "t50":
        return arm(taxon, a).t50_d / arm(taxon, b).t50_d
    if row.quantity == "hard seed":
        return 100 * (_usual_hard(taxon, a) - _usual_hard(taxon, b))
    if "batches" in plan and not {a, b} & set(plan["one_batch"]):
        return 100 * (_of_recipe(taxon, a, plan["days"]) - _of_recipe(taxon, b, plan["days"]))

    def difference(condition):
        here = fillings[condition]
        return 100 * (_of_batches(trial, taxon, a, seed, here) - _of_batches(trial, taxon, b, seed, here))

    there = row.environment or next(iter(fillings))
    return difference(there) - (difference(there.replace("dry", "wet")) if row.across else 0.0)


def grown(effect, declared, seed):
    """Truth of a declared contrast of the field, in points or as a ratio.

    effect : as the field calculations judge it.  declared : its row, with the trial.
    """
    taxon, a, b = effect.of["taxon"], effect.of["a"].rpartition("-")[2], effect.of["b"].rpartition("-")[2]
    if effect.quantity == "plant dry mass":
        return in_field(taxon, a).mass_g / in_field(taxon, b).mass_g
    if effect.quantity == "surviving":
        weeks = field_truth()["followed_weeks"]
        alive = [exp(-in_field(taxon, name).later_hazard * weeks) for name in (a, b)]
        return 100 * (alive[0] - alive[1])

    def difference(trial, level=None):
        first, second = (_seen(trial, taxon, name, effect.quantity, seed, level) for name in (a, b))
        return 100 * (first - second)

    if not effect.change:
        return difference(declared["trial_id"])
    sides = (effect.change.here, effect.change.there)
    by_site = declared["across"] == "site"
    values = [difference(side[:2]) if by_site else difference(declared["trial_id"], side) for side in sides]
    return values[0] - values[1]


def _seen(trial, taxon, name, quantity, seed, level):
    """Expected share of living seed that has come up, or that stands, at the planned week, over the trial's places."""
    week = 6 if (trial, quantity) == ("F1", "emerged") else 12
    it, hard = in_field(taxon, name), _hard(taxon, name)
    here = [s for s in spots(trial, seed) if treatment_id(s) == f"{taxon}-{name}" and level in (None, s.level)]
    shares = [expit(logit(it.comes_up) + _place(s, seed)) * _up_and_alive(s, it, week, quantity) for s in here]
    return (1 - hard) * float(np.mean(shares))


def _hard(taxon, name):
    return germination.batch(taxon, name, truth()["one_batch"][taxon][name], truth()["seed"]["value"])[0]


def _up_and_alive(spot, it, week, quantity):
    """Chance that a seedling which comes up is seen by a week; standing: and alive at its end."""
    shape, dry, harder = field_truth()["shape"], field_truth()["dry_weeks"][spot.trial], times_in_the_open(spot)
    by = [0.0, *(1 / (1 + (it.median_d / (WEEK * w)) ** shape) for w in range(1, last_week(spot.trial) + 1))]
    total = 0.0
    for up in range(1, week + 1):
        borne = sum(
            harder * (it.dry_hazard if w in dry else it.hazard) * (0.5 if w == up else 1) for w in range(up, week + 1)
        )
        total += (by[up] - by[up - 1]) * (1.0 if quantity == "emerged" else exp(-borne))
    return total
