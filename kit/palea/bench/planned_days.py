"""Days on which units of a running trial are to be looked at or thinned, and which of them a visit has kept.

Days count from the time zero of the units. Units of one trial that were wetted on different days are groups of their own.
"""

from typing import NamedTuple

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.spans import earliest

ONE = np.timedelta64(1, "D")


class Group(NamedTuple):
    """Units of a trial that began together. start : datetime64[D].  ids : of the units.  seen : sorted days of visits to them."""

    trial: str
    start: np.datetime64
    ids: frozenset[str]
    environments: tuple[str, ...]
    seen: np.ndarray

    @property
    def units(self):
        """How many there are."""
        return len(self.ids)


class Planned(NamedTuple):
    """One planned day of a group: on which date it falls, and what for."""

    trial: str
    day: int
    on: np.datetime64
    what: str
    units: int


def days_of(dates):
    """Text dates as datetime64[D]; NaT where there is none."""
    return earliest(dates).astype("datetime64[D]")


def running(facts):
    """Ids of trials under way."""
    trials = facts["trials"]
    return trials.loc[trials["status"].eq("running").fillna(value=False), "trial_id"].tolist()


def groups(facts):
    """Every Group of the running trials, the earliest first."""
    units = facts["units"]
    held = units["status"].isna() | units["status"].isin(schema.words("unit_status", counts=True))
    rows = units[units["trial_id"].isin(running(facts)) & held]
    rows = rows.assign(start=days_of(rows["first_wetted_at"].fillna(rows["placed_at"]))).dropna(subset=["start"])
    seen = _visits(facts, facts["visits"])
    found = [
        Group(trial, np.datetime64(start, "D"), frozenset(part["unit_id"]), tuple(dict.fromkeys(part["environment_id"].dropna())),
              _seen(seen, trial, set(part["unit_id"])))
        for (trial, start), part in rows.groupby(["trial_id", "start"])
    ]  # fmt: skip
    return sorted(found, key=lambda g: (g.start, g.trial))


def _visits(facts, visits):
    """One row a visit and unit that was counted in it; a visit without counts stands once, with no unit."""
    counts = facts["counts"][["visit_id", "unit_id"]].drop_duplicates()
    told = visits.assign(at=days_of(visits["visited_at"]))[["visit_id", "trial_id", "at"]]
    return told.merge(counts, on="visit_id", how="left").dropna(subset=["at"])


def _seen(visits, trial, units):
    mine = visits[visits["trial_id"].eq(trial) & (visits["unit_id"].isna() | visits["unit_id"].isin(units))]
    return np.unique(mine["at"].to_numpy("datetime64[D]"))


def looks(facts, group):
    """Planned days to look at a group: those written beside the trial, and those on which an outcome is judged."""
    judged = facts["trial_outcomes"]
    judged = judged[judged["trial_id"].eq(group.trial) & judged["at_day"].notna()]
    what = {day: ["planned visit"] for day in written(facts, group.trial, "visit_days")}
    for row in judged.itertuples():
        day = what.setdefault(int(row.at_day), [])
        day.append(f"{schema.word('quantity', row.outcome)['title'].lower()} is judged")
    return [_planned(group, day, ", ".join(w for w in told if w != "planned visit" or len(told) == 1))
            for day, told in sorted(what.items())]  # fmt: skip


def thinnings(facts, group):
    """Planned days to thin a group."""
    return [_planned(group, day, "thin as planned") for day in written(facts, group.trial, "thinning_days")]


def _planned(group, day, what):
    return Planned(group.trial, day, group.start + day * ONE, what, group.units)


def written(facts, trial, column):
    """Days of a text such as "3; 5; 7", in order."""
    trials = facts["trials"]
    text = trials.loc[trials["trial_id"].eq(trial), column].dropna() if column in trials else pd.Series(dtype=str)
    return sorted({int(day) for day in ";".join(text).split(";") if day.strip()})


def renewals(group, place, every, end):
    """Days on which the solution or water of a place of a group is to be renewed, from the first to the one before `end`."""
    days = np.arange(1, max(0, (end - group.start) / ONE / every) + 1) * every
    what = f"solution or water of {place}, every {every:g} d"
    return [p for p in (_planned(group, int(day), what) for day in days) if p.on < end]


def renewed(facts, group, place):
    """Sorted days on which a place of a group was renewed; None where no visit of the trial says anything of it."""
    visits = facts["visits"]
    mine = visits[visits["trial_id"].eq(group.trial) & visits["renewed"].notna()]
    if mine.empty:
        return None
    units = facts["units"]
    here = set(units.loc[units["environment_id"].eq(place), "unit_id"]) & group.ids
    return _seen(_visits(facts, mine[mine["renewed"].astype(bool)]), group.trial, here)


def kept(planned, seen, on):
    """For each planned day whether a visit kept it: one on that day or later, before the next planned day, and not after `on`."""
    ends = [p.on for p in planned[1:]] + [np.datetime64("9999-01-01")] * bool(planned)
    past = np.asarray(seen, "datetime64[D]")
    past = past[past <= on]
    return [bool(((past >= p.on) & (past < end)).any()) for p, end in zip(planned, ends, strict=True)]
