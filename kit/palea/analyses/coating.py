"""The questions on coats and soaks, as recipes: how much was put on, how evenly, what it carries, and how to make more."""

from types import MappingProxyType

from palea.analyses.germination import CONFIDENCE
from palea.analyses.recipe import Option, Recipe
from palea.calc.coating.balance import FOUND_AGAIN, balance
from palea.calc.coating.build_up import BY_BATCH, FILM_BELOW, PELLET_ABOVE, build_up_by_treatment
from palea.calc.coating.dose import ALIKE, INTENDED, doses
from palea.calc.coating.planned import AS_PLANNED, WITHIN, planned_and_done
from palea.calc.coating.scale_up import LIQUID, scale_up
from palea.calc.coating.so_far import IF_ALL_STAYS, so_far
from palea.calc.coating.units import SINGLES, units
from palea.calc.solutions.made import BY_MASS, strengths
from palea.derived.coat_doses import batch_doses, route_pairs
from palea.derived.coated_lots import (
    batch_settings,
    coated_batches,
    coating_flows,
    disintegration_times,
    dust_tests,
    opened_units,
    single_masses,
    unit_masses,
    washed_units,
)
from palea.derived.planned_steps import planned_steps
from palea.derived.preparations import preparation_parts
from palea.derived.under_way import runs_so_far


def _recipe(name, title, quantity, reads, compute, *, version=1, **options):
    """A recipe about the package, asked where any of its views has rows."""
    return Recipe(
        id=f"coating.{name}", version=version, title=title, rung="batch", quantity=quantity, reads=reads, compute=compute,
        options=MappingProxyType({"confidence": CONFIDENCE} | options), about="package",
        when=lambda facts: any(len(facts[v]) > 0 for v in reads),
    )  # fmt: skip


BUILD_UP = _recipe(
    "build_up", "How much coat was put on?", BY_BATCH, (coated_batches, unit_masses, washed_units), build_up_by_treatment,
    film_below=Option(FILM_BELOW, float, "Build-up below which the mass speaks for a film, %.", lowest=0.0),
    pellet_above=Option(PELLET_ABOVE, float, "Build-up above which the mass speaks for a pellet, %.", lowest=0.0),
)  # fmt: skip
UNITS = _recipe(
    "units", "How many seeds are in a coated unit, how even is the coat, how does it last and dust?", SINGLES,
    (opened_units, single_masses, disintegration_times, dust_tests), units,
)  # fmt: skip
DOSE = _recipe(
    "dose", "How much of each active does the seed carry, and how well is that known?", INTENDED,
    (batch_doses, route_pairs), doses,
    low=Option(ALIKE[0], float, "Ratio of two doses from which they count as equal.", lowest=0.01, highest=1.0),
    high=Option(ALIKE[1], float, "Ratio of two doses up to which they count as equal.", lowest=1.0, highest=100.0),
)  # fmt: skip
BALANCE = _recipe(
    "balance", "Where did seed and coat go?", FOUND_AGAIN, (coating_flows,), balance,
)  # fmt: skip
PLANNED = _recipe(
    "planned_and_done", "Was it done as it was planned?", AS_PLANNED, (planned_steps,), planned_and_done, version=2,
    within=Option(WITHIN, float, "% of the plan, either way, that counts as done as planned.", lowest=0.0, highest=100.0),
)  # fmt: skip
SCALE_UP = _recipe(
    "scale_up", "What does the same coat take in another pan?", LIQUID, (batch_settings,), scale_up,
    to_seed_g=Option(20_000.0, float, "Bare seed in the other batch, g.", lowest=0.001),
    to_diameter_m=Option(0.9, float, "Inner diameter of the other pan, m.", lowest=0.01, highest=10.0),
)  # fmt: skip
SOLUTION = _recipe(
    "solution", "How strong are the preparations?", BY_MASS, (preparation_parts,), strengths,
)  # fmt: skip
SO_FAR = Recipe(
    id="coating.so_far", version=1, title="How much is on the seed so far?", rung="batch", quantity=IF_ALL_STAYS,
    reads=(runs_so_far,), compute=so_far, about="package", when=lambda facts: False,  # noqa: ARG005 - asked at the bench alone
    options=MappingProxyType({"confidence": CONFIDENCE, "run": Option("", str, "The run that is under way; blank: every run.")}),
)  # fmt: skip
RECIPES = (BUILD_UP, UNITS, DOSE, BALANCE, PLANNED, SCALE_UP, SOLUTION, SO_FAR)
