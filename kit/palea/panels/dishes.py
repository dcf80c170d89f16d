"""What the count sheet of one visit holds: its dishes in walking order, what was seen before, what a typed cell means.

Plain frames and texts, no widget. What came before is read from the views, what is wrong with a line is said by the
rules of the germination stage themselves, run on that line alone so that they keep up with typing.
"""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.spans import earliest
from palea.checks.germination.counts import cumulative_falls, more_than_sown
from palea.derived.counting import dishes as dishes_view
from palea.derived.counting import ends, new_counts, rising, sheets
from palea.tables import formats

END = pd.Timestamp.max
INSTEAD = "type the right number, or the reason why there is none."


@dataclass(frozen=True)
class Visit:
    """The visit a sheet is for; `id` is "" for one that is still being typed. at : when, NaT where not yet known."""

    id: str
    at: pd.Timestamp
    by: str
    counting: str
    looked_for: tuple[str, ...]
    blind: bool = False

    @property
    def outcomes(self):
        """What is looked for, in the order of the vocabulary: new ones first, those at the end last."""
        known = (*in_order(), *schema.words("outcome", ends_a_seed=False))
        return tuple(w for w in known if w in self.looked_for)

    @property
    def running(self):
        """Whether running totals are written."""
        return self.counting == "cumulative"


@dataclass(frozen=True)
class Sheet:
    """One visit's sheet.

    lines : frame, one row a dish in walking order: unit, code, taxon, treatment, environment, place, sown, single.
    before, last : (n_dishes, n_outcomes) float arrays over all outcomes in `in_order`: seen in all before this visit,
        and as written at the last visit that looked for it; nan where nobody looked.
    saved : {(unit, outcome): row of counts as a dict} of what this visit already holds.
    """

    visit: Visit
    lines: pd.DataFrame = field(repr=False)
    units: pd.DataFrame = field(repr=False)
    before: np.ndarray = field(repr=False)
    last: np.ndarray = field(repr=False)
    saved: dict = field(repr=False)

    def __len__(self):
        return len(self.lines)

    @cached_property
    def names(self):
        """Unit ids in walking order."""
        return self.lines["unit"].tolist()

    unit_title = "Dish"
    sums = True  # what came up and what is left add up in a dish

    @cached_property
    def outcomes(self):
        """All outcomes that the sheet knows of, in the order of `last`."""
        return in_order()

    @cached_property
    def asked(self):
        """Outcomes of dishes that the visit looked for, in order."""
        return tuple(o for o in self.visit.outcomes if o in self.outcomes)

    def judge(self, typed, lines):
        """What is to be said of these lines: see `judge`."""
        return judge(self, typed, lines)

    def rows_to_keep(self, typed, visit):
        """Rows of counts to be saved: see `rows_to_keep`."""
        return rows_to_keep(self, typed, visit)

    def shown_text(self, line, outcome):
        """What the box shows for a saved count: the number, or the reason why there is none."""
        row = self.saved.get((self.names[line], outcome))
        if row is None:
            return ""
        return _text(row["missing"]) if pd.isna(row["count"]) else f"{row['count']:.0f}"


def in_order():
    """All outcomes that end a seed: those counted at every visit first, those taken at the end after them."""
    ways = schema.words("outcome", ends_a_seed=True)
    return sorted(ways, key=lambda w: (at_the_end(w), not schema.word("outcome", w)["germinated"]))


def at_the_end(outcome):
    """Whether an outcome is looked for once, when the test ends."""
    return schema.word("outcome", outcome)["seen"] == "at the end"


def visits_of(facts, trial):
    """The visits of a trial, oldest first."""
    frame = facts["visits"]
    frame = frame[frame["trial_id"].eq(trial).fillna(value=False)]
    frame = frame.assign(at=earliest(frame["visited_at"])).sort_values("at", kind="stable")
    return [visit_from(row) for row in frame.to_dict("records")]


def visit_from(row, counted_as=""):
    """A Visit from a row of visits, typed or stored."""
    at = pd.Timestamp(earliest([_text(row.get("visited_at"))])[0])
    asked = tuple(w.strip() for w in _text(row.get("looked_for")).split(separator().strip()) if w.strip())
    return Visit(_text(row.get("visit_id")), at, _text(row.get("visited_by")), _text(row.get("counting")) or counted_as,
                 asked, row.get("blind") is True)


def separator():
    """What stands between the outcomes that a visit looked for."""
    return schema.word("text_format", schema.table("visits")["looked_for"].parse)["separator"]


def is_last(visit):
    """Whether the visit looked at what did not germinate, as the last one of a test does."""
    return any(at_the_end(o) for o in visit.outcomes)


def trials_of(facts):
    """Ids of the trials that have dishes in use."""
    return of_stage(facts, "germination")["trial"].dropna().unique().tolist()


def of_stage(facts, stage):
    """The view of units in use, those of one stage alone: dishes, or plots and rows."""
    units, mine = facts["units"], facts[dishes_view]
    kinds = schema.words("unit_kind", stage=stage)
    return mine[mine["unit"].isin(units.loc[units["kind"].isin(kinds), "unit_id"])]


def lay_out(facts, trial, visit):
    """The Sheet of a visit, with all dishes of the trial that are in use. facts : Facts of the package."""
    units = facts["units"].set_index("unit_id")
    mine = of_stage(facts, "germination")
    mine = mine[mine["trial"].eq(trial).fillna(value=False)].reset_index(drop=True)
    where = units.loc[mine["unit"], ["code", "grid_row", "grid_column"]].reset_index(drop=True)
    walk = mine.assign(**where).sort_values(["environment", "grid_row", "grid_column", "block", "unit"], kind="stable")
    place = [place_of(r, c, b) for r, c, b in zip(walk["grid_row"], walk["grid_column"], walk["block"], strict=True)]
    lines = walk.assign(place=place, single=walk["seeds_each"].eq(1).to_numpy()).reset_index(drop=True)
    then = visit.at if pd.notna(visit.at) else END
    return Sheet(visit, lines, facts["units"], _seen(facts[new_counts], lines, then, "sum"),
                 _last(facts, lines, then, visit.running), _saved(facts, visit.id))


def place_of(row, column, block):
    """Where a unit lies, as its label says it: row and column, else its block."""
    if pd.isna(row):
        return _text(block)
    return f"{row:.0f} / {column:.0f}" if pd.notna(column) else f"{row:.0f}"


def _seen(counts, dishes, then, how):
    """(n_dishes, n_outcomes) of the counts before `then`: their sum, or the last of them."""
    earlier = counts[(counts["at"] < then) & counts["count"].notna()]
    wide = earlier.groupby(["unit", "outcome"])["count"].agg(how).unstack()  # noqa: PD010 - a plain reshape
    return wide.reindex(index=dishes["unit"], columns=in_order()).to_numpy(float)


def _last(facts, dishes, then, running):
    """What was written last: for running totals the total so far, else the new ones of the last look."""
    return _seen(facts[new_counts], dishes, then, "sum" if running else "last")


def _saved(facts, visit_id):
    """{(unit, outcome): row}; a recount by a second person is left out, as in the view of sheets."""
    mine = facts[sheets]
    lines = mine.index[mine["visit"].eq(visit_id)]
    rows = facts["counts"].loc[lines].to_dict("records")
    return {(r["unit_id"], r["outcome"]): r for r in rows}


def parse(text):
    """A cell as typed -> (number or nan, reason or "", sentence or "").

    A whole number; or, where there is none, the reason why, in a word of the list; blank: not yet typed.
    """
    text = text.strip()
    if text in schema.words("missing_reason"):
        return np.nan, text, ""
    value, sentence = formats.parse(schema.table("counts")["count"], text)
    return (np.nan if value is None else float(value)), "", sentence


def judge(sheet, typed, lines):
    """What is to be said of these lines -> {line: (total, left, {outcome: sentence}, [what is blank and why])}.

    typed : {(unit, outcome): text}, over what is saved.  lines : line numbers.
    total counts all seeds that came up or were taken out so far, nan where nobody looked yet; left is what is still in
    the dish, nan where a seed unit may hold several seeds.
    """
    lines = list(lines)
    now, sentences, reasons = _read(sheet, typed, lines)
    before = sheet.before[lines]
    with_now = _with_today(sheet.visit, before, now)
    total = np.where(np.isnan(with_now).all(axis=1), np.nan, np.nansum(with_now, axis=1))
    part = sheet.lines.iloc[lines]
    left = np.where(part["single"], part["sown"] - np.nan_to_num(total), np.nan)
    for finding, unit, outcome in _found(sheet, part, with_now, before, now):
        at = lines[part["unit"].tolist().index(unit)]
        for box in [outcome] if outcome else _filled(sheet, typed, at):
            sentences[at].setdefault(box, f"{finding.message} {finding.remedy}")
    return {line: (total[i], left[i], sentences[line], reasons[line]) for i, line in enumerate(lines)}


def _read(sheet, typed, lines):
    now = np.full((len(lines), len(in_order())), np.nan)
    sentences, reasons = {line: {} for line in lines}, {line: [] for line in lines}
    column = {w: k for k, w in enumerate(in_order())}
    for i, line in enumerate(lines):
        for outcome in sheet.asked:
            text = typed.get((sheet.names[line], outcome), sheet.shown_text(line, outcome))
            now[i, column[outcome]], reason, sentence = parse(text)
            if (sheet.names[line], outcome) in sheet.saved and not text.strip():
                sentence = f"{sheet.shown_text(line, outcome)} is saved here; {INSTEAD}"
            if sentence:
                sentences[line][outcome] = sentence
            if reason:
                title = schema.word("missing_reason", reason)["title"].lower()
                reasons[line].append(f"{schema.word('outcome', outcome)['title']}: {title}")
    return now, sentences, reasons


def _with_today(visit, before, now):
    """Seen in all with today's: added to what was before, or in its place where running totals are written."""
    if visit.running:
        return np.where(np.isnan(now), before, now)
    return np.where(np.isnan(now), before, np.nan_to_num(before) + now)


def _filled(sheet, typed, line):
    texts = {o: typed.get((sheet.names[line], o), sheet.shown_text(line, o)) for o in sheet.asked}
    boxes = [o for o, text in texts.items() if parse(text)[0] > 0]
    return boxes or list(sheet.asked)


def _found(sheet, part, with_now, before, now):
    """(finding, unit, outcome or "") of the stage's own rules on these lines as they would be."""
    units = sheet.units[sheet.units["unit_id"].isin(part["unit"])]
    ended = pd.DataFrame(with_now, columns=in_order()).assign(unit=part["unit"].to_numpy())
    by_row = dict(zip(units.index + 2, units["unit_id"], strict=True))
    nothing = pd.DataFrame({"unit": pd.Series(dtype=object)})  # a sheet in the making is never taken for running totals
    for finding in more_than_sown.findings({"units": units, ends: ended, rising: nothing}):
        yield finding, by_row[finding.row], ""
    if sheet.visit.running:
        yield from _fallen(part, before, now)


def _fallen(part, before, now):
    i, k = np.nonzero(~np.isnan(before) & ~np.isnan(now))
    unit, outcome = part["unit"].to_numpy()[i], np.array(in_order())[k]
    pair = pd.DataFrame({"unit": unit, "outcome": outcome, "counting": "cumulative"})
    totals = pd.concat([pair.assign(count=before[i, k]), pair.assign(count=now[i, k])], ignore_index=True)
    for finding in cumulative_falls.findings({"counts": totals, sheets: totals}):
        row = totals.iloc[finding.row - 2]
        yield finding, row["unit"], row["outcome"]


def rows_to_keep(sheet, typed, visit):
    """Rows of counts, as text, for every cell that is typed; a blank cell is no row."""
    taxon = dict(zip(sheet.names, sheet.lines["taxon"], strict=True))
    rows = []
    for (unit, outcome), text in typed.items():
        if not text.strip() or unit not in taxon or outcome not in visit.outcomes:
            continue
        _, reason, _ = parse(text)
        old = sheet.saved.get((unit, outcome), {})
        rows.append({
            "visit_id": visit.id, "unit_id": unit, "outcome": outcome, "taxon_id": old.get("taxon_id", taxon[unit]),
            "observer": old.get("observer", visit.by), "count": "" if reason else text, "missing": reason,
        })
    return rows


def day_of(sheet):
    """Days from the first wetting or sowing to the visit, as text; "" where one of them is not known."""
    start = sheet.lines["start"].min()
    if pd.isna(start) or pd.isna(sheet.visit.at):
        return ""
    return f"day {(sheet.visit.at - start) / np.timedelta64(1, 'D'):.0f}"


def _text(value):
    return "" if value is None or pd.isna(value) else str(value)
