"""Runs that are held against each other: the same speed and opening, enough of each, in an order drawn by lot."""

from math import lgamma

import numpy as np
import pandas as pd

from palea import schema
from palea.checks.handling.runs import handled, usable
from palea.checks.rule import rule
from palea.derived.spoken import unsaid

FEWEST = 3  # runs of a material before spread between runs can be told
CHANCE = 0.05


def _material(handling_runs):
    """What ran: the treatment that the lot stands for, else the lot."""
    return handling_runs["treatment_id"].fillna(handling_runs["lot_id"])


def _seeder(handling_runs):
    rows = usable(handling_runs)
    rows = rows[rows["method"].isin(schema.words("handling_method", counts_along=True))]
    return rows.assign(material=_material(rows), series=rows["trial_id"].fillna(rows["done_at"].str.slice(0, 10)))


def _two(a, b, n=1):
    return handled(*({"treatment_id": t} | more for t, more in (("T01", a), ("T03", b)) for _ in range(n)))


@rule(
    "handling.unlike-speed", severity="warning", reads=("handling_runs",), at="handling_runs.speed_km_h",
    says="{material} ran at {speed_km_h} km/h, {other} at {others} km/h: speed and material changed together.",
    remedy="Run both at the same speed, or each at all speeds.",
    fires=_two({"speed_km_h": 4.0}, {"speed_km_h": 6.0}), nearly=_two({"speed_km_h": 4.0}, {"speed_km_h": 4.0}),
)  # fmt: skip
def unlike_speed(handling_runs):
    """Materials of one series share a speed at least; told once a series and seeder."""
    rows = _seeder(handling_runs)
    return _unlike(rows.assign(series=rows["series"] + "|" + rows["equipment_id"].fillna("")), "speed_km_h")


def _unlike(rows, column):
    """The first row of a material that shares no value of `column` with the first material of its series; once a series."""
    rows = rows.dropna(subset=[column, "series", "material"])
    by = rows.groupby("series")
    told = rows.assign(other=by["material"].transform("first"), others=by[column].transform("first"))
    of_first = told.loc[told["material"].eq(told["other"]).fillna(value=False), ["series", column]]
    shares = pd.MultiIndex.from_frame(told[["series", column]]).isin(pd.MultiIndex.from_frame(of_first))
    met = pd.Series(shares, index=told.index).groupby([told["series"], told["material"]]).transform("any")
    return told[~met].drop_duplicates("series")


@rule(
    "handling.unlike-opening", severity="warning", reads=("handling_runs",), at="handling_runs.opening_mm",
    says="{material} ran out of an opening of {opening_mm} mm, {other} out of {others} mm: their times cannot be compared.",
    remedy="Use one funnel for all, or each for all.",
    fires=handled({"treatment_id": "T01", "opening_mm": 10.0}, {"treatment_id": "T03", "opening_mm": 15.0}, method="funnel"),
    nearly=handled({"treatment_id": "T01", "opening_mm": 10.0}, {"treatment_id": "T03", "opening_mm": 10.0}, method="funnel"),
)  # fmt: skip
def unlike_opening(handling_runs):
    """Time through a funnel goes by its opening. A seeder is set for its material, so there openings may differ."""
    rows = usable(handling_runs)
    rows = rows[rows["method"].eq("funnel").fillna(value=False)]
    rows = rows.assign(material=_material(rows), series=rows["trial_id"].fillna(rows["done_at"].str.slice(0, 10)))
    return _unlike(rows, "opening_mm")


@rule(
    "handling.few-runs", severity="warning", reads=("handling_runs",), at="handling_runs.lot_id",
    says="{material} ran {n} time(s) through the seeder at this setting: that is described, not compared. Metres of one run are "
    "not replicates.",
    remedy="Run it three times at least, better five, in an order drawn by lot.",
    fires=_two({}, {}, 2) | {"handling_runs": _two({}, {}, 3)["handling_runs"][:5]}, nearly=_two({}, {}, 3),
)  # fmt: skip
def few_runs(handling_runs):
    """The run is the unit; asked where two materials are held against each other, told at the first run of each."""
    rows = _seeder(handling_runs)
    keys = ["series", "material"]
    n = rows.groupby(keys)["handling_id"].transform("size")
    compared = rows.groupby("series")["material"].transform("nunique") > 1
    return rows.assign(n=n)[compared & (n < FEWEST)].drop_duplicates(keys)


@rule(
    "handling.order-unsaid", severity="gap", reads=("handling_runs",), at="handling_runs.order_in_day",
    says="{n} runs of {day} do not say in which order they were done.",
    remedy="Enter the order; a hopper that warms up or a belt that wears looks like a treatment.",
    fires=_two({}, {}), nearly=_two({"order_in_day": 1}, {"order_in_day": 2}),
)  # fmt: skip
def order_unsaid(handling_runs):
    """Asked of days on which two materials ran; told once a day."""
    rows = _seeder(handling_runs)
    rows = rows.assign(day=rows["done_at"].str.slice(0, 10))
    rows = rows[rows.groupby("day")["material"].transform("nunique") > 1]
    blank = rows[unsaid(rows, "order_in_day")]
    return blank.assign(n=blank.groupby("day")["handling_id"].transform("size")).drop_duplicates("day")


def _in_order(materials):
    return handled(*({"treatment_id": t, "order_in_day": n} for n, t in enumerate(materials, 1)))


@rule(
    "handling.one-after-the-other", severity="warning", reads=("handling_runs",), at="handling_runs.order_in_day",
    says="On {day} all runs of one material were done before the next began ({n} runs of {materials} materials): time of day and "
    "material changed together.",
    remedy="Draw the order of runs by lot next time; say in the notes if it was drawn and came out so.",
    fires=_in_order(["T01"] * 5 + ["T03"] * 5), nearly=_in_order(["T01", "T03"] * 5),
)  # fmt: skip
def one_after_the_other(handling_runs):
    """Told where an order drawn by lot would come out so in fewer than 1 of 20 days."""
    rows = _seeder(handling_runs)
    rows = rows[rows["order_in_day"].notna()].assign(day=rows["done_at"].str.slice(0, 10))
    rows = rows.sort_values(["day", "order_in_day"], kind="stable")
    changes = rows["material"].ne(rows.groupby("day")["material"].shift()).fillna(value=True).groupby(rows["day"]).sum()
    sizes = rows.groupby("day")["material"].agg(lambda m: tuple(m.value_counts()))
    told = pd.DataFrame({"changes": changes, "materials": sizes.map(len), "n": sizes.map(sum)})
    told["chance"] = [_chance(counts) for counts in sizes]
    told = told[(told["materials"] > 1) & (told["changes"] == told["materials"]) & (told["chance"] < CHANCE)]
    bad = rows[rows["day"].isin(told.index) & rows["notes"].isna()].drop_duplicates("day")
    return bad.assign(n=told["n"].reindex(bad["day"]).to_numpy(), materials=told["materials"].reindex(bad["day"]).to_numpy())


def _chance(counts):
    """How often an order drawn by lot lays materials of these numbers of runs one after the other."""
    ways = sum(lgamma(n + 1) for n in (*counts, len(counts))) - lgamma(sum(counts) + 1)
    return float(np.exp(ways))


RULES = (unlike_speed, unlike_opening, few_runs, order_unsaid, one_after_the_other)
