"""What is to be done on a day across all trials, what was missed, and what is due in the week that follows.

It rests on what the tables say: planned days of running trials, renewals of solutions, days on which calibrations end and
materials expire, planned runs, and how long ago seed was weighed and tested.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from palea import schema
from palea.bench import planned_days
from palea.bench.planned_days import ONE, days_of
from palea.derived.facts import Facts
from palea.derived.ledger import stock
from palea.derived.lookup import numbers
from palea.errors import PaleaError
from palea.words.prose import counted

WEEK = 7
YEARLY = 365  # how long a weighing and a test of life hold: common practice, no source
STORED = ("in use", "reserved")
LIFE = ("germination", "viability")
UNKNOWN = (
    "No visit of {trials} says whether solution or water was renewed, so a renewal that was missed cannot be told. Say it at the "
    "visit, under “Solution renewed”."
)


@dataclass(frozen=True)
class Job:
    """One thing to do. do : count, thin, renew, weigh, test, calibrate or run.  about : id of the trial, lot, instrument ...

    what : in words.  on : the date it falls on.
    """

    do: str
    about: str
    what: str
    on: str


@dataclass(frozen=True)
class Day:
    """on : the date.  today, missed, soon : Jobs of that day, of days before that nobody kept, and of the seven days after.

    unknown : sentences on what the tables cannot tell.
    """

    on: str
    today: tuple[Job, ...]
    missed: tuple[Job, ...]
    soon: tuple[Job, ...]
    unknown: tuple[str, ...] = ()


def day(package, on, weigh_every_d=YEARLY, test_every_d=YEARLY):
    """The Day of a package.

    on : a date, as 2026-05-04 or datetime.date.  weigh_every_d, test_every_d : days after which a lot in store is to be
    weighed or its life tested again; 0: not asked.
    A planned day is missed where no visit fell on it or later, before the next planned day. A renewal is told as missed where
    visits of its trial say of renewals at all. Raises PaleaError for a text that is no date.
    """
    at = _date(on)
    facts = Facts(package)
    groups = planned_days.groups(facts)
    visits = [part for group in groups for part in _of_group(facts, group, at)]
    renewals = [(job, said) for group in groups for job, said in _renewals(facts, group, at)]
    told = {job for job, said in renewals if said or job.on >= str(at)}
    others = [*_runs(facts), *_calibrations(facts), *_expiring(facts),
              *_weighings(facts, weigh_every_d), *_tests(facts, test_every_d)]  # fmt: skip
    jobs = sorted({*visits, *told, *others}, key=lambda j: (j.on, j.do, j.about, j.what))
    now, last = str(at), str(at + WEEK * ONE)
    silent = sorted({job.about for job, said in renewals if not said})
    return Day(
        on=now, today=tuple(j for j in jobs if j.on == now), missed=tuple(j for j in jobs if j.on < now),
        soon=tuple(j for j in jobs if now < j.on <= last), unknown=(UNKNOWN.format(trials=" or ".join(silent)),) if silent else (),
    )  # fmt: skip


def _date(on):
    try:
        return np.datetime64((on if isinstance(on, date) else date.fromisoformat(str(on))), "D")
    except ValueError:
        msg = f"“{on}” is not a date. Write it as 2026-05-04."
        raise PaleaError(msg) from None


def _of_group(facts, group, at):
    """Jobs of a group of units that no visit has kept."""
    for do, planned in (("count", planned_days.looks(facts, group)), ("thin", planned_days.thinnings(facts, group))):
        done = planned_days.kept(planned, group.seen if do == "count" else _thinned(facts, group), at)
        for p, seen in zip(planned, done, strict=True):
            if not seen:
                units = counted(p.units, "unit", "units")
                yield Job(do, p.trial, f"day {p.day} of {units} begun on {group.start}: {p.what}", str(p.on))


def _thinned(facts, group):
    """Days of visits at which plants of the trial were taken out by a rule."""
    visits = facts["visits"]
    ruled = visits[visits["trial_id"].eq(group.trial) & visits["thinning_rule"].notna()]
    return np.intersect1d(days_of(ruled["visited_at"]), group.seen)


def _renewals(facts, group, at):
    """(job, whether the trial's visits say of renewals) of all that no visit kept, up to a week from `at`.

    Renewals go on as long as the trial has planned days to come; where it has none, until they are told to have ended.
    """
    places = facts["environments"].dropna(subset=["renewed_every_d"]).set_index("environment_id")["renewed_every_d"]
    looks, week = planned_days.looks(facts, group), at + (WEEK + 1) * ONE
    end = min(looks[-1].on, week) if looks else week
    for place in places.index.intersection(list(group.environments)):
        planned = planned_days.renewals(group, place, float(places[place]), end)
        done = planned_days.renewed(facts, group, place)
        kept = planned_days.kept(planned, [] if done is None else done, at)
        yield from ((Job("renew", p.trial, p.what, str(p.on)), done is not None)
                    for p, seen in zip(planned, kept, strict=True) if not seen)  # fmt: skip


def _runs(facts):
    runs = facts["runs"]
    for row in runs[runs["status"].eq("planned").fillna(value=False)].itertuples():
        yield from _job("run", row.run_id, schema.word("run_kind", row.kind)["title"].lower(), row.started_at)


def _job(do, about, what, text):
    on = days_of(pd.Series([text], dtype="string"))[0]
    if not np.isnat(on):
        yield Job(do, str(about), what, str(on))


def _calibrations(facts):
    """Where the latest calibration of an instrument ends."""
    rows = facts["calibrations"]
    rows = rows.assign(at=days_of(rows["done_on"])).sort_values("at", kind="stable")
    for row in rows.drop_duplicates(["equipment_id", "quantity"], keep="last").dropna(subset=["due_on"]).itertuples():
        yield from _job("calibrate", row.equipment_id, f"{row.quantity}; done last on {row.done_on}", row.due_on)


def _expiring(facts):
    for row in facts["materials"].dropna(subset=["expires_on"]).itertuples():
        yield from _job("renew", row.material_id, f"{row.name} expires", row.expires_on)


def _stored(facts):
    """Lots in store of which the book says that something is left."""
    lots = facts["lots"]
    left = numbers(lots["lot_id"], facts[stock].set_index("lot")["mass_g"])
    return lots.loc[lots["status"].isin(STORED) & left.gt(0), "lot_id"].tolist()


def _weighings(facts, every):
    """Lots in store that were weighed, or came in weighed, and when they are to be weighed again."""
    moves = facts["movements"]
    weighing = [k for k in schema.words("movement_kind") if schema.word("movement_kind", k)["sign"] >= 0]
    rows = moves[moves["kind"].isin(weighing) & moves["mass_g"].notna()]
    return _again("weigh", rows["lot_id"], rows["moved_at"], _stored(facts), every)


def _tests(facts, every):
    """Lots in store whose life was tested, and when it is to be tested again."""
    tests = facts["tests"]
    valid = tests["status"].isna() | tests["status"].isin(schema.words("test_status", counts=True))
    rows = tests[tests["quantity"].isin(LIFE) & valid]
    return _again("test", rows["lot_id"], rows["tested_at"], _stored(facts), every)


def _again(do, lots, dates, stored, every):
    if not every:
        return
    last = pd.Series(days_of(dates), index=lots.to_numpy()).dropna().groupby(level=0).max()
    for lot, at in last[last.index.isin(stored)].items():
        on = np.datetime64(at, "D") + every * ONE
        yield Job(do, str(lot), f"last done on {str(at)[:10]}", str(on))
