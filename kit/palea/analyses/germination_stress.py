"""The questions of germination under stress and in storage, as recipes."""

from dataclasses import replace
from functools import wraps
from math import isfinite, nan
from types import MappingProxyType

from palea.analyses.germination import CONFIDENCE, REPLICATES, SEED
from palea.analyses.recipe import Recipe
from palea.calc.germination import dose, storage, temperature, water
from palea.calc.germination.conditions import settings
from palea.calc.results import Effects
from palea.calc.stats.verdicts import UNDECLARED
from palea.derived import counting, stress

FEWEST_DOSES = dose.FEWEST_DOSES


def _options(**named):
    return MappingProxyType({"confidence": CONFIDENCE} | named)


DRAWS = _options(replicates=REPLICATES, seed=SEED)


def _as_declared(compute, factor, change):
    """The calculation, with a verdict on how an effect changes along a factor only where that was declared, and where.

    What nobody asked and what could not be had is left out: too few levels for a model are told once, as a warning.
    """

    @wraps(compute)
    def asked(**given):
        result = compute(**given)
        if not isinstance(result, Effects):
            return result
        rows = given["asked"][given["asked"]["across"].eq(factor)]
        declared = set(zip(*(rows[name] for name in ("taxon", "environment", "a", "b")), strict=True))
        effects = [
            e if e.quantity != change or {_place(e), _place(e, "")} & declared else _bare(e) for e in result.effects
        ]
        return _without_idle(replace(result, effects=tuple(effects)))

    return asked


def _without_idle(result):
    """Without effects that were neither asked nor answered, and without groups where not a single one was answered."""
    effects = tuple(e for e in result.effects if isfinite(e.value) or e.verdict)
    if any(isfinite(group.value) for group in result.groups):
        return replace(result, effects=effects)
    reasons = dict.fromkeys(group.reason for group in result.groups if group.reason)
    return replace(result, effects=effects, groups=(), warnings=(*result.warnings, *reasons))


def _place(estimate, environment=None):
    of = estimate.of
    return of["taxon"], of["environment"] if environment is None else environment, of["a"], of["b"]


def _bare(estimate):
    """Without a verdict. What could not be judged stays said."""
    reason = f"{estimate.reason} {UNDECLARED}" if isfinite(estimate.value) else estimate.reason
    return replace(estimate, verdict="", kind="", margin=nan, reason=reason.strip())


def _in_stores(compute):
    """The calculation, its stores named in words: they are places, no rows of environments that a result could point to.

    What is of one treatment in one store is named by the lot that lay there too.
    """

    @wraps(compute)
    def asked(**given):
        result = compute(**given)
        if not isinstance(result, Effects):
            return result
        lots = given["viability"].drop_duplicates(["treatment", "store"]).set_index(["treatment", "store"])["lot"]
        groups, effects = (tuple(_in_store(e, lots) for e in part) for part in (result.groups, result.effects))
        return replace(result, groups=groups, effects=effects)

    return asked


def _in_store(estimate, lots):
    of = dict(estimate.of)
    store = of.pop("environment", "")
    if "treatment" in of and store:
        of["lot"] = str(lots[of["treatment"], store])
    told = f"Store: {store}. " if store else ""
    return replace(estimate, of=MappingProxyType(of), reason=f"{told}{estimate.reason}".strip())


def _levels(facts, what):
    """Whether dishes stood at two levels or more of water or warmth."""
    placed, _ = settings(facts[stress.environments])
    return len({getattr(setting, what) for setting in placed}) > 1


def _several_waters(facts):
    return _levels(facts, "water")


def _several_temperatures(facts):
    return _levels(facts, "warmth")


def _a_series(facts):
    doses = facts[stress.series]
    return bool((doses[doses["dose"] > 0].groupby(["series", "active"])["dose"].nunique() >= FEWEST_DOSES).any())


def _was_stored(facts):
    return bool((facts[stress.viability]["months"] > 0).any())


WATER = Recipe(
    id="germination.water",
    version=2,
    title="Does a treatment do the same where water is short, and how dry may it be?",
    rung="dish",
    quantity="base water potential",
    reads=(stress.intervals, stress.shares, stress.asked_along_water, stress.environments),
    compute=_as_declared(water.water, "water", water.WATER_CHANGE),
    options=DRAWS,
    when=_several_waters,
)
TEMPERATURE = Recipe(
    id="germination.temperature",
    version=2,
    title="Does a treatment do the same where it is warmer, and what does warmth do itself?",
    rung="incubator run",
    quantity="thermal time",
    reads=(stress.intervals, stress.shares, stress.asked_along_temperature, stress.environments),
    compute=_as_declared(temperature.temperature, "temperature", temperature.WARMTH_CHANGE),
    options=DRAWS,
    when=_several_temperatures,
)
DOSE = Recipe(
    id="germination.dose",
    version=2,
    title="How much of an active does how much?",
    rung="batch",
    quantity="dose for half the effect",
    reads=(counting.shares, stress.series),
    compute=dose.dose,
    options=_options(),
    when=_a_series,
    needs=("treatment_actives",),
)
STORAGE = Recipe(
    id="germination.storage",
    version=2,
    title="How long does the seed keep, and does a treatment change that?",
    rung="dish",
    quantity="half-life in storage",
    reads=(stress.viability, stress.asked_along_storage),
    compute=_in_stores(storage.storage),
    options=_options(),
    when=_was_stored,
    needs=("storage",),
)
RECIPES = (WATER, TEMPERATURE, DOSE, STORAGE)
