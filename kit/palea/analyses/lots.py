"""The questions on lots, as recipes: what came, how much of it is seed, alive, dry, and left."""

from types import MappingProxyType

from palea.analyses.germination import CONFIDENCE
from palea.analyses.recipe import Option, Recipe
from palea.calc.lots.life import VIABLE, viability
from palea.calc.lots.live_seed import PURE_LIVE, pure_live_seed
from palea.calc.lots.purity import MOST_LOSS, PURE, purity
from palea.calc.lots.seed_weight import CHAFFY_LIMIT, LIMIT, WEIGHT, thousand_seed_weight
from palea.calc.lots.stock import LEFT, balance
from palea.calc.lots.water import AGREE, WATER, moisture
from palea.derived.lot_tests import (
    bags,
    counted_groups,
    counted_seeds,
    lot_movements,
    planned_draws,
    purity_parts,
    tins,
)


def _recipe(name, title, quantity, reads, compute, first, *, version=1, **options):
    """A recipe about the package, asked where a view has rows.  first : that view."""
    return Recipe(
        id=f"lots.{name}", version=version, title=title, rung="lot", quantity=quantity, reads=reads, compute=compute,
        options=MappingProxyType({"confidence": CONFIDENCE} | options), about="package",
        when=lambda facts: len(facts[first]) > 0,
    )  # fmt: skip


TSW = _recipe(
    "tsw", "How heavy are a thousand units of each lot, and do the weighings agree?", WEIGHT,
    (counted_groups,), thousand_seed_weight, counted_groups, version=2,
    chaffy_limit=Option(CHAFFY_LIMIT, float, "Largest coefficient of variation of units in their hull, %.", lowest=0.1),
    limit=Option(LIMIT, float, "Largest coefficient of variation of other units, %.", lowest=0.1),
)  # fmt: skip
PURITY = _recipe(
    "purity", "How much of each lot is pure seed?", PURE, (purity_parts,), purity, purity_parts,
    most_loss=Option(MOST_LOSS, float, "Loss or gain in sorting, % of the sample, from which a test is done again.",
                     lowest=0.0, highest=100.0),
)  # fmt: skip
MOISTURE = _recipe(
    "moisture", "How much water is in the seed?", WATER, (tins,), moisture, tins,
    agree_within=Option(AGREE, float, "Points that two tins of a test may differ.", lowest=0.0, highest=100.0),
)  # fmt: skip
VIABILITY = _recipe(
    "viability", "How many units hold a seed, and how many seeds are alive?", VIABLE, (counted_seeds,), viability,
    counted_seeds, version=2,
)  # fmt: skip
PURE_LIVE_SEED = _recipe(
    "pure_live_seed", "How much of each lot will live, and what does a live seed cost?", PURE_LIVE,
    (purity_parts, counted_seeds, counted_groups, bags), pure_live_seed, counted_seeds, version=2,
)  # fmt: skip
BALANCE = _recipe(
    "balance", "How much is left of each lot, by the book and by the scale?", LEFT, (lot_movements, planned_draws), balance,
    lot_movements,
)  # fmt: skip
RECIPES = (TSW, PURITY, MOISTURE, VIABILITY, PURE_LIVE_SEED, BALANCE)
