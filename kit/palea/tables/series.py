"""Readings of loggers as they pass in blocks: days, steps, silences and clocks, without keeping the readings."""

from collections import Counter

import numpy as np
import pandas as pd

from palea.findings import Finding
from palea.tables.moments import NO_OFFSET

HOLE_S, HOLE_STEPS = 48 * 3600, 6  # a silence is a hole from two days on, and beyond six usual steps: our own bounds
DAY_S = 86400
_OF = ("equipment_id", "quantity", "environment_id", "site_id", "unit", "of_the_day")
_NEVER = np.iinfo(np.int64).min
_MOST_STEPS = 10_000  # distinct steps of one series that are counted; beyond, the first ones say what is usual


class Series:
    """Series (one a logger, quantity, place, unit and kind of value) and what is known of each so far."""

    def __init__(self):
        self._number, self._last, self._offset, self._steps = {}, [], [], []  # by series
        self._holes, self._shifts, self._twice, self._days = [], [], [], []  # by block
        self._back = set()

    def take(self, codes, at, value, row):
        """One block: codes {column: (codes, distinct)}, Moments, values, and the row it begins with."""
        usable = np.flatnonzero(at.readable & (codes["equipment_id"][0] >= 0) & (codes["quantity"][0] >= 0))
        series = self._numbered(codes)[usable]
        true, wall, value, offset = at.true[usable], at.wall[usable], value[usable], at.offset[usable]
        timed = at.timed[usable]
        rises = (series[1:] > series[:-1]) | ((series[1:] == series[:-1]) & (true[1:] >= true[:-1]))
        order = slice(None) if rises.all() else np.lexsort((true, series))
        series, true, wall, value, offset, timed = (a[order] for a in (series, true, wall, value, offset, timed))
        usable = usable[order]
        step = self._step(series, true, offset, timed, usable + row)
        self._sum_days(series, wall // DAY_S, value, step)

    def _numbered(self, codes):
        """The number of each row's series."""
        packed, sizes = 0, []
        for name in _OF:
            of, distinct = codes[name]
            packed = packed * (len(distinct) + 1) + (of.astype(np.int64) + 1)
            sizes.append([None, *distinct])
        local, keys = pd.factorize(packed)
        return np.array([self._series(key, sizes) for key in keys.tolist()], np.int64)[local]

    def _series(self, key, sizes):
        texts = []
        for distinct in reversed(sizes):
            key, code = divmod(key, len(distinct))
            texts.append(distinct[code])
        name = tuple(reversed(texts))
        if name not in self._number:
            self._number[name] = len(self._number)
            self._last.append(_NEVER)
            self._offset.append(NO_OFFSET)
            self._steps.append(Counter())
        return self._number[name]

    def _step(self, series, true, offset, timed, row):
        """Seconds since the reading before of the same series (-1: none), keeping holes, shifts and doubles."""
        if not len(series):
            return np.array([], np.int64)
        starts = np.flatnonzero(np.append([True], series[1:] != series[:-1]))
        before, offset_before = np.append([0], true[:-1]), np.append([NO_OFFSET], offset[:-1])
        before[starts] = [self._last[s] for s in series[starts].tolist()]
        offset_before[starts] = [self._offset[s] for s in series[starts].tolist()]
        first = before == _NEVER
        step = np.where(first, -1, true - before)
        self._back |= set(series[(step < 0) & ~first].tolist())
        changed = ~first & timed & (offset != offset_before) & (offset != NO_OFFSET) & (offset_before != NO_OFFSET)
        for kept, chosen in ((self._holes, step >= HOLE_S), (self._shifts, changed), (self._twice, step == 0)):
            chosen = np.flatnonzero(chosen & ~first)
            shift = offset[chosen] - offset_before[chosen]
            kept.append(np.stack([series[chosen], row[chosen], step[chosen], shift, before[chosen]]))
        self._count_steps(series, starts, np.where(first | (step <= 0), -1, step))
        for s, last in zip(series[starts].tolist(), np.append(starts[1:], len(series)).tolist(), strict=True):
            self._last[s], self._offset[s] = max(int(true[last - 1]), self._last[s]), int(offset[last - 1])
        return step

    def _count_steps(self, series, starts, step):
        stops = np.append(starts[1:], len(step))
        for s, first, last in zip(series[starts].tolist(), starts.tolist(), stops.tolist(), strict=True):
            if len(self._steps[s]) < _MOST_STEPS:
                lengths, number = np.unique(step[first:last], return_counts=True)
                self._steps[s].update({k: n for k, n in zip(lengths.tolist(), number.tolist(), strict=True) if k > 0})

    def _sum_days(self, series, day, value, step):
        """One row a series and day of this block."""
        if not len(series):
            return
        order = slice(None)
        if ((series[1:] == series[:-1]) & (day[1:] < day[:-1])).any():
            order = np.lexsort((day, series))
        series, day, value, step = (a[order] for a in (series, day, value, step))
        starts = np.flatnonzero(np.append([True], (series[1:] != series[:-1]) | (day[1:] != day[:-1])))
        known = ~np.isnan(value)
        add = np.add.reduceat
        self._days.append(
            np.stack([
                series[starts], day[starts], add(known.astype(np.int64), starts), add(np.where(known, value, 0.0), starts),
                np.minimum.reduceat(np.where(known, value, np.inf), starts),
                np.maximum.reduceat(np.where(known, value, -np.inf), starts), np.maximum.reduceat(step, starts),
            ])
        )  # fmt: skip

    def usual(self):
        """The median step of each series, s; nan where there is none."""
        return np.array([_median(steps) for steps in self._steps])

    def days(self):
        """One row a series and day: `Logged.days`."""
        columns = ["series", "at", "n", "total", "lowest", "highest", "step"]
        rows = np.concatenate(self._days, axis=1) if self._days else np.zeros((7, 0))
        frame = pd.DataFrame(rows.T, columns=columns)
        how = {"n": "sum", "total": "sum", "lowest": "min", "highest": "max", "step": "max"}
        told = frame.groupby(["series", "at"]).agg(how).reset_index()
        told.loc[told["n"].eq(0), ["total", "lowest", "highest"]] = np.nan
        number = told["series"].to_numpy(int)
        usual = np.append(self.usual(), [np.nan])[number]
        names = list(self._number)
        of = {c: pd.array([names[s][i] for s in number], dtype=pd.StringDtype("pyarrow")) for i, c in enumerate(_OF)}
        day = told["at"].to_numpy("int64").astype("datetime64[D]").astype(str)
        n = told["n"].to_numpy()
        return pd.DataFrame({
            **of, "day": pd.array(day, dtype=pd.StringDtype("pyarrow")), "n": n.astype(np.int64),
            "coverage_pct": np.minimum(100 * n * usual / DAY_S, 100),
            "hole_h": np.where(told["step"] > 0, told["step"] / 3600, np.nan),
            "lowest": told["lowest"], "mean": told["total"] / told["n"].where(told["n"] > 0), "highest": told["highest"],
            "total": told["total"],
        })  # fmt: skip

    def repeated(self):
        """Rows of readings at the same moment as the one before them, where there are any: a list of at most one array."""
        rows = np.concatenate([kept[1] for kept in self._twice]) if self._twice else np.array([], int)
        return [np.sort(rows)] if len(rows) else []

    def tell(self, found, in_file):
        """Findings about holes, clocks that were put forward or back, and readings out of order.

        in_file : positions as they were counted here -> positions in the file.
        """
        usual, names = self.usual(), list(self._number)
        for series, row, step, _, before in _columns(self._holes):
            if step > HOLE_STEPS * usual[series]:
                says = (
                    f"Logger {names[series][0]}, {names[series][1]}: nothing for {step / DAY_S:.1f} days from {_moment(before)} "
                    f"on, though it writes every {usual[series] / 3600:.3g} h."
                )
                remedy = "If the logger was down, say so in the record; means over this time stand on what was logged."
                _warn(found, "field.logger-hole", in_file([row])[0], says, remedy)
        for series, row, step, shift, _ in _columns(self._shifts):
            if abs(step - usual[series] + shift * 60) < usual[series] / 100:
                says = (
                    f"Logger {names[series][0]}, {names[series][1]}: the offset changes by {abs(shift) / 60:.3g} h and the time on "
                    "the wall does not: its clock was not put forward or back, so what follows is off by that."
                )
                remedy = "Compare a later reading with a clock. If the times are off, correct the offset of all that follow."
                _warn(found, "field.logger-clock", in_file([row])[0], says, remedy)
        for series in sorted(self._back):
            says = f"Logger {names[series][0]}, {names[series][1]}: its readings are not in the order of time."
            remedy = "Sort the file by logger, quantity and time; until then doubles and silences cannot all be found."
            _warn(found, "field.logger-order", None, says, remedy)


def _median(steps):
    half, seen = sum(steps.values()) / 2, 0
    for step in sorted(steps):
        seen += steps[step]
        if seen >= half:
            return float(step)
    return np.nan


def _columns(kept):
    return np.concatenate(kept, axis=1).T.tolist() if kept else []


def _moment(seconds):
    return f"{str(np.datetime64(int(seconds), 's'))[:16]}Z"


def _warn(found, rule, row, says, remedy):
    line = None if row is None else int(row) + 2
    found.findings.append(Finding(rule, "warning", found.table, line, "logged_at", None, says, remedy))
