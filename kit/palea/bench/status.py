"""How things stand: what lots hold, which trials run and what is due next, which stages have no record yet."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from palea import schema
from palea.bench import planned_days
from palea.calc.spans import earliest
from palea.checks import by_treatment, checklist
from palea.derived.counting import dishes
from palea.derived.facts import Facts
from palea.derived.ledger import stock
from palea.derived.lookup import numbers, texts

DAY = np.timedelta64(1, "D")


@dataclass(frozen=True)
class Status:
    """lots, trials, stages, checklist, treatments: lists of plain mappings, each a row to print or to write as JSON."""

    lots: tuple[dict, ...]
    trials: tuple[dict, ...]
    stages: tuple[dict, ...]
    checklist: tuple[dict, ...]
    treatments: tuple[dict, ...]


def status(package):
    """The Status of a package."""
    facts = Facts(package)
    answers = checklist.evaluate(package)
    return Status(
        lots=_rows(_lots(facts)),
        trials=_rows(_trials(facts)),
        stages=tuple(_stages(package)),
        checklist=tuple(checklist.tally(answers)),
        treatments=tuple(by_treatment.tally(package, answers)),
    )


def _rows(frame):
    return tuple({k: None if pd.isna(v) else v for k, v in row.items()} for row in frame.to_dict("records"))


def _lots(facts):
    """One row a lot: what is left of it by the book, and what was last weighed."""
    lots, held = facts["lots"], facts[stock].set_index("lot")
    weighed = facts["movements"][lambda m: m["kind"].eq("weighed") & m["mass_g"].notna()]
    last = weighed.assign(at=earliest(weighed["moved_at"])).sort_values("at", kind="stable")
    last = last.drop_duplicates("lot_id", keep="last").set_index("lot_id")
    return pd.DataFrame(
        {
            "lot_id": lots["lot_id"], "taxon_id": lots["taxon_id"], "seed_unit": lots["seed_unit"], "status": lots["status"],
            "keep_sample": lots["fraction"].eq("keep-sample").fillna(value=False),
            "left_g": numbers(lots["lot_id"], held["mass_g"]).round(4),
            "left_seed_units": numbers(lots["lot_id"], held["seed_units"]),
            "weighed_g": numbers(lots["lot_id"], last["mass_g"]), "weighed_at": texts(lots["lot_id"], last["moved_at"]),
        }
    )  # fmt: skip


def _trials(facts):
    """One row a trial: its units, its last visit, and the next day on which it is to be looked at or something is judged."""
    trials, units, seen = facts["trials"], facts["units"], facts["visits"]
    last = (
        seen.assign(at=earliest(seen["visited_at"]))
        .sort_values("at", kind="stable")
        .drop_duplicates("trial_id", keep="last")
    )
    last = last.set_index("trial_id")
    start = facts[dishes].groupby("trial")["start"].min()
    told = pd.DataFrame(
        {
            "trial_id": trials["trial_id"], "title": trials["title"], "status": trials["status"],
            "units": numbers(trials["trial_id"], units.groupby("trial_id").size()).fillna(0),
            "visits": numbers(trials["trial_id"], seen.groupby("trial_id").size()).fillna(0),
            "last_visit": texts(trials["trial_id"], last["visited_at"]),
        }
    )  # fmt: skip
    due = [_next(_days(facts, t), start.get(t), last["at"].get(t)) for t in told["trial_id"]]
    return told.assign(next_day=[day for day, _ in due], next_on=[on for _, on in due])


def _days(facts, trial):
    """Days from the start that the plan of a trial names, in order: of visits, and on which an outcome is judged."""
    outcomes = facts["trial_outcomes"]
    judged = outcomes.loc[outcomes["trial_id"].eq(trial), "at_day"].dropna().astype(int)
    return sorted({*judged, *planned_days.written(facts, trial, "visit_days")})


def _next(days, start, last):
    """(day, date) of the next of these days that no visit has reached yet; (None, None) where none is due."""
    if start is None or pd.isna(start):
        return None, None
    reached = (last - start) / DAY if last is not None and pd.notna(last) else -1
    day = next((d for d in days if d > np.ceil(reached)), None)
    return (None, None) if day is None else (int(day), str(start + int(day) * DAY)[:10])


def _stages(package):
    """One row a stage: how many rows its tables hold, and which of them are empty."""
    for stage in schema.words("stage"):
        tables = [n for n, t in schema.tables().items() if t.stage == stage and n != "journal"]
        filled = {n: len(package[n]) for n in tables}
        yield {
            "stage": stage, "rows": sum(filled.values()), "tables": filled, "empty": [n for n, rows in filled.items() if not rows],
        }  # fmt: skip
