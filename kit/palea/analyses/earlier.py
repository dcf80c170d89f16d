"""Earlier versions of recipes: those that can still be run, and why the others cannot.

A number that was published must be had again, or it must be said why not. `earlier.json` tells of every version that was
left behind what was changed, why the later is better, and, where nobody can run it any more, the reason.
"""

import json
from dataclasses import replace
from functools import cache
from types import MappingProxyType
from typing import NamedTuple

from palea.analyses import coating, decision, field, germination, lots
from palea.analyses.decision import adapted
from palea.calc.earlier import emerged
from palea.calc.earlier.coated import planned_and_done_1
from palea.calc.earlier.decided import cost_1, cost_curves_1, losses_1, reserve_1
from palea.calc.earlier.germinated import final_1
from palea.calc.earlier.germination_times import times_1
from palea.calc.earlier.lot_tests import pure_live_seed_1, thousand_seed_weight_1, viability_1
from palea.derived import counting
from palea.derived import earlier as views
from palea.derived.contrasts import asked
from palea.shipped import HERE

KEPT = (
    replace(germination.FINAL, version=1, reads=(views.shares, asked), compute=final_1),
    replace(germination.TIME, version=1, compute=times_1),
    replace(lots.TSW, version=1, compute=thousand_seed_weight_1),
    replace(lots.VIABILITY, version=1, compute=viability_1),
    replace(lots.PURE_LIVE_SEED, version=1, compute=pure_live_seed_1),
    replace(coating.PLANNED, version=1, compute=planned_and_done_1),
    replace(field.FINAL, version=1, compute=field.wired(emerged.final_1, "shares")),
    replace(field.SITES, version=1, compute=field.wired(emerged.final_1, "shares")),
    replace(field.ROWS, version=1, compute=field.wired(emerged.compare_1, "visits", "at", "since")),
    replace(decision.LOSSES, version=1, compute=adapted(losses_1, compared="pairs")),
    replace(decision.COST, version=1, compute=adapted(cost_1, established="passed")),
    replace(decision.COST_CURVE, version=1, compute=adapted(cost_curves_1, established="passed")),
    replace(
        decision.RESERVE, version=1, reads=(views.ends_of_seed, counting.newly, asked),
        compute=adapted(reserve_1, ends_of_seed="shares"),
    ),
)  # fmt: skip


class Left(NamedTuple):
    """A version that was left behind.

    recipe, version : which.  changed : what the later does otherwise.  better : why.  gone : why it cannot be run any more,
    "" where it can.
    """

    recipe: str
    version: int
    changed: str
    better: str
    gone: str = ""

    @property
    def told(self):
        """What was changed and why, in one or two sentences."""
        return f"Changed since: {self.changed} {self.better}"


@cache
def left_behind():
    """{(recipe id, version): Left}, in the order of the list."""
    raw = json.loads((HERE / "analyses" / "earlier.json").read_text(encoding="utf-8"))
    return MappingProxyType({(one["recipe"], one["version"]): Left(**one) for one in raw})


def find(recipe_id, version):
    """The earlier recipe, or None where there is none of that version that can be run."""
    return next((r for r in KEPT if (r.id, r.version) == (recipe_id, version)), None)


def why_gone(recipe_id, version):
    """Why an earlier version cannot be run, as a sentence; "" where it can, or where there never was one."""
    left = left_behind().get((recipe_id, version))
    return f"Version {version} of {recipe_id} can no longer be run: {left.gone}" if left and left.gone else ""


def since(recipe):
    """What is to be borne in mind of an answer by an earlier version; () of a present one."""
    left = left_behind().get((recipe.id, recipe.version))
    return (f"This is an earlier version, {recipe.version}. {left.told}",) if left else ()


def as_rows(recipe_id):
    """What is told of the earlier versions of a recipe, as plain mappings."""
    mine = [each for (of, _), each in left_behind().items() if of == recipe_id]
    return [
        {"version": each.version, "can_be_run": not each.gone, "changed": each.changed, "better": each.better, "gone": each.gone}
        for each in mine
    ]
