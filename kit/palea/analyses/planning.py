"""The questions of the planning stage, as recipes. Those that rest on options alone are answered in any package."""

from types import MappingProxyType

from palea.analyses.recipe import Option, Recipe
from palea.calc.planning.asked import layout_of, power_of, size_of
from palea.calc.planning.seed import seed_needed
from palea.derived.planned import lots, needs

SEED = Option(1, int, "Start of the random streams; the same seed gives the same plan.", lowest=0)
SEEDS = Option(25, int, "Seeds a dish, or plants a plot.", lowest=1, highest=100_000)
RHO = Option(
    0.02, float, "How alike seeds of one dish are (0: not at all). Dishes lie between 0 and 0.1.", lowest=0, highest=0.99
)
ALPHA = Option(0.05, float, "Two-sided level of the test.", lowest=0.0001, highest=0.5)
LEVEL = "Share expected on the side that {}, in %."


def _only_when_asked(_facts):
    """A plan is asked for by a person; a package as such asks none."""
    return False


LAYOUT = Recipe(
    id="planning.layout",
    version=1,
    title="Where does each unit lie, and which treatment does it get?",
    rung="block",
    quantity="efficiency of blocks",
    reads=(),
    compute=layout_of,
    options=MappingProxyType({
        "treatments": Option("A; B; C; D", str, "Names of the treatments, separated by semicolons."),
        "mains": Option("", str, "For a split plot: what whole main plots get, separated by semicolons."),
        "design": Option("randomised blocks", str, "How treatments are given to units.", vocabulary="design"),
        "repeats": Option(4, int, "Units of each treatment: blocks, or replicates.", lowest=1, highest=10_000),
        "block_size": Option(0, int, "Units an incomplete block (alpha design).", lowest=0, highest=1000),
        "columns": Option(0, int, "Width of field or shelf in units; 0: a block a line.", lowest=0, highest=1000),
        "seed": SEED,
    }),
    about="package",
    when=_only_when_asked,
)  # fmt: skip
SIZE = Recipe(
    id="planning.size",
    version=2,
    title="How many units does a question need, and what can those at hand show?",
    rung="dish",
    quantity="units needed",
    reads=(),
    compute=size_of,
    options=MappingProxyType({
        "level_a": Option(85.0, float, LEVEL.format("is asked about"), lowest=0, highest=100),
        "level_b": Option(70.0, float, LEVEL.format("it is held against"), lowest=0, highest=100),
        "seeds": SEEDS,
        "rho": RHO,
        "have": Option(0, int, "Units of each treatment that there are; 0: not said.", lowest=0, highest=100_000),
        "kind": Option("superiority", str, "What is asked of the difference.", vocabulary="contrast_kind"),
        "margin": Option(0.0, float, "Smallest difference that matters, in points; 0: none.", lowest=0, highest=100),
        "wanted": Option("higher", str, "Whether more or less of it is better.", vocabulary="wanted"),
        "dishes": Option(1, int, "Dishes of a batch, where batches are the units.", lowest=1, highest=1000),
        "batch_sd": Option(0.0, float, "How far batches differ, as a standard deviation of logits.", lowest=0, highest=5),
        "power": Option(0.8, float, "Chance of seeing what is there.", lowest=0.05, highest=0.999),
        "alpha": ALPHA,
        "trials": Option(1000, int, "Trials made up for the power; 0: none.", lowest=0, highest=100_000),
        "seed": SEED,
    }),
    about="package",
    when=_only_when_asked,
)  # fmt: skip
POWER = Recipe(
    id="planning.power",
    version=2,
    title="Which difference can how many units see?",
    rung="dish",
    quantity="power",
    reads=(),
    compute=power_of,
    options=MappingProxyType({
        "level_b": Option(60.0, float, LEVEL.format("the others are held against"), lowest=0, highest=99.9),
        "seeds": SEEDS,
        "rho": RHO,
        "sizes_asked": Option("8; 16; 32; 64", str, "Numbers of units of each treatment, separated by semicolons."),
        "alpha": ALPHA,
        "most": Option(40.0, float, "Largest difference, in points.", lowest=1, highest=100),
    }),
    about="package",
    when=_only_when_asked,
)  # fmt: skip
NEEDED = Recipe(
    id="planning.seed",
    version=1,
    title="How much do all trials take of each lot, and does it hold that?",
    rung="lot",
    quantity="seed needed",
    reads=(needs, lots),
    compute=seed_needed,
    options=MappingProxyType({
        "spare": Option(0.0, float, "Share of seed added to all, as 0.1 for a tenth.", lowest=0, highest=100),
    }),
    about="package",
)  # fmt: skip
RECIPES = (LAYOUT, SIZE, POWER, NEEDED)
