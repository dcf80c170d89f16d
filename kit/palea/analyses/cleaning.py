"""The questions on cleaning, as recipes: what it keeps and breaks, and how long it takes."""

from types import MappingProxyType

from palea.analyses.germination import CONFIDENCE
from palea.analyses.recipe import Recipe
from palea.calc.cleaning.effort import GRAM, effort
from palea.calc.cleaning.recovery import OF_FILLED, recovery
from palea.derived.cleaning_runs import asked, cleaning_runs, cleaning_times

OPTIONS = MappingProxyType({"confidence": CONFIDENCE})

RECOVERY = Recipe(
    id="cleaning.recovery",
    version=1,
    title="How much seed came through cleaning, how much was damaged, and does the method matter?",
    rung="batch",
    quantity=OF_FILLED,
    reads=(cleaning_runs, asked),
    compute=recovery,
    options=OPTIONS,
    about="package",
    when=lambda facts: len(facts[cleaning_runs]) > 0,
)
EFFORT = Recipe(
    id="cleaning.effort",
    version=1,
    title="How long does cleaning take, and from what mass does a machine pay?",
    rung="batch",
    quantity=GRAM,
    reads=(cleaning_times,),
    compute=effort,
    options=OPTIONS,
    about="package",
    when=lambda facts: len(facts[cleaning_times]) > 0,
)
RECIPES = (RECOVERY, EFFORT)
