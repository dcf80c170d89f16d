"""Steps of runs: what each lacks, their order, and what acid and flame ask for."""

from palea import schema
from palea.checks.examples import lot, percent, run, several, stepped
from palea.checks.rule import rule
from palea.derived.lookup import numbers, texts
from palea.derived.spoken import amounts, lacking, surely_before, unsaid

RUN = several(lot("AV-0"), lot("AV-1"), run("R1", "AV-0", "AV-1", "2025-02-01T09:00", ended_at="2025-02-01T11:00"))
_ACID = {"action": "soak in acid", "material_id": "ACID"}
_RINSE, _BASE = {"action": "rinse"}, {"action": "neutralise", "ph": 7.0}


def _actions():
    """{action: columns that it asks for}. A number without its unit is an error of its own, so units are left out here."""
    asks = {w: schema.word("step_action", w)["asks"] for w in schema.words("step_action")}
    return {action: [c for c in columns if not c.endswith("unit")] for action, columns in asks.items()}


@rule(
    "cleaning.step-lacks", severity="gap", reads=("run_steps", "runs"), at="run_steps.action",
    says="Run {run_id}, step {step} ({action}) cannot be repeated without: {lacks}.",
    remedy="Enter it, or say in why_blank that it was not recorded or is withheld.",
    fires=several(RUN, stepped("R1", {"action": "brush", "equipment_id": "BR-1"})),
    nearly=several(RUN, stepped("R1", {"action": "brush", "equipment_id": "BR-1", "why_blank": "duration_s: not recorded"})),
)  # fmt: skip
def step_lacks(run_steps, runs):
    """Each action asks for what it cannot be repeated without. A recipe that is kept back is told once, not step by step."""
    hidden = runs["disclosure"].isin(schema.words("disclosure", reported=False)) | runs["place_kind"].eq("contractor")
    hidden = runs.loc[hidden.fillna(value=False), "run_id"]
    told = run_steps.assign(lacks=lacking(run_steps, "run_steps", run_steps["action"], _actions()))
    return told[(told["lacks"] != "") & ~told["run_id"].isin(hidden)]


@rule(
    "cleaning.strength-without-basis", severity="error", reads=("run_steps",), at="run_steps.concentration_unit",
    says="Run {run_id}, step {step} ({action}): {concentration} {said} has no basis: by mass, by volume, or a dilution of the "
    "bottle?",
    remedy="Enter the unit with its basis, w/w, w/v or v/v, or a mass in a volume.",
    fires=several(RUN, stepped("R1", _ACID | {"concentration": 75.0, "concentration_unit": "%"})),
    nearly=several(RUN, stepped("R1", _ACID | {"concentration": 75.0, "concentration_unit": percent("w/w")})),
)  # fmt: skip
def strength_without_basis(run_steps):
    """75 % of what? A strength without unit or basis can be half as strong again as the one that was meant."""
    bare = run_steps["concentration_unit"].isin(("%", "1")) | run_steps["concentration_unit"].isna()
    told = run_steps.assign(said=run_steps["concentration_unit"].fillna("without a unit").replace("1", "without a unit"))
    return told[run_steps["concentration"].notna() & bare]


def _later(run_steps, actions, first):
    """Whether a step with one of these actions comes after step number `first` (Series by run) of its run, by run."""
    mine = run_steps[run_steps["action"].isin(actions)]
    last = mine.groupby("run_id")["step"].max()
    return last.reindex(first.index) > first


@rule(
    "cleaning.acid-left-on", severity="warning", reads=("run_steps",), at="run_steps.action",
    says="Run {run_id}: seed was held in acid in step {step}, and no later step rinses or neutralises it.",
    remedy="Enter the steps that took the acid off again. If there were none, the seed still holds acid.",
    fires=several(RUN, stepped("R1", _RINSE, _ACID)), nearly=several(RUN, stepped("R1", _ACID, _RINSE)),
)  # fmt: skip
def acid_left_on(run_steps):
    """Acid is washed off or neutralised, afterwards."""
    acid = run_steps[run_steps["action"].eq("soak in acid").fillna(value=False)]
    acid = acid.sort_values("step").drop_duplicates("run_id", keep="last")
    taken_off = _later(run_steps, ("rinse", "neutralise"), acid.set_index("run_id")["step"])
    return acid[~acid["run_id"].isin(taken_off.index[taken_off])]


@rule(
    "cleaning.ph-unknown", severity="gap", reads=("run_steps",), at="run_steps.ph",
    says="Run {run_id}: no pH is recorded after neutralising in step {step}.",
    remedy="Enter the pH of the last water; next time hold a strip into it.",
    fires=several(RUN, stepped("R1", _ACID, {"action": "neutralise"}, _RINSE)),
    nearly=several(RUN, stepped("R1", _ACID, {"action": "neutralise"}, _RINSE | {"ph": 6.8})),
)  # fmt: skip
def ph_unknown(run_steps):
    """That the acid is gone is known from the pH of this step or a later one."""
    base = run_steps[run_steps["action"].eq("neutralise").fillna(value=False)]
    base = base.sort_values("step").drop_duplicates("run_id", keep="last")
    read = run_steps[run_steps["ph"].notna()].groupby("run_id")["step"].max()
    known = numbers(base["run_id"], read) >= base["step"]
    return base[~known & unsaid(base, "ph")]


@rule(
    "cleaning.step-missing", severity="warning", reads=("run_steps",), at="run_steps.step",
    says="Run {run_id}: step {before} is followed by step {step}. Is a step missing?",
    remedy="Enter the step that is missing, or number the steps anew.",
    fires=several(RUN, {"run_steps": [{"run_id": "R1", "step": n, "action": "wait"} for n in (1, 2, 4)]}),
    nearly=several(RUN, {"run_steps": [{"run_id": "R1", "step": n, "action": "wait"} for n in (10, 20, 30)]}),
)  # fmt: skip
def step_missing(run_steps):
    """Steps that count by ones have no hole; whoever counts by tens leaves room on purpose."""
    told = run_steps.sort_values(["run_id", "step"], kind="stable")
    before = told.groupby("run_id")["step"].shift()
    by_ones = (told["step"] - before).eq(1).groupby(told["run_id"]).transform("any")
    return told.assign(before=before)[(told["step"] - before > 1) & by_ones]


@rule(
    "cleaning.cycle-falls", severity="warning", reads=("run_steps",), at="run_steps.cycle",
    says="Run {run_id}: step {step} is of cycle {cycle}, but an earlier step is of cycle {before}.",
    remedy="Correct the cycle, or the order of the steps.",
    fires=several(RUN, stepped("R1", *({"action": "wet", "cycle": c} for c in (1, 2, 1)))),
    nearly=several(RUN, stepped("R1", *({"action": "wet", "cycle": c} for c in (1, None, 1, 2)))),
)  # fmt: skip
def cycle_falls(run_steps):
    """A coat grows from cycle to cycle."""
    told = run_steps[run_steps["cycle"].notna()].sort_values(["run_id", "step"], kind="stable")
    before = told.groupby("run_id")["cycle"].transform("cummax").groupby(told["run_id"]).shift()
    return told.assign(before=before)[told["cycle"] < before]


@rule(
    "cleaning.step-before-the-last", severity="warning", reads=("run_steps",), at="run_steps.started_at",
    says="Run {run_id}: step {step} began at {started_at}, before the step that precedes it ({before}).",
    remedy="Correct the time, or the order of the steps.",
    fires=several(RUN, stepped("R1", *({"action": "wait", "started_at": f"2025-02-01T{h}:00"} for h in (10, "09")))),
    nearly=several(RUN, stepped("R1", *({"action": "wait", "started_at": f"2025-02-01T{h}:00"} for h in (10, 10)))),
)  # fmt: skip
def step_before_the_last(run_steps):
    """Numbers of steps follow the clock."""
    told = run_steps[run_steps["started_at"].notna()].sort_values(["run_id", "step"], kind="stable")
    told = told.assign(before=told.groupby("run_id")["started_at"].shift())
    return told[surely_before(told["started_at"], told["before"])]


@rule(
    "cleaning.step-outside-run", severity="warning", reads=("run_steps", "runs"), at="run_steps.started_at",
    says="Run {run_id} ran from {from_at} to {to_at}, but its step {step} began at {started_at}.",
    remedy="Correct the time of the step, or when the run began or ended.",
    fires=several(RUN, stepped("R1", {"action": "wait", "started_at": "2025-02-01T12:30"})),
    nearly=several(RUN, stepped("R1", {"action": "wait", "started_at": "2025-02-01"})),
)  # fmt: skip
def step_outside_run(run_steps, runs):
    """Steps are of the run, so they lie within it."""
    of_run = runs.set_index("run_id")
    told = run_steps.assign(from_at=texts(run_steps["run_id"], of_run["started_at"]),
                            ends=texts(run_steps["run_id"], of_run["ended_at"]))  # fmt: skip
    outside = surely_before(told["started_at"], told["from_at"]) | surely_before(told["ends"], told["started_at"])
    open_ended = {"from_at": "a start", "ends": "an end"}
    told = told.fillna({column: f"{end} that is not recorded" for column, end in open_ended.items()})
    return told.rename(columns={"ends": "to_at"})[outside]


@rule(
    "cleaning.deviation-without-reason", severity="gap", reads=("run_steps",), at="run_steps.reason",
    says="Run {run_id}, step {step} went otherwise than planned ({deviation}), and nobody said why.",
    remedy="Enter the reason, so that a reader knows whether to expect it again.",
    fires=several(RUN, stepped("R1", {"action": "wait", "deviation": "twice as long"})),
    nearly=several(RUN, stepped("R1", {"action": "wait", "deviation": "twice as long", "reason": "fire alarm"})),
)  # fmt: skip
def deviation_without_reason(run_steps):
    """A deviation has a reason; “none” is no deviation."""
    said = run_steps["deviation"].str.strip().str.casefold()
    return run_steps[said.notna() & said.ne("none").fillna(value=False) & unsaid(run_steps, "reason")]


def _loaded(amount):
    machine = {"equipment": [{"equipment_id": "BR-1", "kind": "brush machine", "capacity_g": 300.0}]}
    return several(RUN, machine, stepped("R1", {"action": "load", "equipment_id": "BR-1", "amount": amount, "unit": "g"}))


@rule(
    "cleaning.overloaded", severity="warning", reads=("run_steps", "equipment"), at="run_steps.amount",
    says="Run {run_id}, step {step}: {amount} {unit} went into {equipment_id}, which holds {holds} g at once.",
    remedy="Was it done in several fillings? Then each is a step. Else look whether the unit is right.",
    fires=_loaded(400.0), nearly=_loaded(300.0),
)  # fmt: skip
def overloaded(run_steps, equipment):
    """A machine takes no more than its capacity; amounts per kilogram of something are no filling."""
    holds = numbers(run_steps["equipment_id"], equipment.set_index("equipment_id")["capacity_g"])
    in_all = run_steps["basis"].isna() | run_steps["basis"].eq("in all")
    filled = amounts(run_steps["amount"], run_steps["unit"], "mass")
    at_once = run_steps["action"].isin(("load", "weigh")) & run_steps["passes"].fillna(1).le(1)
    return run_steps.assign(holds=holds)[at_once & in_all & (filled > holds)]


RULES = (step_lacks, strength_without_basis, acid_left_on, ph_unknown, step_missing, cycle_falls, step_before_the_last,
         step_outside_run, deviation_without_reason, overloaded)  # fmt: skip
