"""The questions of the germination stage, as recipes."""

from types import MappingProxyType

from palea.analyses.recipe import Option, Recipe
from palea.calc.germination.final import final
from palea.calc.germination.indices import indices, uniformity
from palea.calc.germination.time import curve, times
from palea.derived.contrasts import asked
from palea.derived.counting import intervals, newly, shares

CONFIDENCE = Option(0.95, float, "Share of intervals that cover, between 0.5 and 0.999.", lowest=0.5, highest=0.999)
SEED = Option(1, int, "Start of the random streams of the bootstrap; the same seed gives the same interval.", lowest=0)
REPLICATES = Option(999, int, "Bootstrap samples of dishes within batches.", lowest=99, highest=100_000)


def _options(**named):
    return MappingProxyType({"confidence": CONFIDENCE} | named)


FINAL = Recipe(
    id="germination.final",
    version=2,
    title="How much germinated, and does a treatment change it?",
    rung="batch",
    quantity="germinated",
    reads=(shares, asked),
    compute=final,
    options=_options(
        denominator=Option(
            "", str, "Judge every contrast on this denominator in place of the declared one.", vocabulary="denominator"
        )
    ),
)
TIME = Recipe(
    id="germination.time",
    version=2,
    title="How long did it take, and does a treatment change that?",
    rung="batch",
    quantity="t50",
    reads=(intervals, asked),
    compute=times,
    options=_options(replicates=REPLICATES, seed=SEED),
)
CURVE = Recipe(
    id="germination.curve",
    version=1,
    title="How did germination go on over time?",
    rung="dish",
    quantity="germination curve",
    reads=(intervals,),
    compute=curve,
    options=_options(replicates=REPLICATES, seed=SEED),
)
INDICES = Recipe(
    id="germination.indices",
    version=1,
    title="What are the classical measures of speed, dish by dish?",
    rung="dish",
    quantity="mean germination time",
    reads=(newly,),
    compute=indices,
    options=_options(),
)
UNIFORMITY = Recipe(
    id="germination.uniformity",
    version=1,
    title="How evenly in time did the seed germinate?",
    rung="dish",
    quantity="germination uncertainty",
    reads=(newly,),
    compute=uniformity,
    options=_options(),
)
RECIPES = (FINAL, TIME, CURVE, INDICES, UNIFORMITY)
