"""The visits that a count sheet's dates, days and names mean: those that are there, and new ones with all they need."""

from datetime import date, timedelta
from itertools import pairwise

import pandas as pd

from palea import schema
from palea.bench.take_in import names
from palea.calc.spans import earliest

SERIES = 3  # visits from which counts that only rise look like running totals
SEPARATOR = "; "


def settle(sheet, records, units, *, day="", file=""):
    """({visit_id: row as texts}, {when: visit_id}) for all that the records say; (None, {}) where something must be asked.

    A row of a visit that is not yet there has the key "new".
    """
    trial = units["trial_id"].iloc[0] if len(units) else ""
    frame = sheet.package["visits"]
    there = frame[frame["trial_id"].eq(trial).fillna(value=False)].dropna(subset=["visit_id"])
    there = {r["visit_id"]: {k: v for k, v in r.items() if not pd.isna(v)} for r in there.to_dict("records")}
    zero = _day_zero(sheet, records, units)
    of, visits = {}, {}
    for when in dict.fromkeys(r.when for r in records if r.when):
        found = _visit(sheet, when, there, zero, trial)
        if found:
            of[when], visits[found["visit_id"]] = found["visit_id"], found
    fresh = [v for v in visits.values() if v.get("new")]
    counting = _counting(sheet, records, of, visits, fresh)
    who = _who(sheet, records, fresh)
    for visit in fresh:
        seen = dict.fromkeys(r.outcome for r in records if of.get(r.when) == visit["visit_id"] and r.outcome)
        visit |= {"looked_for": SEPARATOR.join(seen), "counting": counting, "visited_by": who, "sheet": file, "typed_at": day}
        visit |= {"blind": "True"} if sheet.above.get("blind") else {}
    return (None, {}) if sheet.notes.asks else (visits, of)


def _day_zero(sheet, records, units):
    """The date from which days are counted: as said, else when the units were wetted or placed, if that is one day."""
    if all(r.when is None or r.when[0] != "day" for r in records):
        return None
    if sheet.mapping.day_zero:
        return date.fromisoformat(sheet.mapping.day_zero[:10])
    mine = units[units["unit_id"].isin({r.unit for r in records})]
    starts = pd.Series(earliest(mine["first_wetted_at"].fillna(mine["placed_at"]))).dropna().dt.date.unique()
    if len(starts) == 1:
        sheet.notes.tell(f"Days are counted from {starts[0]}, when the units were first wetted or placed.")
        return starts[0]
    why = "the units do not say when they were wetted or placed" if not len(starts) else "the units began on several days"
    sheet.notes.ask("day_zero", f"Days are given, and {why}.", "Say --day-zero 2026-05-04.")
    return None


def _visit(sheet, when, there, zero, trial):
    """The row of the visit that `when` means; None where it must be asked."""
    kind, said = when
    if kind == "visit":
        if said in there:
            return dict(there[said])
        at = sheet.above.get("visited_at", "") or sheet.mapping.given.get("visited_at", "")
        if at:
            told, _ = sheet.cells.read(schema.table("visits")["visited_at"], 0, 0, at)
            return _new(said, trial, told) if told else None
        sheet.notes.ask("when", f"There is no visit {said}, and the sheet does not say when it was.",
                        "Say --given visited_at=2026-05-04.")  # fmt: skip
        return None
    if kind == "day" and zero is None:
        return None
    at = said if kind == "date" else (zero + timedelta(days=said)).isoformat()
    same = [v for v in there.values() if str(v.get("visited_at", ""))[:10] == at[:10]]
    if len(same) > 1:
        ids = [v["visit_id"] for v in same]
        sheet.notes.ask("when", f"There are several visits on {at[:10]}: {', '.join(ids)}.", "Say --given visit_id=...", ids)
        return None
    if same:
        return dict(same[0])
    name = f"{trial}-D{said:02d}" if kind == "day" else f"{trial}-{at[:10]}"
    return _new(name if name not in there else f"{trial}-{at[:10]}", trial, at)


def _new(name, trial, at):
    return {"visit_id": name, "trial_id": trial, "visited_at": at, "new": True}


def _counting(sheet, records, of, visits, fresh):
    """How counts are written: as said, as the visits that are there say, as the outcomes can only be, or asked."""
    said = sheet.mapping.counting or names.counting(sheet.above.get("counting", ""))
    kept = {v["counting"] for v in visits.values() if not v.get("new") and v.get("counting")}
    if said and kept and kept != {said}:
        sheet.notes.ask("counting", f"The sheet is said to be “{said}”, and visits that are there are “{', '.join(sorted(kept))}”.",
                        "Take those visits in by themselves.")  # fmt: skip
        return ""
    if said:
        return schema.word("counting", said)["name"]
    outcomes = {r.outcome for r in records if r.outcome}
    seen = {schema.word("outcome", o)["seen"] for o in outcomes}
    if seen <= {"standing now"} and outcomes:
        return "standing"
    if not fresh or sheet.by_seed:
        return "new"
    rises, falls = _rise(records, of, visits)
    if falls:
        sheet.notes.tell(f"Taken as counted anew at each visit: {falls}, so it is no running total.")
        return "new"
    why = "The counts never fall, as running totals do" if rises else "Nothing shows whether counts are new or running totals"
    sheet.notes.ask("counting", f"{why}.", "Say --counting new (what came since the last visit) or cumulative (all seen so far).",
                    schema.words("counting"))  # fmt: skip
    return ""


def _rise(records, of, visits):
    """(whether counts only rise over enough visits, where one falls as a sentence's half)."""
    lines = {}
    for r in records:
        if r.text and r.when in of:
            lines.setdefault((r.called, r.outcome), []).append((str(visits[of[r.when]]["visited_at"]), int(float(r.text))))
    rises = False
    for (unit, outcome), points in lines.items():
        values = [n for _, n in sorted(points)]
        for before, after in pairwise(values):
            if after < before:
                return False, f"{unit} has {before} {outcome} and later {after}"
            rises |= after > before and len(values) >= SERIES
    return rises, ""


def _who(sheet, records, fresh):
    """Id of who counted, for visits that are not there yet; asked where nothing says it."""
    said = sheet.mapping.by or sheet.above.get("visited_by", "") or next((r.by for r in records if r.by), "")
    found = person(sheet, said)
    if found or not fresh:
        return found or ""
    known = sheet.package["people"]["person_id"].dropna().tolist()
    what = f"“{said}” is nobody in the table people" if said else "Who counted is not said"
    whom = f"one of: {', '.join(known[:12])}" if known else "a person, once there is one in the table people"
    sheet.notes.ask("by", f"{what}.", f"Say --by with {whom}.", known)
    return ""


def person(sheet, text):
    """Id of the person that a text names; "" for none."""
    return (sheet.ids.find("people", text) or "") if text else ""
