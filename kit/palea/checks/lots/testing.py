"""Tests by mass: purity, mass of units, water content. And whether a test is of the seed that it names."""

import pandas as pd

from palea import schema
from palea.calc.spans import earliest, latest
from palea.checks.examples import examined, lot, moved, run, several
from palea.checks.rule import rule
from palea.derived.ledger import arrivals
from palea.derived.lineage import parents
from palea.derived.lookup import moments, numbers, texts
from palea.derived.spoken import amounts, dimensions, surely_before
from palea.derived.tests_of_lots import PER, read, thousand

ROUNDING_G = 0.002
MORE, LESS = 1.005, 0.98  # parts of a purity test against its sample; common practice, no source
OTHER_UNIT = 1.4  # two masses of the same unit are never this far apart; common practice, no source
SAME_MASS = 0.03  # a pod and the seed in it do not weigh the same within 3 %; common practice, no source
COUNTED = 50  # units in a draw before its mean mass is held against a test
WEIGHINGS = 8  # ISTA Rules ch. 10 (from memory)
WETTEST, DRIEST = 60.0, 0.5  # % of the moist seed; common practice, no source


def _items(quantity):
    return schema.word("test_quantity", quantity)["items"]


def _wide(read, quantity):
    """One row a test and replicate: grams of each item, `line` of its first reading, lot."""
    mine = read[read["quantity"].eq(quantity).fillna(value=False) & read["item"].isin(_items(quantity))]
    mine = mine.assign(grams=amounts(mine["value"], mine["unit"], "mass"), line=mine.index)
    keys = ["test", "replicate"]
    first = mine.groupby(keys, sort=False).agg(line=("line", "first"), lot=("lot", "first"))
    once = mine.drop_duplicates([*keys, "item"]).set_index(keys)
    grams = {item: once.loc[once["item"].eq(item), "grams"] for item in _items(quantity)}
    return first.join(pd.DataFrame(grams, index=first.index)).reset_index().set_index("line")


def _purity(read):
    wide = _wide(read, "purity")
    parts = [i for i in _items("purity") if i != "sample"]
    return wide.assign(parts=wide[parts].sum(axis=1, min_count=1), whole=wide[parts].notna().all(axis=1))


_PURE = {"sample": 5.0, "pure seed": 4.5}


@rule(
    "lots.parts-exceed-sample", severity="error", reads=("readings", read), at="readings.value",
    says="Purity of lot {lot}: the parts weigh {parts} g together, the sample weighed {sample} g.",
    remedy="One of these masses has a slip; look at the sheet.",
    fires=several(lot("AV-0"), examined("AV-0", "purity", _PURE | {"other seed": 0.1, "inert": 0.6}, unit="g")),
    nearly=several(lot("AV-0"), examined("AV-0", "purity", _PURE | {"other seed": 0.1, "inert": 0.41}, unit="g")),
)  # fmt: skip
def parts_exceed_sample(readings, read):
    """What a sample is taken apart into weighs no more than it did, but for the rounding of the balance."""
    del readings  # the finding points there; what is read of it comes with read
    told = _purity(read)
    return told[(told["parts"] > told["sample"] * MORE) & (told["parts"] > told["sample"] + ROUNDING_G)]


@rule(
    "lots.parts-below-sample", severity="warning", reads=("readings", read), at="readings.value",
    says="Purity of lot {lot}: the parts add up to {parts} g, the sample was {sample} g: {missing} g is unaccounted for.",
    remedy="Look for a part that was not weighed. Dust lost on the way is inert matter.",
    fires=several(lot("AV-0"), examined("AV-0", "purity", _PURE | {"other seed": 0.1, "inert": 0.2}, unit="g")),
    nearly=several(lot("AV-0"), examined("AV-0", "purity", _PURE, unit="g")),
)  # fmt: skip
def parts_below_sample(readings, read):
    """Asked only where every part was weighed."""
    del readings
    told = _purity(read)
    told = told.assign(missing=told["sample"] - told["parts"])
    return told[told["whole"] & (told["parts"] < told["sample"] * LESS) & (told["missing"] > ROUNDING_G)]


def _groups(*grams, lot_id="AV-0", **more):
    return examined(lot_id, "mass of units", *({"mass": g} for g in grams), unit="g", out_of=100, **more)


_EVEN = (0.52, 0.521, 0.519, 0.52, 0.522, 0.518, 0.52, 0.52)
_UNEVEN = (0.52, 0.56, 0.48, 0.52, 0.57, 0.47, 0.52, 0.52)


@rule(
    "lots.weighings-uneven", severity="warning", reads=("tests", thousand), at="tests.lot_id",
    says="{groups} weighings of lot {lot} give a coefficient of variation of {cv_pct} %; the limit for {kind} is {limit} %.",
    remedy="Weigh eight more. If they differ as much, the lot is not even: mix it and sample again.",
    fires=several(lot("AV-0", seed_unit="legume"), _groups(*_UNEVEN)),
    nearly=several(lot("AV-0", seed_unit="legume"), _groups(*_EVEN), lot("AV-1", seed_unit="encrusted"),
                   _groups(*_UNEVEN, lot_id="AV-1")),
)  # fmt: skip
def weighings_uneven(tests, thousand):
    """The limits of the handbook for chaffy and other seed; a unit in its hull is chaffy. Coats have no such limit."""
    from palea.calc.lots.seed_weight import CHAFFY_LIMIT, LIMIT  # brings scipy along, so only once it is asked for

    del tests
    hull = {w: schema.word("seed_unit", w).get("hull") for w in schema.words("seed_unit")}
    told = thousand.assign(hull=thousand["seed_unit"].map(hull))
    told = told[told["hull"].notna() & (told["groups"] >= WEIGHINGS)]
    chaffy = told["hull"].eq("on")
    told = told.assign(kind=chaffy.map({True: "chaffy seed", False: "this kind of seed"}),
                       limit=chaffy.map({True: CHAFFY_LIMIT, False: LIMIT}).astype(float))  # fmt: skip
    return told[told["cv_pct"] > told["limit"]]


@rule(
    "lots.few-weighings", severity="warning", reads=("tests", "lots", thousand), at="tests.lot_id",
    says="The thousand-seed weight of lot {lot}, {tsw_g} g, rests on {groups} weighed groups; eight are usual.",
    remedy="Count and weigh more groups of 100, or say in the notes that no more seed was to be had.",
    fires=several(lot("AV-0", source_kind="purchased"), _groups(0.52, 0.53, 0.52)),
    nearly=several(lot("AV-0", source_kind="purchased"), _groups(*_EVEN), lot("AV-1", source_kind="made here"),
                   _groups(0.52, 0.53, lot_id="AV-1")),
)  # fmt: skip
def few_weighings(tests, lots, thousand):
    """A received lot is described with eight groups; portions and coats of it are checked with fewer. A note answers it."""
    outside = lots.loc[lots["source_kind"].isin(schema.words("source_kind", received=True)), "lot_id"]
    noted = tests["notes"].reindex(thousand.index).notna()
    return thousand[thousand["lot"].isin(outside) & (thousand["groups"] < WEIGHINGS) & ~noted]


def _drawn(grams, units=400):
    return moved("drawn for test", "AV-0", "2025-02-09", grams, seed_units=units)


@rule(
    "lots.unit-mass-disagrees", severity="warning", reads=("tests", "movements", thousand), at="tests.lot_id",
    says="Lot {lot}: the test gives {tsw_g} g a thousand, {n} units that were counted out and weighed give {drawn_g} g, a "
    "factor of {factor}. Which unit was weighed?",
    remedy="A pod and the seed in it differ by such a factor. Enter each mass for the lot whose units were weighed.",
    fires=several(lot("AV-0", seed_unit="legume"), _groups(0.27, 0.27, 0.27), _drawn(2.08)),
    nearly=several(lot("AV-0", seed_unit="legume"), _groups(0.52, 0.52, 0.52), _drawn(2.5), _drawn(0.01, 10)),
)  # fmt: skip
def unit_mass_disagrees(tests, movements, thousand):
    """Groups that were weighed for the test and draws that were counted out are of the same units."""
    del tests
    counted = movements[movements["mass_g"].gt(0) & (movements["seed_units"] >= COUNTED)]
    total = counted.groupby("lot_id")[["mass_g", "seed_units"]].sum()
    told = thousand.assign(n=numbers(thousand["lot"], total["seed_units"]),
                           drawn_g=numbers(thousand["lot"], PER * total["mass_g"] / total["seed_units"]))  # fmt: skip
    ratio = told["drawn_g"] / told["tsw_g"]
    told = told.assign(factor=ratio.where(ratio >= 1, 1 / ratio).round(2))
    return told[(told["factor"] > OTHER_UNIT) & (told["tsw_g"] > 0)]  # a mass of 0 is a slip of another kind


_POD = several(lot("AV-0", seed_unit="legume"), lot("AV-1", seed_unit="seed"), run("R1", "AV-0", "AV-1"))


@rule(
    "lots.hull-weighs-nothing", severity="warning", reads=("tests", "movements", parents, thousand), at="tests.lot_id",
    says="{tsw_g} g a thousand is typed for lot {lot}, a {seed_unit}, but lot {clean}, a {clean_unit} made from it, weighs "
    "{clean_g} g. Which unit was weighed?",
    remedy="Weigh counted units as they lie in the bag, hull and all.",
    fires=several(_POD, _groups(0.27, 0.27), _groups(0.271, 0.269, lot_id="AV-1")),
    nearly=several(_POD, _groups(0.52, 0.52), _groups(0.271, 0.269, lot_id="AV-1")),
)  # fmt: skip
def hull_weighs_nothing(tests, movements, parents, thousand):
    """Empty units make a lot in its hull light, so only two masses that are the same are doubted, not light ones.

    Where counted draws of the lot were weighed, they are asked instead.
    """
    del tests
    counted = movements.loc[movements["mass_g"].gt(0) & (movements["seed_units"] >= COUNTED), "lot_id"]
    unit = thousand["seed_unit"]
    on = thousand[unit.isin(schema.words("seed_unit", hull="on")) & ~thousand["lot"].isin(counted)]
    on, off = (f.rename_axis("line").reset_index() for f in (on, thousand[unit.isin(schema.words("seed_unit", hull="off"))]))
    off = off[["lot", "seed_unit", "tsw_g"]].set_axis(["clean", "clean_unit", "clean_g"], axis=1)
    pairs = parents.rename(columns={"lot": "clean", "parent": "lot"})[["clean", "lot"]].drop_duplicates()
    both = on.merge(pairs, on="lot").merge(off, on="clean")
    same = both[(both["tsw_g"] / both["clean_g"] - 1).abs() < SAME_MASS]
    return same.drop_duplicates("line").set_index("line")


def _tins(tin, moist, dry):
    found = {"tin": tin, "tin with moist seed": moist, "tin with dry seed": dry}
    return several(lot("AV-0"), examined("AV-0", "moisture", found, unit="g"))


@rule(
    "lots.tin-masses", severity="error", reads=("readings", read), at="readings.value",
    says="Water content of lot {lot}, tin {replicate}: empty {tin} g, with moist seed {moist} g, with dry seed {dry} g: "
    "this order of masses is not possible.",
    remedy="The empty tin is the lightest and the tin with moist seed the heaviest; look for two that were swapped.",
    fires=_tins(10.0, 14.5, 15.0), nearly=_tins(10.0, 15.0, 15.0),
)  # fmt: skip
def tin_masses(readings, read):
    """M1 < M3 <= M2."""
    del readings
    told = _water(read).dropna(subset=["tin", "moist", "dry"])
    return told[(told["dry"] <= told["tin"]) | (told["moist"] < told["dry"] - ROUNDING_G) | (told["moist"] <= told["tin"])]


def _water(read):
    return _wide(read, "moisture").rename(columns={"tin with moist seed": "moist", "tin with dry seed": "dry"})


@rule(
    "lots.water-implausible", severity="warning", reads=("readings", read), at="readings.value",
    says="Water content of lot {lot}, replicate {replicate}: {water} % of the moist seed is more than seed holds, or less.",
    remedy="Look at the three masses or the meter. Dry basis? The moist seed is the whole here.",
    fires=_tins(10.0, 15.0, 11.5), nearly=_tins(10.0, 15.0, 14.5),
)  # fmt: skip
def water_implausible(readings, read):
    """Air-dry seed holds 3 to 20 %, soaked seed about half its mass; beyond that something was misread."""
    del readings
    told = _water(read)
    sound = (told["tin"] < told["dry"]) & (told["dry"] <= told["moist"])
    water = (100 * (told["moist"] - told["dry"]) / (told["moist"] - told["tin"])).where(sound)
    meter = read[read["quantity"].eq("moisture") & read["item"].eq("meter")].assign(water=lambda m: m["value"])
    told = pd.concat([told.assign(water=water), meter])[["lot", "replicate", "water"]]
    return told[(told["water"] > WETTEST) | (told["water"] < DRIEST)]


@rule(
    "lots.reading-unit-unfit", severity="error", reads=("readings", read), at="readings.unit",
    says="Lot {lot}: “{item}” was entered in {unit}, which is no unit of {dimension}.",
    remedy="Enter it in the unit of the sheet; what was typed stays in the journal.",
    fires=several(lot("AV-0"), examined("AV-0", "mass of units", {"mass": 0.5}, unit="mL", out_of=100)),
    nearly=several(lot("AV-0"), examined("AV-0", "mass of units", {"mass": 520.0}, unit="mg", out_of=100)),
)  # fmt: skip
def reading_unit_unfit(readings, read):
    """A mass is read in g or mg, a time in s. A percentage in place of a count is told by another rule."""
    del readings
    units = {i: schema.word("reading_item", i)["unit"] for i in schema.words("reading_item")}
    asked = dimensions(read["item"].map(units))
    got = dimensions(read["unit"])
    open_ended = ~read["item"].isin(_items("label")) & ~asked.isin(("number", "share"))
    return read.assign(dimension=asked)[open_ended & asked.ne(got).fillna(value=False) & ~read["reported"]]


@rule(
    "lots.tested-before-it-came", severity="error", reads=("tests", "runs", parents, arrivals), at="tests.tested_at",
    says="{quantity} of lot {lot_id} was tested on {tested_at}, before the lot came or was made on {came}.",
    remedy="Look at both dates, and whether the test names the right lot.",
    fires=several(lot("AV-0"), moved("received", "AV-0", "2025-03-01", 5), examined("AV-0", "fill", at="2025-02-10")),
    nearly=several(lot("AV-0"), moved("received", "AV-0", "2025-03-01", 5), examined("AV-0", "fill", at="2025-03")),
)  # fmt: skip
def tested_before_it_came(tests, runs, parents, arrivals):
    """A lot is tested after it exists, or while the run that makes it goes on, as what a soak takes up is weighed then.

    A delivery's own analysis is a label, which may be older.
    """
    begun = runs.assign(begun=earliest(runs["started_at"])).set_index("run_id")["begun"]
    made = parents.assign(begun=moments(parents["run"], begun)).groupby("lot")["begun"].min()
    came = moments(tests["lot_id"], arrivals.set_index("lot")["since"])
    since = pd.concat([came, moments(tests["lot_id"], made)], axis=1).min(axis=1)
    early = pd.Series(latest(tests["tested_at"]), index=tests.index) < since
    return tests.assign(came=since.dt.strftime("%Y-%m-%d"))[early & tests["quantity"].ne("label").fillna(value=False)]


@rule(
    "lots.tested-before-drawn", severity="error", reads=("tests", "movements"), at="tests.tested_at",
    says="Test {test_id} was done on {tested_at}, before its sample was drawn on {drawn_at} ({movement_id}).",
    remedy="Look at both dates, and whether the test names the right draw.",
    fires=several(lot("AV-0"), moved("drawn for test", "AV-0", "2025-03-01", 5), examined(
        "AV-0", "fill", movement_id="M-drawn for test-AV-0-2025-03-01-")),
    nearly=several(lot("AV-0"), moved("drawn for test", "AV-0", "2025-02-10", 5), examined(
        "AV-0", "fill", movement_id="M-drawn for test-AV-0-2025-02-10-")),
)  # fmt: skip
def tested_before_drawn(tests, movements):
    """A sample is drawn and then tested."""
    told = tests.assign(drawn_at=texts(tests["movement_id"], movements.set_index("movement_id")["moved_at"]))
    return told[surely_before(told["tested_at"], told["drawn_at"])]


@rule(
    "lots.tested-another-draw", severity="error", reads=("tests", "movements"), at="tests.movement_id",
    says="Test {test_id} is of lot {lot_id}, but the draw it names, {movement_id}, is of lot {drawn_from}.",
    remedy="Name the draw of that lot, or correct the lot.",
    fires=several(lot("AV-0"), moved("drawn for test", "AV-9", mass_g=5), examined(
        "AV-0", "fill", movement_id="M-drawn for test-AV-9-2025-02-01-")),
    nearly=several(lot("AV-0"), moved("drawn for test", "AV-0", mass_g=5), examined(
        "AV-0", "fill", movement_id="M-drawn for test-AV-0-2025-02-01-")),
)  # fmt: skip
def tested_another_draw(tests, movements):
    """The sample and the lot that it stands for are one."""
    told = tests.assign(drawn_from=texts(tests["movement_id"], movements.set_index("movement_id")["lot_id"]))
    return told[told["drawn_from"].ne(told["lot_id"]).fillna(value=False)]


RULES = (parts_exceed_sample, parts_below_sample, weighings_uneven, few_weighings, unit_mass_disagrees,
         hull_weighs_nothing, tin_masses, water_implausible, reading_unit_unfit, tested_before_it_came,
         tested_before_drawn, tested_another_draw)  # fmt: skip
