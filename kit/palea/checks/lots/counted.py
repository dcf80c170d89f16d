"""Tests by counting: fill, viability, germination, kinds of coat and damage."""

import pandas as pd

from palea import schema
from palea.checks.examples import dish, examined, lot, several
from palea.checks.rule import rule
from palea.derived.counting import ends
from palea.derived.tests_of_lots import counted, counting, read, share_of, sorted_units

BEYOND = 0.05  # a share above the interval of another by more than this is not chance; common practice, no source


def _filled(filled, empty, out_of=100, lot_id="AV-0", **more):
    return several(lot("AV-0"), examined(lot_id, "fill", {"filled": filled, "empty": empty}, out_of=out_of, **more))


@rule(
    "lots.counts-exceed-looked-at", severity="error", reads=("readings", sorted_units), at="readings.out_of",
    says="{quantity} of lot {lot}, replicate {replicate}: {total} units were sorted into kinds, {out_of} were looked at.",
    remedy="Look for a slip in one of the kinds, or correct how many were looked at.",
    fires=_filled(90, 15), nearly=_filled(90, 10),
)  # fmt: skip
def counts_exceed_looked_at(readings, sorted_units):
    """Each unit is of one kind."""
    del readings
    return sorted_units[sorted_units["total"] > sorted_units["out_of"]]


@rule(
    "lots.counted-of-how-many", severity="gap", reads=("readings", read), at="readings.out_of",
    says="{quantity} of lot {lot}: “{item}” is {value}, and nothing says of how many units.",
    remedy="Enter how many were looked at or weighed together; without it the number cannot be used.",
    fires=_filled(90, 10, None), nearly=_filled(90, 10),
)  # fmt: skip
def counted_of_how_many(readings, read):
    """A count needs its number of units looked at, a mass of a group its number of units; told once a test."""
    del readings
    asked = read["quantity"].isin([*counting(), "mass of units"]) & ~read["reported"]
    blank = read[asked & read["out_of"].isna() & _is_no_share(read)]
    return blank.drop_duplicates("test")


def _is_no_share(read):
    """Percentages are told by a rule of their own."""
    return ~read["unit"].isin(schema.words("unit", dimension="share"))


@rule(
    "lots.part-of-a-unit", severity="error", reads=("readings", counted), at="readings.value",
    says="{quantity} of lot {lot}: {value} units were counted as “{item}”. Is this a mean or a percentage?",
    remedy="Enter what was counted in each replicate. A figure without its counts is marked as reported only.",
    fires=_filled(89.5, 10), nearly=_filled(89, 10),
)  # fmt: skip
def part_of_a_unit(readings, counted):
    """Counts are whole."""
    del readings
    return counted[counted["value"] % 1 > 0].drop_duplicates("test")


@rule(
    "lots.percentages-only", severity="warning", reads=("readings", read), at="readings.value",
    says="{quantity} of lot {lot}: {value} came as a percentage or mean, without the counts behind it. It is shown, and "
    "models refuse it.",
    remedy="Ask for the counts. If they cannot be had, nothing else needs to be done.",
    fires=_filled(90, 10, None, unit="%", reported=True), nearly=_filled(90, 10),
)  # fmt: skip
def percentages_only(readings, read):
    """A share without its number has no interval; what a label declares is kept as that."""
    del readings
    typed = read["quantity"].isin(counting()) & read["unit"].isin(schema.words("unit", dimension="share"))
    return read[(read["reported"] | typed) & read["quantity"].ne("label").fillna(value=False)].drop_duplicates("test")


def _wilson(shares):
    from palea.calc.stats.proportions import wilson  # brings scipy along, so only once there is something to compare

    low, high = wilson(shares["k"].to_numpy(), shares["n"].to_numpy())
    return pd.DataFrame({"low": low, "high": high, "share": shares["k"] / shares["n"], "n": shares["n"]}, shares.index)


def _alive(counted):
    """Interval of viable seed by lot, where k of n is possible."""
    shares = share_of(counted, "viability", ("viable",))
    return _wilson(shares[shares["k"] <= shares["n"]])


def _at_test(tests, quantity, told):
    """Rows by lot laid on the first test of that quantity of each lot."""
    first = tests[tests["quantity"].eq(quantity).fillna(value=False)].drop_duplicates("lot_id")
    first = first[first["lot_id"].isin(told.index)]
    return told.reindex(first["lot_id"]).set_index(first.index).assign(lot_id=first["lot_id"])


def _viable(viable, normal=78):
    return several(
        lot("AV-1"), examined("AV-1", "viability", {"viable": viable, "dead": 100 - viable}, out_of=100),
        examined("AV-1", "germination", {"normal": normal, "dead": 100 - normal}, out_of=100),
    )  # fmt: skip


@rule(
    "lots.germination-above-viability", severity="warning", reads=("tests", counted), at="tests.lot_id",
    says="Lot {lot_id}: germination {germinated} % is above viability {viable} % ({low} to {high} %, {n} seeds): one of the "
    "tests or samples is wrong.",
    remedy="Look whether one is of filled seed and the other of all units; repeat the one that is doubted.",
    fires=_viable(55), nearly=_viable(72),
)  # fmt: skip
def germination_above_viability(tests, counted):
    """Dead seed does not germinate: the lower end of germination is not above the upper end of viability."""
    grown = share_of(counted, "germination", schema.words("outcome", germinated=True))
    if grown.empty:
        return None
    return _above(tests, "germination", _wilson(grown[grown["k"] <= grown["n"]]), _alive(counted), 0.0)


def _above(tests, quantity, grown, alive, beyond):
    both = grown.add_suffix("_grown").join(alive, how="inner")
    bad = both[both["low_grown"] > both["high"] + beyond]
    shown = {"germinated": "share_grown", "viable": "share", "low": "low", "high": "high"}
    told = bad.assign(**{name: (100 * bad[column]).round() for name, column in shown.items()})
    return _at_test(tests, quantity, told)


@rule(
    "lots.dishes-above-viability", severity="warning", reads=("tests", counted, ends), at="tests.lot_id",
    says="Lot {lot_id}: {germinated} % of its filled seed germinated in trials, above its viability of {viable} % ({low} to "
    "{high} %, {n} seeds): one of the tests or samples is wrong.",
    remedy="Look whether the test is of all units, or whether its sample was drawn from another lot; repeat it.",
    fires=several(_viable(40, 30), dish(normal=24, empty=1)), nearly=several(_viable(85, 80), dish(normal=24, empty=1)),
)  # fmt: skip
def dishes_above_viability(tests, counted, ends):
    """Seed that germinated in a dish was alive. Dishes vary more than chance alone, so five points more are granted."""
    alive = _alive(counted) if counted["quantity"].eq("viability").any() else pd.DataFrame()
    mine = ends[ends["lot"].isin(alive.index) & ends["seeds_each"].eq(1)]
    if mine.empty:
        return None
    k = mine[schema.words("outcome", germinated=True)].sum(axis=1)
    n = mine["sown"] - mine["empty"].fillna(0)
    by = pd.DataFrame({"k": k, "n": n}).groupby(mine["lot"]).sum()
    by = by[(by["k"] <= by["n"]) & (by["n"] > 0)]
    return _above(tests, "viability", _wilson(by), alive, BEYOND)


RULES = (counts_exceed_looked_at, counted_of_how_many, part_of_a_unit, percentages_only, germination_above_viability,
         dishes_above_viability)  # fmt: skip
