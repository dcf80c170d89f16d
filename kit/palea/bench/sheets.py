"""Blank count sheets for the bench: one line a unit in walking order, what was counted last in grey, boxes for today.

`lay_out` says what stands on a sheet, `sheet_files` writes it as a workbook or a page to print. `palea take-in` reads the
workbook back. On a blind sheet a unit is its code and nothing else, and the order of lines says nothing of treatments.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.spans import earliest
from palea.derived.facts import plain
from palea.errors import PaleaError

LAST = "Last"  # begins the heading of a grey column, which take-in leaves alone
BY_CODE = "Code"
BY_UNIT = "Unit"


@dataclass(frozen=True)
class Line:
    """One unit on a sheet: how it is called there, where it stands, seed units sown, {outcome: what was counted last}."""

    name: str
    place: str
    sown: str
    last: dict


@dataclass(frozen=True)
class CountSheet:
    """What stands on a blank sheet.

    trial, title : of the trial.  visit : its id.  day, by : text, "" to be filled in by hand.  counting : a word of the
    list counting.  outcomes : what is looked for.  blind : whether units are called by their codes.
    since : the visit that the grey numbers are of, "" for none.
    """

    trial: str
    title: str
    visit: str
    day: str
    by: str
    counting: str
    outcomes: tuple
    blind: bool
    lines: tuple
    since: str = ""

    @property
    def facts(self):
        """[(what, text)] that stand above the lines, in the words that take-in knows again."""
        ways = "; ".join(schema.word("outcome", o)["title"] for o in self.outcomes)
        looked_for = schema.table("visits")["looked_for"].title
        said = [("Trial", self.trial), ("Visit", self.visit), ("Date", self.day), ("Counted by", self.by),
                ("Counting", schema.word("counting", self.counting)["title"]), (looked_for, ways)]  # fmt: skip
        return [*said, ("Blind", "codes only")] if self.blind else said

    @property
    def headings(self):
        """[(heading, kind)] of the columns: name, place, sown, and for each outcome a grey one and an open one, note."""
        said = [(BY_CODE if self.blind else BY_UNIT, "name"), ("Place", "place"), ("Sown", "sown")]
        for outcome in self.outcomes:
            title = schema.word("outcome", outcome)["title"]
            said += [(f"{LAST} {title.lower()}", "last")] if self.shows_last(outcome) else []
            said.append((title, "open"))
        return [*said, ("Note", "note")]

    def shows_last(self, outcome):
        """Whether any unit has a number of the last visit for this outcome."""
        return any(line.last.get(outcome) for line in self.lines)

    def cells(self, line):
        """Texts of a line, aligned with the headings; open boxes are blank."""
        told = [line.name, line.place, line.sown]
        for outcome in self.outcomes:
            told += [line.last.get(outcome, "")] if self.shows_last(outcome) else []
            told.append("")
        return [*told, ""]


def lay_out(package, trial, *, visit="", day="", by="", counting="", look_for="", blind=None):
    """The CountSheet of a trial. Nothing is written.

    visit : id of a visit that is there, or of a new one; "" for a new one on `day`.  day : its date, "" to be written by
    hand.  counting, look_for : as a visit says them; "" for those of the visit, else of the last one.
    blind : None for blind where the last visit was.
    Raises PaleaError where the trial has no units in use, a blind sheet lacks codes, or nothing says what is counted.
    """
    units = in_use(package, trial)
    before, own = _visits(package, trial, visit, day)
    like = own if own is not None else before[-1] if before else {}
    counting = counting or like.get("counting") or _ask("how counts are written", "--counting new, cumulative or standing")
    schema.word("counting", counting)
    outcomes = _outcomes(look_for or like.get("looked_for") or _ask("what is looked for", '--look-for "normal; abnormal"'))
    blind = bool(like.get("blind")) if blind is None else blind
    if blind:
        refuse_without_codes(units, trial)
    day = day or str((own or {}).get("visited_at") or "")[:10]
    last = _last(package, before, outcomes)
    lines = tuple(
        Line(row["code"] if blind else row["unit_id"], place_of(row), _whole(row["sown_n"]),
             {o: last.get((row["unit_id"], o), "") for o in outcomes})
        for row in walk(units, blind=blind).to_dict("records")
    )  # fmt: skip
    by = by or (own or {}).get("visited_by") or ""
    title = package["trials"].set_index("trial_id")["title"].get(trial, "")
    return CountSheet(trial, str(title), visit or _next_visit(package, trial, units, day), day, by, counting, outcomes, blind,
                      lines, before[-1]["visit_id"] if before else "")  # fmt: skip


def walk(units, *, blind=False):
    """Units in the order in which a person walks along them: condition by condition, shelf row by shelf row; outdoors
    along one line and back along the next. Without a place by block and name; on a blind sheet by code.
    """
    frame = plain(units)
    outdoors = frame["kind"].isin(schema.words("unit_kind", stage="field")).fillna(value=False).to_numpy(bool)
    row, column = frame["grid_row"].to_numpy(float), frame["grid_column"].to_numpy(float)
    back = outdoors & (np.nan_to_num(row) % 2 == 0) & ~np.isnan(row)
    name = frame["code"] if blind else frame["unit_id"]
    ordered = frame.assign(
        held=frame["environment_id"].fillna("").where(~outdoors, ""), along=np.where(back, -column, column),
        part=frame["block"].fillna("") if not blind else "", name=name,
    )  # fmt: skip
    ordered = ordered.sort_values(["held", "grid_row", "along", "part", "name"], kind="stable")
    return ordered.drop(columns=["held", "along", "part", "name"])


def in_use(package, trial):
    """Units of the trial that are in use and were sown."""
    if trial not in set(package["trials"]["trial_id"].dropna()):
        msg = f"There is no trial “{trial}”. There are: {', '.join(package['trials']['trial_id'].dropna()) or 'none yet'}."
        raise PaleaError(msg)
    frame = package["units"]
    mine = frame[frame["trial_id"].eq(trial).fillna(value=False) & frame["lot_id"].notna()]
    mine = mine[~mine["status"].isin(schema.words("unit_status", counts=False)).fillna(value=False)]
    if mine.empty:
        msg = f"Trial {trial} has no units in use. Lay it out first (`palea plan layout`, table units)."
        raise PaleaError(msg)
    return mine


def refuse_without_codes(units, trial):
    """PaleaError where units lack a code, or two have the same."""
    bare = units.loc[units["code"].isna(), "unit_id"].tolist()
    twice = units.loc[units["code"].duplicated(), "code"].dropna().tolist()
    if bare or twice:
        what = f"{len(bare)} units have no code, as {bare[0]}" if bare else f"the code {twice[0]} is there twice"
        msg = f"A blind sheet of {trial} cannot be made: {what}. Give each a code of its own (units, column code)."
        raise PaleaError(msg)


def _visits(package, trial, visit, day):
    """([visits before this one, oldest first], its own row or None), as dicts."""
    frame = package["visits"]
    mine = frame[frame["trial_id"].eq(trial).fillna(value=False)]
    mine = mine.assign(at=earliest(mine["visited_at"])).sort_values("at", kind="stable")
    rows = [{k: v for k, v in r.items() if not pd.isna(v)} for r in mine.to_dict("records")]
    own = next((r for r in rows if r["visit_id"] == visit or (day and not visit and r["visited_at"][:10] == day)), None)
    until = own["at"] if own else earliest([day])[0] if day else None
    return [r for r in rows if r is not own and (until is None or pd.isna(until) or r["at"] < until)], own


def _ask(what, option):
    msg = f"There is no visit yet that says {what}. Say {option}."
    raise PaleaError(msg)


def _outcomes(text):
    separator = schema.word("text_format", schema.table("visits")["looked_for"].parse)["separator"].strip()
    said = [w.strip() for w in text.split(separator) if w.strip()]
    return tuple(schema.word("outcome", w)["name"] for w in said)


def _last(package, before, outcomes):
    """{(unit, outcome): number as written} at the last visit that counted that outcome in that unit."""
    counts = package["counts"]
    rank = {r["visit_id"]: n for n, r in enumerate(before)}
    mine = counts[counts["visit_id"].isin(list(rank)) & counts["outcome"].isin(outcomes) & counts["count"].notna()]
    mine = mine.assign(rank=mine["visit_id"].map(rank).astype(float)).sort_values("rank", kind="stable")
    mine = mine.drop_duplicates(["unit_id", "outcome"], keep="last")
    return {(u, o): str(int(n)) for u, o, n in zip(mine["unit_id"], mine["outcome"], mine["count"], strict=True)}


def _next_visit(package, trial, units, day):
    """Id of the visit of a day: the one that is there, else trial and day of the trial, else "" to be written by hand."""
    there = package["visits"]
    same = there.loc[there["trial_id"].eq(trial) & there["visited_at"].str[:10].eq(day), "visit_id"] if day else []
    if len(same):
        return same.iloc[0]
    start = pd.Series(earliest(units["first_wetted_at"].fillna(units["placed_at"]))).dropna()
    at = earliest([day])[0] if day else np.datetime64("NaT")
    if pd.isna(at) or start.empty:
        return f"{trial}-{day}" if day else ""
    return f"{trial}-D{int((at - start.min().to_datetime64().astype('datetime64[D]')) / np.timedelta64(1, 'D')):02d}"


def place_of(row):
    """Where a unit stands: row and column of the layout, else its block; "" where that is not known."""
    if pd.isna(row["grid_row"]):
        return "" if pd.isna(row["block"]) else str(row["block"])
    column = "" if pd.isna(row["grid_column"]) else f" / {row['grid_column']:.0f}"
    return f"{row['grid_row']:.0f}{column}"


def _whole(value):
    return "" if pd.isna(value) else f"{value:.0f}"
