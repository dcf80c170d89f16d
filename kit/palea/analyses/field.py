"""The questions of the field stage, as recipes: emergence, survival, growth."""

from dataclasses import replace
from functools import wraps
from types import MappingProxyType

import numpy as np

from palea.analyses.germination import CONFIDENCE
from palea.analyses.recipe import Option, Recipe
from palea.calc.field import emergence, growth, rows, survival
from palea.calc.results import Effects
from palea.derived import field_counts, followed, plant_sizes, sites

WHAT_IF = Option(
    "", str, "Judge every contrast on this denominator in place of the declared one.", vocabulary="denominator"
)
POOLED = Option(
    default=False, type=bool, help="Whether a mean over the sites was declared; else each site is judged by itself."
)
DAY = Option(0.0, float, "Day that is judged, counted as in the answer; 0: the last one.", lowest=0.0)


def _options(**named):
    return MappingProxyType({"confidence": CONFIDENCE} | named)


def wired(compute, plots, *days):
    """The calculation as a recipe asks it: day 0 is handed on as none (a missing number could not be kept among the
    options), and what has no row of its own is said in words instead of named (see `_by_ids`).

    plots : which of its frames holds the plots.
    """

    @wraps(compute)
    def asked(**given):
        result = compute(**given | {name: given[name] or np.nan for name in days})
        return _by_ids(result, given[plots]) if isinstance(result, Effects) else result

    return asked


def _by_ids(result, plots):
    """Pairs of sites are no row that a kept result could point to: the reason names them. Means of all treatments of a
    main plot's level are none either and are left out; how an effect changes between levels is asked by `across`.
    """
    treatments, environments = {*plots["treatment"], ""}, set(plots["environment"])
    groups = (e for e in result.groups if e.of["treatment"] in treatments)
    effects = (e if e.of["environment"] in environments else _without(e, "environment") for e in result.effects)
    return replace(result, groups=tuple(groups), effects=tuple(effects))


def _without(estimate, part):
    return replace(estimate, of=MappingProxyType({name: ident for name, ident in estimate.of.items() if name != part}))


def _sown(facts):
    return len(facts[field_counts.sown_plots]) > 0


def _followed(facts):
    return len(facts[followed.intervals]) > 0


def _never_thinned(facts):
    return len(facts[field_counts.visits]) > 0


def _measured(facts):
    return len(facts[plant_sizes.measured]) > 0


def _newly_emerged(facts):
    return bool(np.isfinite(facts[field_counts.intervals]["right"]).any())


def _across_sites(facts):
    return len(facts[sites.asked]) > 0


FINAL = Recipe(
    id="emergence.final",
    version=2,
    title="How much came up and stood on the planned day, and does a treatment change it?",
    rung="plot",
    quantity="emerged",
    reads=(field_counts.shares, field_counts.asked, field_counts.unsown),
    compute=wired(emergence.final, "shares"),
    options=_options(denominator=WHAT_IF),
    when=_sown,
)
SITES = Recipe(
    id="emergence.sites",
    version=2,
    title="Does the site change what a treatment does?",
    rung="plot",
    quantity="emerged",
    reads=(sites.shares, sites.asked, field_counts.unsown),
    compute=wired(emergence.final, "shares"),
    options=_options(denominator=WHAT_IF, pooled=POOLED),
    about="package",
    when=_across_sites,
)
TIME = Recipe(
    id="emergence.time",
    version=2,
    title="How long did it take to come up?",
    rung="plot",
    quantity="emergence t50",
    reads=(field_counts.intervals, field_counts.asked),
    compute=wired(emergence.time, "intervals"),
    options=_options(),
    when=_newly_emerged,
)
CURVE = Recipe(
    id="survival.curve",
    version=1,
    title="How did the plants that were kept live on?",
    rung="plot",
    quantity="survival curve",
    reads=(followed.intervals,),
    compute=survival.curve,
    options=_options(),
    when=_followed,
)
COMPARE = Recipe(
    id="survival.compare",
    version=2,
    title="Does a treatment change how many of the kept plants live?",
    rung="plot",
    quantity="surviving",
    reads=(followed.intervals, field_counts.asked),
    compute=wired(survival.compare, "intervals", "at"),
    options=_options(
        at=DAY,
        plot_effects=Option(
            default=False, type=bool, help="Hazard ratios between plots alike, in place of those between all plants."
        ),
    ),
    when=_followed,
)
ROWS = Recipe(
    id="survival.rows",
    version=2,
    title="What stands in rows that were never thinned, and what does that say about survival?",
    rung="plot",
    quantity="established",
    reads=(field_counts.visits, field_counts.asked),
    compute=wired(rows.compare, "visits", "at", "since"),
    options=_options(
        at=DAY,
        since=Option(0.0, float, "Day whose standing plants are the density that crowds; 0: crowding is left out.", lowest=0.0),
        denominator=WHAT_IF,
    ),
    when=_never_thinned,
)
GROWTH = Recipe(
    id="growth.compare",
    version=2,
    title="Does a treatment change how large the plants grow?",
    rung="plot",
    quantity="plant dry mass",
    reads=(plant_sizes.measured, field_counts.asked, followed.survivors, plant_sizes.units),
    compute=wired(growth.compare, "measured"),
    options=_options(),
    when=_measured,
    needs=("measurements",),
)
RECIPES = (FINAL, SITES, TIME, CURVE, COMPARE, ROWS, GROWTH)
