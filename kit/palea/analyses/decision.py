"""The questions of the decision stage, and of the evidence behind it, as recipes."""

from functools import wraps
from types import MappingProxyType

from palea.analyses.recipe import Option, Recipe
from palea.calc.decision.contrasts import one_factor
from palea.calc.decision.cost import cost, cost_curves
from palea.calc.decision.equivalence import equivalence
from palea.calc.decision.evidence import pool_question
from palea.calc.decision.held_back import held_back
from palea.calc.decision.losses import losses
from palea.calc.decision.reserve import reserve
from palea.derived import chain, contrasts, counting, mapped, measured, pooled, priced, reserves

CONFIDENCE = Option(0.95, float, "Share of intervals that cover, between 0.5 and 0.999.", lowest=0.5, highest=0.999)
REPLICATES = Option(999, int, "How often the units of every stage are drawn anew.", lowest=99, highest=100_000)
SEED = Option(1, int, "Start of the random streams; the same seed gives the same intervals.", lowest=0)
PLANTS = Option(20_000.0, float, "Established plants wanted on a hectare.", lowest=1)
DRAWN = MappingProxyType({"confidence": CONFIDENCE, "replicates": REPLICATES, "seed": SEED})


def adapted(compute, **renamed):
    """compute, with its frames handed over under the names of views: {name of the view: name of the argument}."""

    @wraps(compute)
    def called(**given):
        return compute(**{renamed.get(name, name): value for name, value in given.items()})

    return called


def _has_equivalence(facts):
    return len(facts[measured.asked]) > 0


def _has_germinants(facts):
    return len(facts[counting.newly]) > 0 and len(facts[contrasts.asked]) > 0


def _followed(facts):
    """Whether a treatment was followed from its bag to an established plant."""
    return len(facts[chain.established]) > 0


def _priced(facts):
    return _followed(facts) and len(facts[priced.prices]) > 0


def _asked_twice(facts):
    """Whether two trials answered one question."""
    found = facts[pooled.effects]
    return bool(len(found)) and found.groupby(["a", "b", "quantity", "denominator"])["trial"].nunique().max() > 1


CONTRASTS = Recipe(
    id="decision.contrasts",
    version=1,
    title="In what do treatments differ, and which arm is missing between them?",
    rung="lot",
    quantity="factors that differ",
    reads=(mapped.levels, mapped.pairs, mapped.brings, mapped.only_with),
    compute=adapted(one_factor, pairs="asked"),
    about="package",
)
EQUIVALENCE = Recipe(
    id="decision.equivalence",
    version=1,
    title="Is the difference smaller than what matters, in each species and in all?",
    rung="batch",
    quantity="normal seedlings",
    reads=(measured.values, measured.asked),
    compute=equivalence,
    options=MappingProxyType({"confidence": CONFIDENCE}),
    when=_has_equivalence,
)
LOSSES = Recipe(
    id="decision.losses",
    version=2,
    title="Where is seed lost between sowing and an established plant?",
    rung="plot",
    quantity="established",
    reads=(chain.passed, priced.compared),
    compute=adapted(losses, compared="pairs"),
    options=DRAWN,
    about="package",
    when=_followed,
)
COST = Recipe(
    id="decision.cost",
    version=2,
    title="What do a plant and a hectare cost, and from which area or seed price does a treatment pay?",
    rung="plot",
    quantity="cost of a hectare",
    reads=(chain.established, priced.prices, priced.pairs),
    compute=adapted(cost, established="passed"),
    options=MappingProxyType({
        "plants": PLANTS,
        "area": Option(5.0, float, "Hectares that one campaign sows.", lowest=0.001),
        "currency": Option("EUR", str, "Currency, where the prices name none."),
    } | DRAWN),
    about="package",
    when=_priced,
)  # fmt: skip
COST_CURVE = Recipe(
    id="decision.cost_curve",
    version=2,
    title="What does an established plant cost, on small areas and on large ones?",
    rung="plot",
    quantity="cost of a plant",
    reads=(chain.established, priced.prices),
    compute=adapted(cost_curves, established="passed"),
    options=MappingProxyType({
        "plants": PLANTS,
        "largest": Option(50.0, float, "Largest area that one campaign sows, in hectares.", lowest=1),
        "currency": Option("EUR", str, "Currency, where the prices name none."),
    } | DRAWN),
    about="package",
    when=_priced,
)  # fmt: skip
RESERVE = Recipe(
    id="decision.reserve",
    version=2,
    title="What is left in reserve, and how widely does germination spread?",
    rung="batch",
    quantity="waiting seed",
    reads=(reserves.ends_of_seed, counting.newly, contrasts.asked),
    compute=adapted(reserve, ends_of_seed="shares"),
    options=MappingProxyType({"confidence": CONFIDENCE}),
    when=_has_germinants,
)
MIXTURE = Recipe(
    id="decision.mixture",
    version=1,
    title="What do two portions in one bag establish, and what do they keep?",
    rung="site",
    quantity="share held back",
    reads=(reserves.seasons, reserves.portions, reserves.mixtures),
    compute=held_back,
    options=MappingProxyType({
        "first": Option("", str, "Treatment that is sown in full where nothing is held back."),
        "second": Option("", str, "Treatment that is held back."),
        "bad_chance": Option(
            0.5, float, "Chance of the kind of season in which the first did worst: your own number.", lowest=0, highest=1
        ),
        "keep": Option(0.0, float, "Reserve that must stay, in % of viable seed; 0: not asked.", lowest=0, highest=100),
        "viable_seeds": Option(10_000, int, "Viable seeds in the bag.", lowest=1),
    }),
    about="package",
)  # fmt: skip
POOL = Recipe(
    id="evidence.pool",
    version=1,
    title="What do several trials say together, and how far do they differ?",
    rung="lot",
    quantity="normal seedlings",
    reads=(pooled.effects,),
    compute=pool_question,
    options=MappingProxyType({
        "a": Option("", str, "Treatment that is asked about; blank: the question that most trials answered."),
        "b": Option("", str, "Treatment it is held against."),
        "quantity": Option("", str, "What was judged.", vocabulary="quantity"),
        "confidence": CONFIDENCE,
        "method": Option("REML", str, "Of the variance between trials: REML or DL."),
    }),
    about="package",
    when=_asked_twice,
)  # fmt: skip
RECIPES = (CONTRASTS, EQUIVALENCE, LOSSES, COST, COST_CURVE, RESERVE, MIXTURE, POOL)
