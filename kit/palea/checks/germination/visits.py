"""What cannot be true of visits: their days, what they looked for, who wrote what down when."""

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.spans import earliest, latest
from palea.checks.examples import dish, several
from palea.checks.rule import rule
from palea.derived.counting import looked_for
from palea.derived.lookup import beside, numbers, texts


def visits(*days, **more):
    """Visits of trial G1 on these days, in the order in which they were entered."""
    rows = [
        {"visit_id": f"V{n}", "trial_id": "G1", "visited_at": day, "visited_by": "A", "counting": "new"} | more
        for n, day in enumerate(days, 1)
    ]
    return {"trials": [{"trial_id": "G1"}], "visits": rows}


@rule(
    "germination.day-and-month-swapped",
    severity="warning",
    reads=("visits",),
    at="visits.visited_at",
    says="Visit {visit_id} is dated {visited_at}, outside the order of its neighbours ({before} and {after}). With "
    "day and month "
    "swapped, {swapped}, it would lie between them.",
    remedy="Look at the sheet; if day and month were swapped, correct the date.",
    fires=visits("2025-03-03", "2025-10-03", "2025-03-17"),
    nearly=visits("2025-03-03", "2025-03-10", "2025-10-03"),
)
def day_and_month_swapped(visits):
    """A visit that leaves the order in which visits were entered, and falls back into it when day and month are swapped."""
    written = visits["visited_at"].astype("string").str[:10]
    at = pd.Series(earliest(written), index=visits.index)
    by = at.groupby(visits["trial_id"])
    before, after = by.shift(), by.shift(-1)
    parts = written.str.extract(r"^(\d{4})-(\d\d)-(\d\d)$")
    swapped = parts[0] + "-" + parts[2] + "-" + parts[1]
    other = pd.Series(earliest(swapped), index=visits.index)
    leaves = (at < before) | (at > after)
    fits = ((other >= before) | before.isna()) & ((other <= after) | after.isna()) & before.notna() & after.notna()
    told = visits.assign(before=before.astype(str).str[:10], after=after.astype(str).str[:10], swapped=swapped)
    return told[leaves & fits & (before <= after)]


@rule(
    "germination.two-visits-one-moment",
    severity="warning",
    reads=("visits",),
    at="visits.visited_at",
    says="Visit {visit_id} of trial {trial_id} has the same moment, {visited_at}, the same person and the same "
    "outcomes as {other}.",
    remedy="If one sheet was entered twice, take one of the two out; else give each its time of day.",
    fires=visits("2025-03-03", "2025-03-03", looked_for="normal", sheet="1"),
    nearly=visits("2025-03-03", "2025-03-10", looked_for="normal", sheet="1"),
)
def two_visits_one_moment(visits):
    """Two visits by one person at one moment for the same things are one sheet entered twice."""
    by = ["trial_id", "visited_at", "visited_by", "looked_for", "sheet"]
    told = visits.dropna(subset=["trial_id", "visited_at", "looked_for", "sheet"])
    first = told.groupby(by, dropna=False)["visit_id"].transform("first")
    return told.assign(other=first)[told.duplicated(by)]


@rule(
    "germination.typed-before-seen",
    severity="error",
    reads=("visits",),
    at="visits.typed_at",
    says="The sheet of visit {visit_id} was typed on {typed_at}, before the visit of {visited_at}.",
    remedy="Correct one of the two dates.",
    fires=visits("2025-03-10", typed_at="2025-03-03"),
    nearly=visits("2025-03-10T09:00", typed_at="2025-03-10"),
)
def typed_before_seen(visits):
    """A sheet is typed after it was written; partial dates are spans."""
    return visits[earliest(visits["visited_at"]) > latest(visits["typed_at"])]


def _seen(looked, *counted):
    example = dish(sown=25, **dict.fromkeys(counted, 3))
    example["visits"][0]["looked_for"] = looked
    return example


@rule(
    "germination.outcome-not-entered",
    severity="gap",
    reads=("visits", looked_for),
    at="visits.looked_for",
    says="Visit {visit_id} looked for {outcome}, and {n} of {units} units that it counted have no count of it.",
    remedy="Enter the count, 0 if none was seen; where nobody looked, leave it blank and say why.",
    fires=_seen("normal; abnormal", "normal"),
    nearly=_seen("normal; abnormal", "normal", "abnormal"),
)
def outcome_not_entered(visits, looked_for):
    """A counted unit has a row, with a count or a reason, for all that its visit looked for. Blank is not zero."""
    short = looked_for[looked_for["wanted"] & (looked_for["entered"] < looked_for["units"])]
    return _by_visit(visits, short.assign(n=short["units"] - short["entered"]))


@rule(
    "germination.outcome-not-looked-for",
    severity="warning",
    reads=("visits", looked_for),
    at="visits.looked_for",
    says="Visit {visit_id} has counts of {outcome}, which it does not say it looked for (“{looked_for}”).",
    remedy="Add it to what the visit looked for, if it was looked for in every unit; else a zero cannot be told from "
    "a blank.",
    fires=_seen("abnormal", "normal", "abnormal"),
    nearly=_seen("normal; abnormal", "normal", "abnormal"),
)
def outcome_not_looked_for(visits, looked_for):
    """What was counted was looked for."""
    return _by_visit(visits, looked_for[~looked_for["wanted"] & looked_for["entered"].gt(0)])


def _by_visit(visits, found):
    return beside(visits[["visit_id", "looked_for"]], "visit_id", found, "visit")


@rule(
    "germination.unit-of-other-trial",
    severity="error",
    reads=("visits", "counts", "units"),
    at="visits.trial_id",
    says="Visit {visit_id} of trial {trial_id} holds counts of units of trial {of} ({n} of them, first {unit}).",
    remedy="Correct the visit or the units; a visit looks at one trial.",
    fires=several(
        dish(normal=3),
        {"units": [{"unit_id": "X1", "trial_id": "G2"}]},
        {"counts": [{"visit_id": "V2025-03-15", "unit_id": "X1", "outcome": "normal", "count": 1}]},
    ),
    nearly=several(dish(normal=3), {"units": [{"unit_id": "X1", "trial_id": "G2"}]}),
)
def unit_of_other_trial(visits, counts, units):
    """Counts of a visit are of its own trial's units."""
    trials = {*units["trial_id"].dropna().unique(), *visits["trial_id"].dropna().unique()}
    if len(trials) == 1:
        return None
    of_unit = units.drop_duplicates("unit_id").set_index("unit_id")["trial_id"]
    of_visit = visits.drop_duplicates("visit_id").set_index("visit_id")["trial_id"]
    number = {trial: n for n, trial in enumerate(trials)}
    of, own = numbers(counts["unit_id"], of_unit.map(number)), numbers(counts["visit_id"], of_visit.map(number))
    wrong = counts.loc[(of - own).abs() > 0, ["visit_id", "unit_id"]].drop_duplicates()
    wrong = wrong.assign(of=texts(wrong["unit_id"], of_unit))
    by = wrong.groupby("visit_id").agg(n=("unit_id", "size"), unit=("unit_id", "first"), of=("of", "first"))
    told = visits[visits["visit_id"].isin(by.index)]
    return told.assign(**{c: told["visit_id"].map(by[c]) for c in ("n", "unit", "of")})


@rule(
    "germination.blank-without-reason",
    severity="gap",
    reads=("counts",),
    at="counts.missing",
    says="Unit {unit_id}, visit {visit_id}, {outcome}: there is no count and no reason why.",
    remedy="Enter 0 if nobody was there to be seen; else the reason: not looked, not reached, lost.",
    fires={"counts": [{"visit_id": "V1", "unit_id": "D1", "outcome": "normal"}]},
    nearly={"counts": [{"visit_id": "V1", "unit_id": "D1", "outcome": "normal", "missing": "not looked"}]},
)
def blank_without_reason(counts):
    """Blank is not zero, and a blank that matters has a reason."""
    return counts[counts["count"].isna() & counts["missing"].isna()]


@rule(
    "germination.count-and-reason",
    severity="error",
    reads=("counts",),
    at="counts.missing",
    says="Unit {unit_id}, visit {visit_id}, {outcome}: the count is {count}, and the reason for a blank is "
    "“{missing}”.",
    remedy="Take out the one that is wrong.",
    fires={"counts": [{"visit_id": "V1", "unit_id": "D1", "outcome": "normal", "count": 3, "missing": "not looked"}]},
    nearly={"counts": [{"visit_id": "V1", "unit_id": "D1", "outcome": "normal", "count": 3}]},
)
def count_and_reason(counts):
    """Either a number, or the reason why there is none."""
    return counts[counts["count"].notna() & counts["missing"].notna()]


@rule(
    "germination.more-than-looked-at",
    severity="error",
    reads=("counts",),
    at="counts.count",
    says="Unit {unit_id}, visit {visit_id}: {count} {outcome} of {out_of} that were looked at.",
    remedy="Correct the count, or how many were looked at.",
    fires={"counts": [{"visit_id": "V1", "unit_id": "D1", "outcome": "dead", "count": 7, "out_of": 5}]},
    nearly={"counts": [{"visit_id": "V1", "unit_id": "D1", "outcome": "dead", "count": 5, "out_of": 5}]},
)
def more_than_looked_at(counts):
    """A count is at most how many were looked at."""
    return counts[counts["count"] > counts["out_of"]]


def _over(status):
    example = dish(visits={"2025-03-03": {"normal": 2}, "2025-03-20": {"normal": 4}})
    return example | {"units": [example["units"][0] | {"status": status, "decided_at": "2025-03-10", "reason": "x"}]}


@rule(
    "germination.counted-after-loss",
    severity="warning",
    reads=("units", "counts", "visits"),
    at="units.status",
    says="{kind} {unit_id} is {status} since {decided_at}, and was still counted on {last}.",
    remedy="If it was counted it was there: correct its state or the day of it.",
    fires=_over("lost"),
    nearly=_over("in use"),
)
def counted_after_loss(units, counts, visits):
    """A unit that was lost is not counted afterwards. What was left out for another reason may be."""
    gone = units[units["status"].isin(["lost"]) & units["decided_at"].notna()]
    seen = counts[counts["unit_id"].isin(gone["unit_id"]) & counts["count"].notna()]
    when = texts(seen["visit_id"], visits.set_index("visit_id")["visited_at"])
    latest_seen = (
        seen.assign(last=when, at=earliest(when))
        .sort_values("at", kind="stable")
        .drop_duplicates("unit_id", keep="last")
    )
    last = texts(gone["unit_id"], latest_seen.set_index("unit_id")["last"])
    return gone.assign(last=last)[earliest(last) > latest(gone["decided_at"])]


@rule(
    "germination.jumps-between-visits",
    severity="warning",
    reads=("visits", "trials"),
    at="visits.visited_at",
    says="Visit {visit_id} of trial {trial_id} is {days} days after the one before it, though visits are {usual} days "
    "apart as a rule.",
    remedy="If a visit was missed, say so in the notes; if the year or month is wrong, correct the date.",
    fires=visits("2025-03-03", "2025-03-05", "2025-03-08", "2025-03-12", "2026-03-17"),
    nearly=visits("2025-03-03", "2025-03-05", "2025-03-08", "2025-03-12", "2025-06-17"),
)
def jumps_between_visits(visits, trials):
    """A step of most of a year between visits that are days apart is a year typed wrong."""
    del trials
    at = pd.Series(earliest(visits["visited_at"]), index=visits.index)
    order = visits.assign(at=at).dropna(subset=["at"]).sort_values(["trial_id", "at"], kind="stable")
    step = order.groupby("trial_id")["at"].diff() / np.timedelta64(1, "D")
    usual = step.groupby(order["trial_id"]).transform("median")
    return order.assign(days=step, usual=usual)[(step > LONG_STEP) & (step > TIMES_USUAL * usual)]


LONG_STEP, TIMES_USUAL = (
    200,
    20,
)  # days; times the usual step: our own bounds, far beyond any visit that was only missed


@rule(
    "germination.mixed-counting",
    severity="warning",
    reads=("visits",),
    at="visits.counting",
    says="Visit {visit_id} of trial {trial_id} writes {outcome} as {counting} counts, while its other visits write "
    "them as {usual}.",
    remedy="One way of counting for a trial: correct this visit, or say in its notes why it differs.",
    fires=several(
        visits("2025-03-03", "2025-03-10", looked_for="normal"),
        {"visits": [{"visit_id": "V3", "trial_id": "G1", "counting": "cumulative", "looked_for": "normal"}]},
    ),
    nearly=several(
        visits("2025-03-03", "2025-03-10", looked_for="normal"),
        {"visits": [{"visit_id": "V3", "trial_id": "G1", "counting": "new", "looked_for": "normal"}]},
    ),
)
def mixed_counting(visits):
    """New counts and running totals of the same outcome in one trial are confused at the next look."""
    if len(set(visits["counting"].dropna()) & set(_MIXED)) < len(_MIXED):
        return None
    split = visits["looked_for"].str.split("; ").where(visits["looked_for"].notna())
    told = visits.assign(outcome=split).explode("outcome").dropna(subset=["outcome", "counting", "trial_id"])
    told = told[told["counting"].isin(_MIXED) & told["outcome"].isin(_anew())]
    by = told.groupby(["trial_id", "outcome"])["counting"]
    usual = by.transform(lambda c: c.mode().iloc[0])
    odd = told.assign(usual=usual)[told["counting"].ne(usual)]
    return odd[~odd.index.duplicated()]


_MIXED = ("new", "cumulative")


def _anew():
    return schema.words("outcome", seen="new since the last visit")


RULES = (
    day_and_month_swapped,
    two_visits_one_moment,
    typed_before_seen,
    outcome_not_entered,
    outcome_not_looked_for,
    unit_of_other_trial,
    blank_without_reason,
    count_and_reason,
    more_than_looked_at,
    counted_after_loss,
    jumps_between_visits,
    mixed_counting,
)
