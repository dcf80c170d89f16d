"""Written procedures, and runs that say that they follow one."""

import pandas as pd

from palea import schema
from palea.checks.examples import lot, run, several, stepped
from palea.checks.rule import rule
from palea.derived.lookup import TEXT
from palea.derived.spoken import surely_before, unsaid

KEYS = ["protocol_id", "version"]
LOWEST, HIGHEST = "lowest_", "highest_"


def _run(**more):
    return several(lot("AV-0"), lot("AV-1"), run("R1", "AV-0", "AV-1", protocol_id="P-1", version="2", **more))


def _protocol(**more):
    return {"protocols": [{"protocol_id": "P-1", "version": "2", "title": "Brush"} | more]}


def _asks(**more):
    return {"protocol_steps": [{"protocol_id": "P-1", "version": "2", "step": 1, "action": "brush"} | more]}


def _limited():
    """Columns of a step that a procedure sets limits to."""
    return [f.removeprefix(LOWEST) for f in schema.table("protocol_steps").fields if f.startswith(LOWEST)]


@rule(
    "cleaning.outside-protocol", severity="warning", reads=("run_steps", "runs", "protocol_steps"), at="run_steps.action",
    says="Run {run_id}, step {step} ({action}): {what}, and no deviation is noted. Procedure {protocol_id} version {version} "
    "allows {allowed}.",
    remedy="Enter the deviation and its reason beside the step, or correct the value.",
    fires=several(_run(), _protocol(), _asks(lowest_duration_s=60, highest_duration_s=120),
                  stepped("R1", {"action": "brush", "duration_s": 300.0})),
    nearly=several(_run(), _protocol(), _asks(lowest_duration_s=60, highest_duration_s=120),
                   stepped("R1", {"action": "brush", "duration_s": 120.0}, {"action": "brush", "duration_s": 300.0})),
)  # fmt: skip
def outside_protocol(run_steps, runs, protocol_steps):
    """A step of the same number and action is within the limits of the procedure, or says that it is not."""
    followed = runs.drop_duplicates("run_id")[["run_id", *KEYS, "deviations"]].rename(columns={"deviations": "of_run"})
    done = run_steps.rename_axis("line").reset_index().merge(followed, on="run_id")
    asked = protocol_steps.drop_duplicates([*KEYS, "step"])
    both = done.merge(asked, on=[*KEYS, "step", "action"], suffixes=("", "_planned")).set_index("line")
    if both.empty:
        return None
    quiet = both["deviation"].isna() & (both["of_run"].isna() | both["of_run"].str.casefold().eq("none"))
    both = both[quiet.fillna(value=False)]
    what, allowed = (pd.Series("", index=both.index, dtype=TEXT) for _ in range(2))
    for column in _limited():
        off = _outside(both, column)
        field = schema.table("run_steps")[column]
        title = ", ".join(filter(None, (field.title.lower(), field.symbol)))
        what = what.mask(off & (what == ""), title + " is " + _number(both[column]))
        span = _number(both[LOWEST + column]) + " to " + _number(both[HIGHEST + column])
        allowed = allowed.mask(off & (allowed == ""), span)
    return both.assign(what=what, allowed=allowed)[what != ""]


def _outside(both, column):
    """Where a value is beyond a limit; amounts only where they are in the same unit and basis."""
    off = (both[column] < both[LOWEST + column]) | (both[column] > both[HIGHEST + column])
    if column != "amount":
        return off
    like = both["unit"].eq(both["unit_planned"]) & both["basis"].eq(both["basis_planned"])
    return off & like.fillna(value=False)


def _number(values):
    return values.map("{:g}".format).astype(TEXT).replace("nan", "any")


@rule(
    "cleaning.protocol-limits", severity="error", reads=("protocol_steps",), at="protocol_steps.step",
    says="Procedure {protocol_id} version {version}, step {step}: {what}.",
    remedy="Swap the two limits, or correct the planned value.",
    fires=several(_protocol(), _asks(lowest_duration_s=120, highest_duration_s=60)),
    nearly=several(_protocol(), _asks(lowest_duration_s=60, duration_s=60, highest_duration_s=120)),
)  # fmt: skip
def protocol_limits(protocol_steps):
    """The lowest allowed value is not above the highest, and what is planned lies between."""
    what = pd.Series("", index=protocol_steps.index, dtype=TEXT)
    for column in _limited():
        low, high, planned = (protocol_steps[side + column] for side in (LOWEST, HIGHEST, ""))
        title = schema.table("protocol_steps")[column].title.lower()
        swapped, beyond = low > high, (planned < low) | (planned > high)
        what = what.mask(swapped & (what == ""), f"its lowest {title} is above its highest")
        what = what.mask(beyond & (what == ""), f"its planned {title} is outside its own limits")
    return protocol_steps.assign(what=what)[what != ""]


@rule(
    "cleaning.protocol-without-version", severity="gap", reads=("runs",), at="runs.version",
    says="Run {run_id} follows procedure {protocol_id}, and nothing says which version of it.",
    remedy="Enter the version that lay on the bench.",
    fires=several(lot("AV-0"), lot("AV-1"), run("R1", "AV-0", "AV-1", protocol_id="P-1")), nearly=_run(),
)  # fmt: skip
def protocol_without_version(runs):
    """Procedures change; a run follows one version."""
    return runs[runs["protocol_id"].notna() & unsaid(runs, "version")]


def _followed(runs, protocols):
    """Runs with what their procedure says of itself; the index is that of runs."""
    named = protocols.drop_duplicates(KEYS)[[*KEYS, "run_kind", "issued_on"]]
    return runs.rename_axis("line").reset_index().merge(named, on=KEYS, how="inner").set_index("line")


@rule(
    "cleaning.protocol-of-other-kind", severity="warning", reads=("runs", "protocols"), at="runs.protocol_id",
    says="Run {run_id} is to {kind}, but procedure {protocol_id} version {version}, which it names, is to {run_kind}.",
    remedy="Name the procedure that was followed, or correct the kind of run.",
    fires=several(_run(), _protocol(run_kind="coat")), nearly=several(_run(), _protocol(run_kind="clean")),
)  # fmt: skip
def protocol_of_other_kind(runs, protocols):
    """A cleaning run follows a procedure for cleaning."""
    told = _followed(runs, protocols)
    return told[told["run_kind"].ne(told["kind"]).fillna(value=False)]


@rule(
    "cleaning.protocol-not-yet-issued", severity="warning", reads=("runs", "protocols"), at="runs.version",
    says="Run {run_id} began on {started_at} by version {version} of procedure {protocol_id}, which holds since {issued_on}.",
    remedy="Was it done by the version before, or as a trial of this one? Correct it, or say so in the deviations.",
    fires=several(_run(), _protocol(issued_on="2025-03-01")), nearly=several(_run(), _protocol(issued_on="2025-02")),
)  # fmt: skip
def protocol_not_yet_issued(runs, protocols):
    """A version is followed after it was issued."""
    told = _followed(runs, protocols)
    return told[surely_before(told["started_at"], told["issued_on"])]


RULES = (outside_protocol, protocol_limits, protocol_without_version, protocol_of_other_kind, protocol_not_yet_issued)
