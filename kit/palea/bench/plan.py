"""The plan of a trial: units laid out by chance from a seed, locked with time and hash; later edits are changes to the plan.

The layout is a recipe's answer; here it becomes rows of `units`. The hash covers what the trial sets out to do (units,
contrasts, outcomes, factors), so that anybody can see whether the plan that stands is the plan that was locked.
"""

import json
from dataclasses import dataclass

from palea import schema
from palea.analyses.planning import LAYOUT
from palea.bench import entry
from palea.calc.results import Layout, Refusal
from palea.derived.facts import plain
from palea.errors import EntryError
from palea.tables import fingerprints
from palea.words.prose import inside

PLANNED = {  # table: how its rows are told to be of a trial
    "units": "trial_id", "contrasts": "trial_id", "trial_outcomes": "trial_id", "trial_factors": "trial_id", "trials": "trial_id",
}  # fmt: skip
NOT_PLAN = ("status", "reason", "decided_at", "outcome_known", "notes", "locked_at", "first_wetted_at", "placed_at")
LOCKED = "Plan locked, "


@dataclass(frozen=True)
class LaidOut:
    """layout : the Layout, to be shown and drawn.  proposal : its units as rows, not yet kept.  names : of treatments."""

    layout: Layout
    proposal: entry.Proposal


def lay_out(package, trial, lots, *, environment="", kind="plot", seeds=0, design="randomised blocks", repeats=4, seed=1,
            columns=0, block_size=0, mains="", main_factor=""):  # fmt: skip
    """Lay the treatments of a trial out on units -> LaidOut. Nothing is written.

    lots : {treatment: [lots]}; where there are several lots of a treatment (its batches), its units take them in turn; a
    treatment without a lot is unsown.  kind : a word of unit_kind.  seeds : seed units a unit.  mains : for a split plot,
    what whole main plots get, separated by semicolons, and main_factor the factor that those are levels of.
    Raises EntryError where the trial is unknown, has units already, or the design cannot hold the treatments.
    """
    _known_trial(package, trial)
    if package["units"]["trial_id"].eq(trial).fillna(value=False).any():
        msg = f"Trial {trial} has units already. A plan is laid out once; change single units in the table, with a reason."
        raise EntryError(msg)
    given = {"treatments": "; ".join(lots), "mains": mains, "design": design, "repeats": repeats, "block_size": block_size,
             "columns": columns, "seed": seed}  # fmt: skip
    layout = LAYOUT.compute(**LAYOUT.settle(given))
    if isinstance(layout, Refusal):
        msg = f"{layout.missing} {layout.remedy}".strip()
        raise EntryError(msg)
    rows = _unit_rows(layout.units, trial, lots, environment=environment, kind=kind, seeds=seeds)
    drawn = {"trial_id": trial, "design": design, "allocation_method": layout.algorithm,
             "allocation_version": str(layout.version), "random_seed": str(seed)}  # fmt: skip
    proposal = entry.propose(package, "trials", [drawn])
    if mains:
        rows, levels = _with_main_plots(rows, layout.units, trial, environment, main_factor)
        proposal = proposal.then("units", rows).then("unit_levels", levels)
    else:
        proposal = proposal.then("units", rows)
    return LaidOut(layout, proposal)


def plan_hash(package, trial):
    """"sha256:..." over what the trial sets out to do; what happens to a unit later is no part of it."""
    told = {}
    for table, column in PLANNED.items():
        known, frame = schema.table(table), package[table]
        told[table] = (known, frame[frame[column].eq(trial).fillna(value=False)], [c for c in known.fields if c not in NOT_PLAN])
    return fingerprints.of(told)


def lock(package, trial, stamp):
    """Lock the plan of a trial: its time is kept, and its hash in the journal -> the package, opened anew.

    Raises EntryError where it is locked already, or where there is nothing to lock.
    """
    row = _known_trial(package, trial)
    if isinstance(row["locked_at"], str):
        msg = f"The plan of {trial} is locked since {row['locked_at']}. What is changed now is a change to the plan."
        raise EntryError(msg)
    if not package["units"]["trial_id"].eq(trial).fillna(value=False).any():
        msg = f"Trial {trial} has no units yet. Lay it out first; a plan without units holds nobody to anything."
        raise EntryError(msg)
    proposal = entry.propose(package, "trials", [{"trial_id": trial, "locked_at": stamp.when}])
    return entry.save(proposal, stamp, "entry", f"{LOCKED}{trial}, {plan_hash(package, trial)}.")


def locked_as(package, trial):
    """(when, hash) of the plan as it was locked, from the journal; ("", "") where it never was."""
    head = f"{LOCKED}{trial}, "
    for line in package.journal():
        words = line.get("words") or ""
        if words.startswith(head):
            return line["when"], words.removeprefix(head).rstrip(".")
    return "", ""


def changes_to(package, trial):
    """Yield a sentence a change to the plan since it was locked, with who, when and why."""
    when, _ = locked_as(package, trial)
    if not when:
        return
    own = _own_keys(package, trial)
    begun = False
    for line in package.journal():
        begun = begun or (line.get("words") or "").startswith(f"{LOCKED}{trial}, ")
        if not begun or line.get("table") not in PLANNED or line.get("column") in NOT_PLAN:
            continue
        if (line.get("words") or "").startswith(LOCKED) or not _is_of(line, own):
            continue
        yield _told(line)


def stands(package, trial):
    """Whether the plan is still the one that was locked; None where it never was."""
    _, was = locked_as(package, trial)
    return plan_hash(package, trial) == was if was else None


def _known_trial(package, trial):
    rows = plain(package["trials"])
    mine = rows[rows["trial_id"].eq(trial)]
    if mine.empty:
        known = ", ".join(rows["trial_id"].dropna()) or "none"
        msg = f"There is no trial “{trial}”. There are: {known}. Open it first, with its question and outcomes."
        raise EntryError(msg)
    return mine.iloc[0]


def _unit_rows(units, trial, lots, *, environment, kind, seeds):
    """Rows of units in walking order; codes follow the walk, so that they do not tell the treatment."""
    letter, width = kind[0].upper(), len(str(len(units)))
    turn, rows = {}, []
    for unit in units.to_dict("records"):
        treatment = unit["treatment"]
        number = turn[treatment] = turn.get(treatment, 0) + 1
        own = [lot for lot in lots[treatment] if lot]
        rows.append({
            "unit_id": f"{trial}-{treatment}-{number:02d}", "trial_id": trial, "kind": kind, "treatment_id": treatment,
            "lot_id": own[(number - 1) % len(own)] if own else "", "environment_id": environment,
            "block": str(unit["block"]) if unit["block"] else "", "grid_row": str(unit["row"]), "grid_column": str(unit["column"]),
            "code": f"{letter}{unit['unit']:0{width}d}", "sown_n": str(seeds) if own else "0",
            "seeds_each": "1" if own else "", "status": "in use",
        })  # fmt: skip
    return rows


def _with_main_plots(rows, units, trial, environment, factor):
    """Rows of main plots before those of their subplots, and the level that each main plot gets."""
    if not factor:
        msg = "Name the factor that whole main plots get, as fence, with --main-factor."
        raise EntryError(msg)
    mains, levels = [], []
    for number, part in units.groupby("main_plot", sort=True):
        identity = f"{trial}-main-{number:02d}"
        first = part.iloc[0]
        mains.append({"unit_id": identity, "trial_id": trial, "kind": "main plot", "environment_id": environment,
                      "block": str(first["block"]), "status": "in use"})  # fmt: skip
        levels.append({"unit_id": identity, "factor": factor, "level": first["main"]})
    parent = {unit: f"{trial}-main-{main:02d}" for unit, main in zip(units["unit"], units["main_plot"], strict=True)}
    subplots = [{**row, "parent_unit_id": parent[unit]} for row, unit in zip(rows, units["unit"], strict=True)]
    return [*mains, *subplots], levels


def _own_keys(package, trial):
    """{table: keys of the rows of a trial} as they stand now."""
    found = {}
    for table, column in PLANNED.items():
        frame = package[table]
        mine = frame[frame[column].eq(trial).fillna(value=False)]
        found[table] = {tuple(map(str, key)) for key in mine[list(schema.table(table).primary_key)].to_numpy().tolist()}
    return found | {"": trial}


def _is_of(line, own):
    """Whether a journal line is about the trial: by the key of a row that is there, or by what the row said."""
    if line["kind"] == "changed":
        return tuple(map(str, json.loads(line["row"]))) in own[line["table"]]
    said = json.loads(line.get("new") or line.get("old") or "{}")
    return not isinstance(said, dict) or said.get("trial_id", own[""]) == own[""]


def _told(line):
    title = inside(schema.table(line["table"]).title)
    row = line["row"] if line["row"].startswith("{") else ", ".join(map(str, json.loads(line["row"])))
    why = "; ".join(filter(None, (schema.word("change_reason", line["reason"])["title"], line.get("words"))))
    what = {"added": "a row was added", "removed": "a row was taken away"}.get(line["kind"])
    if what is None:
        column, old, new = schema.table(line["table"])[line["column"]], line.get("old"), line.get("new")
        what = f"{column.title} was {old or 'blank'} and is {new or 'blank'}"
    return f"{line['when'][:16].replace('T', ' ')}, {line['who']}: {title}, {row}: {what} ({why})."
