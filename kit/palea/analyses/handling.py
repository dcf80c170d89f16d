"""The questions of handling, as recipes: how seed flows, what a seeder makes of it, whether a mixture stays mixed."""

from dataclasses import replace
from functools import wraps
from types import MappingProxyType

from palea.analyses.germination import CONFIDENCE
from palea.analyses.recipe import Recipe
from palea.calc.handling import flow, mixture, seeder
from palea.calc.results import Effects
from palea.derived import handled, mixed

OPTIONS = MappingProxyType({"confidence": CONFIDENCE})


def _wired(compute):
    """The calculation; a material that has no treatment is named as the lot that it is."""

    @wraps(compute)
    def asked(without_treatment, **given):
        result = compute(**given)
        known = set(without_treatment["lot"])
        if not isinstance(result, Effects) or not known:
            return result
        return replace(result, groups=tuple(_of_lot(e) if e.of["treatment"] in known else e for e in result.groups))

    return asked


def _of_lot(estimate):
    of = {"lot" if name == "treatment" else name: ident for name, ident in estimate.of.items()}
    return replace(estimate, of=MappingProxyType(of))


FLOW = Recipe(
    id="handling.flow",
    version=2,
    title="How does the seed flow, and does a treatment change that?",
    rung="dish",
    quantity="Carr index",
    reads=(handled.samples, handled.asked, handled.without_treatment),
    compute=_wired(flow.flow),
    options=OPTIONS,
    when=lambda facts: len(facts[handled.samples]) > 0,
    needs=("handling_runs",),
)
SEEDER = Recipe(
    id="handling.seeder",
    version=2,
    title="How even is the row, and does a treatment change that?",
    rung="seeder run",
    quantity="row variation",
    reads=(handled.metres, handled.runs, handled.gaps, handled.asked, handled.without_treatment),
    compute=_wired(seeder.seeder),
    options=OPTIONS,
    when=lambda facts: len(facts[handled.runs]) > 0,
    needs=("handling_runs",),
)
MIXTURE = Recipe(
    id="handling.mixture",
    version=2,
    title="Does a mixture stay mixed to the last of the hopper?",
    rung="seeder run",
    quantity="drift along the hopper",
    reads=(mixed.samples, handled.asked, handled.without_treatment),
    compute=_wired(mixture.mixture),
    options=OPTIONS,
    when=lambda facts: len(facts[mixed.samples]) > 0,
    needs=("handling_runs",),
)
RECIPES = (FLOW, SEEDER, MIXTURE)
