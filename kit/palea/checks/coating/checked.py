"""Checks of coated lots: seeds a unit, what a unit weighs, tests that ask about a coat which is not there."""

from palea import schema
from palea.checks.examples import dish, examined, lot, moved, several
from palea.checks.rule import rule
from palea.derived.lookup import numbers, texts
from palea.derived.made_for import run_seed
from palea.derived.spoken import amounts
from palea.derived.tests_of_lots import PER, counted, read, share_of, thousand

DOUBLES = 0.05  # share of units with two seeds or more; common practice, no source
OTHERS = 0.2  # share of units of another class than the lot is said to be; common practice, no source
OWN = "its own class"
EMPTY = 0.10  # share of coated units without a seed; common practice, no source
OTHER_SCALE = 2.0  # means of single units and of counted ones are never this far apart; common practice, no source
WEIGHED = "units that were counted and weighed together"
BUILT_UP = "the seed put in and the coat that came on it"


def _opened(one, two, none=0, **more):
    found = {"one seed": one, "two seeds": two, "no seed": none}
    opened = examined("CC-1", "singles and multiples", found, out_of=100)
    return several(lot("CC-1", seed_unit="pellet"), opened, dish(lot_id="CC-1", **more))


def _first_test(tests, quantity):
    return tests[tests["quantity"].eq(quantity).fillna(value=False)].drop_duplicates("lot_id")


@rule(
    "coating.doubles", severity="warning", reads=("tests", counted, "units"), at="tests.lot_id",
    says="{percent} % of the units of lot {lot_id} hold two seeds or more ({n} opened), and its trial units say one each: "
    "counts may exceed what was sown.",
    remedy="Enter the mean number of seeds in seeds_each of the units sown from it, or sort the multiples out.",
    fires=_opened(93, 7), nearly=_opened(93, 7, seeds_each=1.07),
)  # fmt: skip
def doubles(tests, counted, units):
    """A lot with doubles is not single-seeded; who says so beside the units that were sown has taken it in."""
    told = _shares(tests, counted, "singles and multiples", ("two seeds", "more seeds"))
    single = units.loc[units["seeds_each"].eq(1), "lot_id"].dropna()
    return told[(told["share"] > DOUBLES) & told["lot_id"].isin(single)]


def _shares(tests, counted, quantity, items):
    """First test of that quantity of each lot, with the share of these items pooled over the lot's tests."""
    pooled = share_of(counted, quantity, items)
    first = _first_test(tests, quantity)
    first = first[first["lot_id"].isin(pooled.index)]
    at = pooled.loc[first["lot_id"]].set_index(first.index)
    share = at["k"] / at["n"]
    return first.assign(share=share, percent=(100 * share).round(1), n=at["n"])


@rule(
    "coating.empty-units", severity="warning", reads=("tests", counted, "units"), at="tests.lot_id",
    says="{percent} % of the units of lot {lot_id} hold no seed ({n} opened), and its trial units say one each: they would be "
    "counted as seed that failed.",
    remedy="Screen them out, or enter the mean number of seeds in seeds_each of the units sown from it.",
    fires=_opened(85, 0, 15), nearly=_opened(95, 0, 5),
)  # fmt: skip
def empty_units(tests, counted, units):
    """A coat without a seed inside looks like one with a dead seed."""
    told = _shares(tests, counted, "singles and multiples", ("no seed",))
    single = units.loc[units["seeds_each"].eq(1), "lot_id"].dropna()
    return told[(told["share"] > EMPTY) & told["lot_id"].isin(single)]


@rule(
    "coating.class-not-as-sorted", severity="warning", reads=("tests", counted, "lots"), at="tests.lot_id",
    says="Lot {lot_id} is said to be {seed_unit}, but of {n} units that were sorted by sight {percent} % are of another class.",
    remedy="Correct the lot's seed unit, or sort the others out.",
    fires=several(lot("CC-1", seed_unit="pellet"), examined("CC-1", "coat class", {"encrusted": 60, "pellet": 40}, out_of=100)),
    nearly=several(lot("CC-1", seed_unit="pellet"), examined("CC-1", "coat class", {"encrusted": 5, "pellet": 95}, out_of=100)),
)  # fmt: skip
def class_not_as_sorted(tests, counted, lots):
    """Most units of a lot are what it is called."""
    of_unit = {w: schema.word("seed_unit", w).get("coat_class") for w in schema.words("seed_unit")}
    unit = lots.set_index("lot_id")["seed_unit"]
    own = texts(texts(counted["lot"], unit), of_unit)
    classed = counted[own.notna()]
    kinds = classed["item"].mask(classed["item"].eq(own[own.notna()]).fillna(value=False), OWN)
    told = _shares(tests, classed.assign(item=kinds), "coat class", tuple(set(kinds) - {OWN}))
    told = told.assign(seed_unit=texts(told["lot_id"], unit))
    return told[told["share"] > OTHERS]


@rule(
    "coating.no-coat-to-test", severity="warning", reads=("tests", "lots"), at="tests.quantity",
    says="Test {test_id} asks for {quantity} of lot {lot_id}, which is {seed_unit} and has no coat.",
    remedy="Name the lot that was tested, or correct its seed unit.",
    fires=several(lot("AV-1", seed_unit="seed"), examined("AV-1", "coat share")),
    nearly=several(lot("AV-1", seed_unit="film-coated"), examined("AV-1", "coat share")),
)  # fmt: skip
def no_coat_to_test(tests, lots):
    """A coat that is washed off or falls apart was on."""
    unit = texts(tests["lot_id"], lots.set_index("lot_id")["seed_unit"])
    bare = unit.isin([w for w in schema.words("seed_unit") if "hull" in schema.word("seed_unit", w)])
    return tests.assign(seed_unit=unit)[bare & tests["quantity"].isin(("coat share", "disintegration time"))]


def _single(*grams, unit="mg"):
    """A pellet of 9 mg by its run (3 mg of seed, 100 g of it made 300 g), and what single units of it weighed."""
    run = {"runs": [{"run_id": "R1", "kind": "coat", "started_at": "2025-02-01", "status": "finished"}]}
    return several(
        lot("CC-0", seed_unit="seed"), lot("CC-1", seed_unit="pellet"), run,
        moved("drawn for run", "CC-0", mass_g=100.0, run_id="R1"), moved("made", "CC-1", mass_g=300.0, run_id="R1"),
        examined("CC-0", "mass of units", {"mass": 0.3}, unit="g", out_of=100),
        examined("CC-1", "unit mass", *({"one unit": mass} for mass in grams), unit=unit),
    )  # fmt: skip


@rule(
    "coating.unit-mass-implausible", severity="warning", reads=("tests", "runs", read, thousand, run_seed), at="tests.lot_id",
    says="Lot {lot_id}: {n} units weighed one by one weigh {single_mg} mg on average, but by {by} a unit weighs {due_mg} mg, a "
    "factor of {factor}.",
    remedy="Look at the unit of the readings: grams that are entered as mg are a thousand times too small. If it is right, "
    "look whether these are units of that lot.",
    fires=_single(0.0091, 0.0088), nearly=_single(0.0055, 0.0060, unit="g"),
)  # fmt: skip
def unit_mass_implausible(tests, runs, read, thousand, run_seed):
    """Single units weigh what counted units of their lot do; where none were weighed, what seed and coat do together."""
    alone = read[read["quantity"].eq("unit mass").fillna(value=False) & ~read["reported"]]
    mg = PER * amounts(alone["value"], alone["unit"], "mass")
    mg = mg[mg > 0].groupby(alone["test"])
    each = thousand.groupby("lot")["tsw_g"].mean()  # grams a thousand are milligrams a unit
    made = run_seed[run_seed["run"].isin(runs.loc[runs["kind"].eq("coat").fillna(value=False), "run_id"])]
    grown = (numbers(made["lot"], each) * made["product_g"] / made["seed_g"]).set_axis(made["main"])
    told = tests[tests["quantity"].eq("unit mass").fillna(value=False)]
    own, by_coat = (numbers(told["lot_id"], found[found > 0]) for found in (each, grown))
    single, due = numbers(told["test_id"], mg.mean()), own.fillna(by_coat)
    factor = (single / due).where(single >= due, due / single)
    told = told.assign(n=numbers(told["test_id"], mg.size()), by=own.notna().map({True: WEIGHED, False: BUILT_UP}),
                       single_mg=single, due_mg=due, factor=factor)  # fmt: skip
    return told[factor > OTHER_SCALE]


RULES = (doubles, empty_units, class_not_as_sorted, no_coat_to_test, unit_mass_implausible)
