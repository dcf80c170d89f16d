"""What cannot be true of dishes and their counts, and what a sheet leaves open."""

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.spans import earliest
from palea.checks.examples import dish
from palea.checks.rule import rule
from palea.derived.counting import ends, rising, sheets
from palea.derived.lookup import among, moments, numbers, texts
from palea.tables.coded import factorized


@rule(
    "germination.more-than-sown",
    severity="error",
    reads=("units", ends, rising),
    at="units.sown_n",
    says="{kind} {unit_id}: {ended} seeds came up or were taken out, {sown_n} were sown.",
    remedy="Look at its last sheet for a slip. If a seed unit can hold two seeds, say so under “Seeds in one unit” (seeds_each).",
    fires=dish(sown=25, normal=20, abnormal=7),
    nearly=dish(sown=25, normal=20, abnormal=5),
)
def more_than_sown(units, ends, rising):
    """A single seed ends once, so all its ways to end add up to at most what was sown.

    A sheet that looks like running totals is one fault, and its own rule tells it.
    """
    total = ends[schema.words("outcome", ends_a_seed=True)].sum(axis=1)
    ended = numbers(units["unit_id"], pd.Series(total.to_numpy(), index=ends["unit"]))
    wrong = units["seeds_each"].eq(1).fillna(value=False) & (ended > units["sown_n"])
    return units.assign(ended=ended)[wrong & ~units["unit_id"].isin(rising["unit"])]


@rule(
    "germination.counted-before-sowing",
    severity="error",
    reads=("counts", sheets, "units"),
    at="counts.visit_id",
    says="Unit {unit} was counted on {visited}, before its seed was wetted on {first_wetted_at}.",
    remedy="Are day and month swapped? Correct the visit's date or the date of first wetting.",
    fires=dish(wetted="2025-03-20", normal=3),
    nearly=dish(wetted="2025-03", normal=3),
)
def counted_before_sowing(counts, sheets, units):
    """A count lies after the first wetting; dates known only to the month are spans, and only a sure contradiction is one."""
    once = units.set_index("unit_id")["first_wetted_at"]
    starts = moments(sheets["unit"], pd.Series(earliest(once), index=once.index))
    sooner = (sheets["at"] < starts).to_numpy()
    if not sooner.any():
        return None
    early = sheets[sooner]
    early = early.assign(first_wetted_at=texts(early["unit"], once), visited=early["at"].astype(str).str[:10])
    return early.loc[early.index.intersection(counts.index)].drop_duplicates("visit")


@rule(
    "germination.cumulative-falls",
    severity="error",
    reads=("counts", sheets),
    at="counts.count",
    says="Unit {unit}, {outcome}: the running total falls from {before} to {count}.",
    remedy="One of the two sheets has a slip. If this sheet holds new counts, set the visit's counting to new.",
    fires=dish(counting="cumulative", visits={"2025-03-05": {"normal": 7}, "2025-03-09": {"normal": 5}}),
    nearly=dish(counting="cumulative", visits={"2025-03-05": {"normal": 7}, "2025-03-09": {"normal": 7}}),
)
def cumulative_falls(counts, sheets):
    """A running total never falls."""
    added = among(sheets["counting"], ["cumulative"])
    if not added.any():
        return None
    totals = sheets[added]
    before = totals.groupby(["unit", "outcome"])["count"].shift()
    bad = totals.assign(before=before)[before > totals["count"]]
    return bad.loc[bad.index.intersection(counts.index)]


def _series(*seen):
    return dish(sown=25, visits={f"2025-03-{3 + 3 * n:02d}": {"normal": c} for n, c in enumerate(seen)})


@rule(
    "germination.rising-sheet",
    severity="warning",
    reads=("units", rising, "visits"),
    at="units.unit_id",
    needs="rising",
    says="{kind} {unit_id}: counts {series} never fall and add up to {total} of {sown_n}. Is this sheet cumulative?",
    remedy="If it holds running totals, set counting to cumulative for its visits; nothing else needs to be typed again.",
    fires=_series(8, 15, 19, 19),
    nearly=_series(3, 9, 5, 1),
)
def rising_sheet(units, rising, visits):
    """New counts that only ever rise and overshoot what was sown look like running totals."""
    del visits  # the sentence's remedy points there; what is read of it comes with the counts
    once = rising.set_index("unit")
    found = units[units["unit_id"].isin(once.index)]
    return found.assign(
        total=numbers(found["unit_id"], once["total"]), series=texts(found["unit_id"], once["series"])
    )


@rule(
    "germination.nothing-between",
    severity="warning",
    reads=("visits", sheets),
    at="visits.visit_id",
    says="Visit {visit_id} of {visited_at}: every count is 0 ({n} in all), though seed came up before and after. "
    "Not visited, or none?",
    remedy="If nobody looked, delete the zeros and leave the cells blank, with the reason “not looked”.",
    fires=dish(visits={"2025-03-05": {"normal": 5}, "2025-03-08": {"normal": 0}, "2025-03-11": {"normal": 6}}),
    nearly=dish(visits={"2025-03-05": {"normal": 5}, "2025-03-08": {"normal": 6}, "2025-03-11": {"normal": 0}}),
)
def nothing_between(visits, sheets):
    """A visit of nothing but zeros between two that found seed is a blank typed as zero more often than a pause.

    Before and after are looked at dish by dish, and at least half of the dishes that came up before have to go on after:
    a trial that has come to rest, or of which other dishes are sown later, is left alone.
    """
    seeds = _of_bare_visits(sheets, visits)
    if seeds.empty:
        return None
    by = seeds.groupby(["unit", "visit"], sort=False).agg(at=("at", "first"), total=("count", "sum"), n=("count", "count"))
    by = by.reset_index().sort_values(["unit", "at"], kind="stable")
    found, unit = by["total"].gt(0), by["unit"]
    before = found.groupby(unit).cummax() & ~found
    after = found[::-1].groupby(unit[::-1]).cummax()[::-1]
    told = by.assign(found=found, before=before, both=before & after).groupby("visit", sort=False)
    of = told.agg(n=("n", "sum"), found=("found", "any"), before=("before", "sum"), both=("both", "sum"))
    bare = of[~of["found"] & of["n"].gt(0) & of["both"].gt(0) & (2 * of["both"] >= of["before"])]
    bad = visits[visits["visit_id"].isin(bare.index)]
    return bad.assign(n=numbers(bad["visit_id"], bare["n"]))


def _of_bare_visits(sheets, visits):
    """New germinants of the trials in which some visit found none at all: elsewhere there is nothing to look for."""
    came = among(sheets["outcome"], schema.words("outcome", germinated=True))
    visit, names = factorized(sheets["visit"])
    found = np.bincount(visit[came & (sheets["count"].to_numpy() > 0) & (visit >= 0)], minlength=len(names))
    trials = visits.loc[visits["visit_id"].isin(names[found == 0]), "trial_id"]
    theirs = visits.loc[visits["trial_id"].isin(trials), "visit_id"]
    return sheets[came & among(sheets["visit"], theirs) & among(sheets["counting"], ["new"])] if len(theirs) else sheets.iloc[:0]


@rule(
    "germination.not-cut",
    severity="gap",
    reads=("units", ends),
    at="units.unit_id",
    says="{kind} {unit_id}: {left} of {sown_n} seeds are not accounted for. Empty, dead and dormant cannot be told apart.",
    remedy="Cut or stain what did not germinate, and enter hard, fresh, dead and empty at the last visit.",
    fires=dish(sown=25, normal=20),
    nearly=dish(sown=25, normal=20, dead=3, empty=2),
)
def not_cut(units, ends):
    """At the end of a test each seed has come to an end that was looked at."""
    known = ends[schema.words("outcome", ends_a_seed=True)].to_numpy(np.float64)
    started = ~np.isnan(known).all(axis=1)
    ended = pd.Series(np.where(started, np.nansum(known, axis=1), np.nan), index=ends["unit"])
    left = units["sown_n"] - numbers(units["unit_id"], ended)  # nan where nothing was counted
    return units.assign(left=left)[units["seeds_each"].eq(1).fillna(value=False) & (left > 0)]


RULES = (more_than_sown, counted_before_sowing, cumulative_falls, rising_sheet, nothing_between, not_cut)
