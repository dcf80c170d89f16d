"""What the count sheet of one visit to the field holds: plots and rows in walking order, what stood there last, what is wrong.

A line is a plot and a species: wild seedlings of another species are counted beside and kept apart. Standing plants, new
ones and dead ones are three things, each in a box of its own. What is wrong with a line is said by the rules of the field
stage themselves, run on the plots in question alone.
"""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import pandas as pd

from palea import schema
from palea.checks.field.standing import RULES
from palea.derived.counting import sheets
from palea.derived.facts import Facts
from palea.panels import dishes

OUTDOORS = "field"
BESIDE = tuple(r for r in RULES if r.severity != "gap" and r.table != "visits")  # what can be told of one line, and at once
THIS = "now"  # the visit that is still being typed
KEYS = ["visit_id", "unit_id", "outcome", "taxon_id", "observer", "count"]


@dataclass(frozen=True)
class Sheet:
    """One visit's sheet.

    lines : frame, one row a plot and species in walking order: name, unit, code, taxon, treatment, environment, place,
    sown, single.  last : (n_lines, n_outcomes) array of what was written last, in the order of `outcomes`.
    saved : {(name, outcome): row of counts as a dict} of what this visit already holds.  facts : of the whole package.
    """

    visit: dishes.Visit
    lines: pd.DataFrame = field(repr=False)
    last: np.ndarray = field(repr=False)
    saved: dict = field(repr=False)
    facts: Facts = field(repr=False)
    unit_title = "Plot"
    sums = False  # standing plants are not new ones, so nothing adds up over visits

    def __len__(self):
        return len(self.lines)

    @cached_property
    def outcomes(self):
        """All outcomes that the sheet knows of, in the order of `last`."""
        return field_outcomes()

    @cached_property
    def asked(self):
        """Outcomes of the field that the visit looked for, in order."""
        return tuple(o for o in self.visit.outcomes if o in self.outcomes)

    @cached_property
    def elsewhere(self):
        """Rows of counts of other visits to these plots, and {unit: positions in them}: looked into at every key stroke."""
        counts = self.facts["counts"]
        mine = counts["unit_id"].isin(self.lines["unit"]) & counts["visit_id"].ne(self.visit.id)
        others = counts[mine.fillna(value=False)].reset_index(drop=True)
        return others, others.groupby("unit_id").indices

    @cached_property
    def visits(self):
        """Rows of visits: those at which these plots were counted, and this one as it would be."""
        visits, visit = self.facts["visits"], self.visit
        earlier = visits[visits["visit_id"].ne(visit.id or THIS) & visits["visit_id"].isin(self.elsewhere[0]["visit_id"].unique())]
        at = "9999-12-31" if pd.isna(visit.at) else f"{visit.at:%Y-%m-%dT%H:%M}"
        rule = "spacing" if {"removed", "kept"} & set(self.asked) else None
        mine = {"visit_id": visit.id or THIS, "visited_at": at, "visited_by": visit.by, "counting": visit.counting,
                "thinning_rule": rule, "looked_for": "; ".join(visit.outcomes)}  # fmt: skip
        row = pd.DataFrame([{c: mine.get(c) for c in visits.columns}]).astype(visits.dtypes.to_dict())
        return pd.concat([earlier, row], ignore_index=True)

    @cached_property
    def names(self):
        """What each line is called, in walking order: its plot, and the species where a plot has several."""
        return self.lines["name"].tolist()

    def shown_text(self, line, outcome):
        """What the box shows for a saved count: the number, or the reason why there is none."""
        row = self.saved.get((self.names[line], outcome))
        if row is None:
            return ""
        return str(row["missing"]) if pd.isna(row["count"]) else f"{row['count']:.0f}"

    def judge(self, typed, lines):
        """What is to be said of these lines -> {line: (nan, nan, {outcome: sentence}, [what is blank and why])}.

        typed : {(name, outcome): text}, over what is saved. There is no total in a plot: standing plants are not new ones.
        """
        lines = list(lines)
        told, reasons, counts = {n: {} for n in lines}, {n: [] for n in lines}, []
        for line in lines:
            for outcome in self.asked:
                text = typed.get((self.names[line], outcome), self.shown_text(line, outcome))
                value, reason, sentence = dishes.parse(text)
                if sentence:
                    told[line][outcome] = sentence
                elif (self.names[line], outcome) in self.saved and not text.strip():
                    told[line][outcome] = f"{self.shown_text(line, outcome)} is saved here; {dishes.INSTEAD}"
                if reason:
                    title = schema.word("missing_reason", reason)["title"].lower()
                    reasons[line].append(f"{schema.word('outcome', outcome)['title']}: {title}")
                counts.append((line, outcome, value))
        for line, outcome, sentence in self._found(counts):
            told[line].setdefault(outcome, sentence)
        return {line: (np.nan, np.nan, told[line], reasons[line]) for line in lines}

    def rows_to_keep(self, typed, visit):
        """Rows of counts, as text, for every cell that is typed; a blank cell is no row."""
        place = {name: n for n, name in enumerate(self.names)}
        rows = []
        for (name, outcome), text in typed.items():
            if not text.strip() or name not in place or outcome not in visit.outcomes:
                continue
            line, (_, reason, _) = self.lines.iloc[place[name]], dishes.parse(text)
            old = self.saved.get((name, outcome), {})
            rows.append({
                "visit_id": visit.id, "unit_id": line["unit"], "outcome": outcome, "taxon_id": line["taxon"],
                "observer": old.get("observer", visit.by), "count": "" if reason else text, "missing": reason,
            })
        return rows

    def _found(self, counts):
        """(line, outcome, sentence) of the stage's rules on these plots as they would be."""
        now = [(line, outcome, value) for line, outcome, value in counts if not np.isnan(value)]
        if not now:
            return
        would = _as_they_would_be(self, now)
        at = dict(zip(would.rows, now, strict=True))
        for rule in BESIDE:
            for finding in rule.findings(would.facts):
                line, outcome = at.get(_row_of(finding, would), (None, None, None))[:2]
                if line is not None:
                    yield line, outcome, f"{finding.message} {finding.remedy}"


@dataclass(frozen=True)
class Would:
    """facts : of the plots in question with today's counts.  rows : spreadsheet rows of those counts, in order."""

    facts: Facts
    rows: tuple[int, ...]


def field_outcomes():
    """Outcomes of plots and rows, as they stand on a sheet: who came up, who stands, who died, and the rest."""
    return schema.words("outcome", stage=OUTDOORS)


def trials_of(facts):
    """Ids of the trials that have plots or rows in use."""
    units = facts["units"]
    kinds = schema.words("unit_kind", stage=OUTDOORS)
    mine = units[units["kind"].isin(kinds) & units["treatment_id"].notna()]
    return mine["trial_id"].dropna().unique().tolist()


def lay_out(facts, trial, visit):
    """The Sheet of a visit, with all plots and rows of the trial that are in use. facts : Facts of the package."""
    units = facts["units"]
    out = schema.words("unit_status", counts=False)
    kinds = schema.words("unit_kind", stage=OUTDOORS)
    mine = units[units["trial_id"].eq(trial).fillna(value=False) & units["kind"].isin(kinds) & units["treatment_id"].notna()]
    mine = mine[~mine["status"].isin(out)].sort_values(["environment_id", "grid_row", "grid_column", "block", "unit_id"])
    lines = _with_species(facts, mine)
    then = visit.at if pd.notna(visit.at) else dishes.END
    seen = facts[sheets]
    seen = seen[(seen["at"] < then) & seen["count"].notna()]
    return Sheet(visit, lines, _last(seen, lines), _saved(facts, visit.id, lines), facts)


def _with_species(facts, units):
    """One row a plot and species: that which was sown, and those that were counted there before; in unsown plots all."""
    own = units.assign(taxon=units["lot_id"].map(facts["lots"].drop_duplicates("lot_id").set_index("lot_id")["taxon_id"]))
    sown = own["taxon"].dropna().unique().tolist()
    counted = facts["counts"]
    counted = counted[counted["unit_id"].isin(units["unit_id"])].groupby("unit_id")["taxon_id"].unique()
    species = [
        list(dict.fromkeys([*([t] if isinstance(t, str) else sown if u not in counted else []), *sorted(counted.get(u, []))]))
        for u, t in zip(own["unit_id"], own["taxon"], strict=True)
    ]
    rows = own.assign(species=species).explode("species").dropna(subset=["species"]).reset_index(drop=True)
    several = rows["unit_id"].duplicated(keep=False)
    place = [dishes.place_of(r, c, b) for r, c, b in zip(rows["grid_row"], rows["grid_column"], rows["block"], strict=True)]
    return pd.DataFrame({
        "name": rows["unit_id"].where(~several, rows["unit_id"] + " " + rows["species"]), "unit": rows["unit_id"],
        "code": rows["code"].where(~several, rows["code"] + " " + rows["species"]), "taxon": rows["species"],
        "treatment": rows["treatment_id"], "environment": rows["environment_id"].fillna(""), "place": place,
        "sown": rows["sown_n"].where(rows["taxon"].eq(rows["species"])), "single": False,
        "start": pd.to_datetime(rows["placed_at"].str[:10], errors="coerce"),
    })  # fmt: skip


def _last(seen, lines):
    """(n_lines, n_outcomes) of what was written last."""
    wide = seen.groupby(["unit", "taxon", "outcome"])["count"].agg("last").unstack()  # noqa: PD010 - a plain reshape
    at = pd.MultiIndex.from_frame(lines[["unit", "taxon"]])
    return wide.reindex(index=at, columns=field_outcomes()).to_numpy(float)


def _saved(facts, visit_id, lines):
    """{(name, outcome): row} of what the visit holds; a recount by a second person is left out."""
    seen = facts[sheets]
    rows = facts["counts"].loc[seen.index[seen["visit"].eq(visit_id)]]
    names = dict(zip(zip(lines["unit"], lines["taxon"], strict=True), lines["name"], strict=True))
    found = {(names.get((r["unit_id"], r["taxon_id"])), r["outcome"]): r for r in rows.to_dict("records")}
    return {key: row for key, row in found.items() if key[0] is not None}


def _as_they_would_be(sheet, now):
    """The plots in question, all their counts and today's, as Facts of their own."""
    facts, part = sheet.facts, sheet.lines.iloc[sorted({line for line, _, _ in now})]
    others, at = sheet.elsewhere
    lines = [at[u] for u in part["unit"].unique() if u in at]
    kept = others.iloc[np.sort(np.concatenate(lines))] if lines else others.iloc[:0]
    unit, taxon = sheet.lines["unit"].tolist(), sheet.lines["taxon"].tolist()
    visit = sheet.visit.id or THIS
    today = pd.DataFrame([(visit, unit[n], o, taxon[n], sheet.visit.by, v) for n, o, v in now], columns=KEYS)
    counts = pd.concat([kept, today], ignore_index=True).astype({c: others[c].dtype for c in KEYS})
    units = facts["units"]
    tables = {"counts": counts, "visits": sheet.visits, "units": units[units["unit_id"].isin(part["unit"])]}
    first = len(kept) + 2
    return Would(Facts(_Over(tables, facts)), tuple(range(first, first + len(today))))


class _Over:
    """Tables of which some are given, and the rest are those of other facts."""

    def __init__(self, tables, below):
        self._tables, self._below = tables, below

    def __getitem__(self, name):
        return self._tables[name] if name in self._tables else self._below[name]


def _row_of(finding, would):
    """The row of today's counts that a finding is about; a finding on a plot is told at its first count."""
    if finding.table == "counts":
        return finding.row
    units, counts = would.facts["units"], would.facts["counts"]
    if finding.table != "units" or finding.row is None:
        return None
    unit = units["unit_id"].loc[finding.row - 2]
    mine = counts.index[counts["unit_id"].eq(unit)] + 2
    return next((row for row in would.rows if row in mine), None)
