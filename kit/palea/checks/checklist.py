"""The reporting checklist, evaluated over a package: what a reader needs to repeat the work, and whether it is there.

How an item is read is written at the top of schema/checklist.json. Each item gives one answer a subject (a lot, a run,
a dish ...); an answer has one of five states, and presence is not quality.
"""

from collections import Counter
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from palea import schema
from palea.derived.factors import done
from palea.derived.facts import Facts
from palea.derived.lookup import texts
from palea.findings import Finding

HEADER_ROWS = 2


class State(StrEnum):
    """What an item of the checklist can be."""

    REPORTED = "reported"
    WITHHELD = "withheld"
    NOT_RECORDED = "not recorded"
    MISSING = "missing"
    NOT_APPLICABLE = "does not apply"


@dataclass(frozen=True)
class Answer:
    """One item of the checklist for one subject.

    where : the table that the answer lives in.  columns : what is blank there.
    subject : id of the lot, run ... asked about; "" for the package.  about : the table of subjects; row : its line there
    as a spreadsheet shows it, None for the package.
    by : who withholds it.  reason : why it was not recorded or does not apply.
    """

    item: str
    stage: str
    weight: str
    question: str
    state: State
    where: str
    subject: str = ""
    about: str = ""
    row: int | None = None
    columns: tuple[str, ...] = ()
    by: str = ""
    reason: str = ""


def evaluate(package):
    """All answers, in the order of the checklist, as a list of Answer."""
    facts = Facts(package)
    return [answer for item in schema.checklist() for answer in _answers(item, facts, package)]


def tally(answers):
    """Counts by stage and weight, in the shape that `palea check --json` prints. Never one number over all of them."""
    places = list(dict.fromkeys((a.stage, a.weight) for a in answers))
    counted = Counter((a.stage, a.weight, a.state) for a in answers)
    rows = []
    for stage, weight in places:
        n = {s.name.lower(): counted[stage, weight, s] for s in State if s is not State.NOT_APPLICABLE}
        rows.append({"stage": stage, "weight": weight, "applicable": sum(n.values())} | n)
    return rows


def gaps(package):
    """A Finding for each item that is due and missing; essential ones say so."""
    for a in evaluate(package):
        if a.state is State.MISSING:
            elsewhere = f"{a.where}: " if a.about and a.where != a.about else ""
            blank = f" ({elsewhere}{', '.join(a.columns)})" if a.columns else ""
            of_whom = f" For {a.subject}." if a.subject else ""
            yield Finding(
                f"checklist.{a.item}", "gap", a.about or a.where or "datapackage.json", a.row,
                "" if elsewhere else ", ".join(a.columns), None,
                f"{a.weight.capitalize()} for a reader, and not said: {a.question}{of_whom}{blank}",
                "Enter it; if it cannot be known any more, say in why_blank that it was not recorded.",
            )


def _answers(item, facts, package):
    subject = item["subject"]
    if not subject:
        return [_of_package(item, facts, package)]
    rows = facts[subject]
    due = _all(item.get("when", ()), rows, facts, subject)
    blank = _blank_beside(item, rows) if not item.get("link") else _blank_elsewhere(item, rows, facts, subject)
    key = schema.table(subject).primary_key[0]
    lacking = rows[np.fromiter(map(bool, blank), bool, len(blank))].to_dict("index")  # most rows lack nothing
    told = zip(rows.index, rows[key], due, blank, strict=True)
    return [_answer(item, line, ident, applies, missing, lacking.get(line), facts) for line, ident, applies, missing in told]


def _answer(item, line, ident, applies, missing, row, facts):
    place = {"subject": str(ident), "about": item["subject"], "row": int(line) + HEADER_ROWS}
    if not applies:
        return _said(item, State.NOT_APPLICABLE, **place, reason="not asked of such a case")
    if not missing:
        return _said(item, State.REPORTED, **place)
    why = _why(row)
    given = [why.get(column, "") for column in missing]
    if all(reason == "not applicable" for reason in given):
        return _said(item, State.NOT_APPLICABLE, **place, columns=missing, reason="said in why_blank")
    if "withheld" in given or _hidden(row, facts):
        return _said(item, State.WITHHELD, **place, columns=missing, by=_by_whom(row, facts))
    if all(given):
        return _said(item, State.NOT_RECORDED, **place, columns=missing, reason=", ".join(dict.fromkeys(given)))
    return _said(item, State.MISSING, **place, columns=missing)


def _said(item, state, **more):
    return Answer(item["id"], item["stage"], item["weight"], item["question"], state, item["table"], **more)


def _of_package(item, facts, package):
    if item.get("property"):
        filled = bool(package.descriptor.get(item["property"]))
        return _said(item, State.REPORTED if filled else State.MISSING, columns=() if filled else (item["property"],))
    rows = facts[item["table"]]
    rows = rows[_all(item.get("having", ()), rows, facts, item["table"])]
    blank = tuple(c for c in item["columns"] if rows.empty or rows[c].isna().any())
    return _said(item, State.MISSING if blank else State.REPORTED, columns=blank)


def _blank_beside(item, rows):
    """Blank columns of each row itself, as tuples."""
    wanted = _columns(item, rows)
    empty = {c: rows[c].isna().to_numpy(dtype=bool) for c in set().union(*wanted)}
    return [tuple(c for c in columns if empty[c][at]) for at, columns in enumerate(wanted)]


def _columns(item, rows):
    """The columns that are asked of each row."""
    source = item.get("columns_from")
    if not source:
        return [item["columns"]] * len(rows)
    words = schema.vocabulary(source["vocabulary"]).words
    return [words.get(word, {}).get(source["property"], ()) for word in rows[source["column"]].tolist()]


def _blank_elsewhere(item, rows, facts, subject):
    """Blank columns among the rows of another table that belong to each row, as tuples; all where there is none."""
    other = facts[item["table"]]
    link, columns = item["link"], list(item["columns"])
    other = other[_all(item.get("having", ()), other, facts, item["table"])]
    if item.get("link_via"):
        between = facts[item["link_via"]]
        shared = schema.table(item["link_via"]).primary_key[0]
        other = other.assign(**{link: texts(other[shared], between.set_index(shared)[link])})
    worst = other[columns].isna().groupby(other[link]).any()
    ids = rows[item.get("link_from") or schema.table(subject).primary_key[0]]
    found = worst.to_dict("index")
    return [tuple(c for c in columns if found.get(i, {}).get(c, True)) for i in ids]


def _all(conditions, rows, facts, table):
    """Which rows fulfil every condition, as an array of truth."""
    kept = np.ones(len(rows), dtype=bool)
    for condition in conditions:
        kept &= _one(condition, _column(condition, rows, facts, table))
    return kept


def _column(condition, rows, facts, table):
    via = condition.get("via")
    if not via:
        return rows[condition["column"]]
    key = schema.table(table).link(via)
    return texts(rows[via], facts[key.table].set_index(key.to[0])[condition["column"]])


def _one(condition, values):
    if "in" in condition:
        return values.isin(list(condition["in"])).to_numpy(dtype=bool)
    if "filled" in condition:
        return (values.notna() == condition["filled"]).to_numpy(dtype=bool)
    return (values < condition["below"]).fillna(value=False).to_numpy(dtype=bool)


def _why(row):
    """{column: reason word} from the row's own why_blank, written `column: reason; column: reason`."""
    said = row.get("why_blank")
    pairs = [part.partition(":") for part in said.split(";")] if isinstance(said, str) else []
    return {column.strip(): reason.strip() for column, _, reason in pairs}


def _hidden(row, facts):
    """Whether the row, or its run, says that its recipe is kept back."""
    hides = schema.words("disclosure", needs_name=True)
    if row.get("disclosure") in hides:
        return True
    run = row.get("run_id")
    runs = facts["runs"]
    return isinstance(run, str) and bool(runs.loc[runs["run_id"].eq(run), "disclosure"].isin(hides).any())


def _by_whom(row, facts):
    """Who keeps it back: named in the row, else the contractor of its run."""
    for column in ("withheld_by", "contractor"):
        if isinstance(row.get(column), str):
            return row[column]
    runs = facts["runs"]
    named = runs.loc[runs["run_id"].isin(_runs_of(row, facts)), "contractor"].dropna()
    return str(named.iloc[0]) if len(named) else "not named"


def _runs_of(row, facts):
    """The run that a row names, or the runs with a hidden recipe behind a treatment."""
    if isinstance(row.get("run_id"), str):
        return [row["run_id"]]
    behind = facts[done]
    return "".join(behind.loc[behind["treatment"].eq(row.get("treatment_id") or ""), "hidden"]).split(" + ")
