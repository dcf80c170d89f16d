"""Runs: when, by whom, with what precautions, and what became of the seed."""

from palea import schema
from palea.calc.spans import days_between
from palea.checks.examples import lot, moved, run, several, stepped
from palea.checks.rule import rule
from palea.derived.hazards import dangers
from palea.derived.lookup import texts
from palea.derived.spoken import surely_before, unsaid

MINUTES = 24 * 60
LONGER = 1.1  # the watch at the machine and the clock on the sheet differ that much

LOTS = several(lot("AV-0"), lot("AV-1"))


def _run(**more):
    return several(LOTS, run("R1", "AV-0", "AV-1", "2025-02-01T09:00", **more))


@rule(
    "cleaning.ended-before-start", severity="error", reads=("runs",), at="runs.ended_at",
    says="Run {run_id} ended at {ended_at}, before it started at {started_at}.",
    remedy="Swap the two, or look whether day and month were swapped in one.",
    fires=_run(ended_at="2025-02-01T08:00"), nearly=_run(ended_at="2025-02-01"),
)  # fmt: skip
def ended_before_start(runs):
    """A run ends after it starts."""
    return runs[surely_before(runs["ended_at"], runs["started_at"])]


@rule(
    "cleaning.machine-outlasts-run", severity="warning", reads=("runs",), at="runs.machine_min",
    says="Run {run_id} took {took} minutes from start to end, but its machine is said to have run for {machine_min}.",
    remedy="Seconds or hours in place of minutes? Else correct start or end.",
    fires=_run(ended_at="2025-02-01T10:00", machine_min=900.0), nearly=_run(ended_at="2025-02-01T10:00", machine_min=60.0),
)  # fmt: skip
def machine_outlasts_run(runs):
    """The machine runs within the run; asked only where both ends have a time of day."""
    took = days_between(runs["started_at"], runs["ended_at"]) * MINUTES
    timed = runs["started_at"].str.contains("T").fillna(value=False) & runs["ended_at"].str.contains("T").fillna(value=False)
    told = runs.assign(took=took.round())
    return told[timed & (told["took"] >= 0) & (told["machine_min"] > told["took"] * LONGER + 1)]


@rule(
    "cleaning.effort-unsaid", severity="gap", reads=("runs",), at="runs.hands_on_min",
    says="Run {run_id} does not say how long people or the machine were busy with it.",
    remedy="Enter hands-on and machine minutes, apart; they decide which method pays at which scale.",
    fires=_run(), nearly=_run(hands_on_min=48.0),
)  # fmt: skip
def effort_unsaid(runs):
    """Time per gram is half of what a cleaning method is judged by."""
    asked = runs["kind"].eq("clean") & runs["status"].isin(schema.words("run_status", gives_seed=True))
    return runs[asked.fillna(value=False) & unsaid(runs, "hands_on_min") & unsaid(runs, "machine_min")]


@rule(
    "cleaning.stopped-without-reason", severity="gap", reads=("runs",), at="runs.reason",
    says="Run {run_id} is {status}, and nobody said why.",
    remedy="Enter the reason: a reader must know whether the recipe, the machine or the seed was at fault.",
    fires=_run(status="stopped"), nearly=_run(status="stopped", reason="the nozzle was blocked"),
)  # fmt: skip
def stopped_without_reason(runs):
    """A run that was broken off or found unfit has a reason."""
    return runs[runs["status"].isin(("stopped", "withdrawn")) & unsaid(runs, "reason")]


_ACID = stepped("R1", {"action": "soak in acid"})


@rule(
    "cleaning.danger-not-assessed", severity="gap", reads=("runs", dangers), at="runs.risk_assessment",
    says="Run {run_id} works with {danger}, and no local risk assessment is named.",
    remedy="Name its number or where it lies. If there is none, have one made before the next run.",
    fires=several(_run(), _ACID), nearly=several(_run(risk_assessment="RA-10"), _ACID),
)  # fmt: skip
def danger_not_assessed(runs, dangers):
    """Concentrated acid and open flame are assessed on the spot, by local rules."""
    told = runs.assign(danger=_said(runs, dangers))
    return told[told["danger"].notna() & unsaid(told, "risk_assessment")]


def _said(runs, dangers):
    """What is dangerous in each run, in words; missing where nothing is."""
    acid = {"soak in acid": "concentrated acid"}
    return texts(runs["run_id"], dangers.set_index("run")["danger"]).replace(acid)


@rule(
    "cleaning.nobody-beside", severity="gap", reads=("runs", dangers), at="runs.safety_checked_by",
    says="Run {run_id} works with {danger}, and nobody is named who checked the precautions.",
    remedy="Name the second person who was there.",
    fires=several(_run(), _ACID), nearly=several(_run(safety_checked_by="B"), _ACID),
)  # fmt: skip
def nobody_beside(runs, dangers):
    """At acid and flame nobody stands alone."""
    told = runs.assign(danger=_said(runs, dangers))
    return told[told["danger"].notna() & unsaid(told, "safety_checked_by")]


@rule(
    "cleaning.checked-by-oneself", severity="warning", reads=("runs", dangers), at="runs.safety_checked_by",
    says="Run {run_id} works with {danger}, and {done_by}, who did it, also checked its precautions.",
    remedy="Name the second person who was there; if nobody was, say so in the notes.",
    fires=several(_run(done_by="A", safety_checked_by="A"), _ACID),
    nearly=several(_run(done_by="A", safety_checked_by="B"), _ACID),
)  # fmt: skip
def checked_by_oneself(runs, dangers):
    """Four eyes are two people's. A note about it answers the question."""
    told = runs.assign(danger=_said(runs, dangers))
    alone = told["safety_checked_by"].eq(told["done_by"]).fillna(value=False)
    return told[told["danger"].notna() & alone & told["notes"].isna()]


@rule(
    "cleaning.nothing-came-out", severity="warning", reads=("runs", "movements"), at="runs.status",
    says="Run {run_id} is {status}, seed went into it, and no lot came out.",
    remedy="Enter what was made, waste included; if the seed is gone, enter where it went.",
    fires=several(LOTS, {"runs": [{"run_id": "R1", "kind": "clean", "status": "finished"}]},
                  moved("drawn for run", "AV-0", mass_g=5, run_id="R1")),
    nearly=_run(),
)  # fmt: skip
def nothing_came_out(runs, movements):
    """A finished run puts out what it took in, in some form."""
    drawn, came = (movements.loc[movements["kind"].isin(kinds), "run_id"] for kinds in (("drawn for run",), ("made", "returned")))
    finished = runs["status"].isin(schema.words("run_status", gives_seed=True))
    return runs[finished & runs["run_id"].isin(drawn.dropna()) & ~runs["run_id"].isin(came.dropna())]


@rule(
    "cleaning.made-of-nothing", severity="error", reads=("runs", "movements"), at="runs.run_id",
    says="Run {run_id} made lot {made}, and no seed is recorded to have gone into it: where the lot came from is lost.",
    remedy="Enter the draw for this run: of which lot, and how much.",
    fires=several(LOTS, {"runs": [{"run_id": "R1", "kind": "clean", "status": "finished"}]}, moved("made", "AV-1", run_id="R1")),
    nearly=_run(),
)  # fmt: skip
def made_of_nothing(runs, movements):
    """Seed comes of seed."""
    made = movements[movements["kind"].eq("made").fillna(value=False)].dropna(subset=["run_id"])
    drawn = movements.loc[movements["kind"].eq("drawn for run").fillna(value=False), "run_id"].dropna()
    told = runs.assign(made=texts(runs["run_id"], made.set_index("run_id")["lot_id"]))
    return told[told["made"].notna() & ~told["run_id"].isin(drawn)]


RULES = (ended_before_start, machine_outlasts_run, effort_unsaid, stopped_without_reason, danger_not_assessed,
         nobody_beside, checked_by_oneself, nothing_came_out, made_of_nothing)  # fmt: skip
