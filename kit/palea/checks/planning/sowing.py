"""What cannot be true of sowing: which seed, how much of it, and when against the plan."""

import numpy as np

from palea.calc.spans import earliest, latest
from palea.checks.examples import lot, moved, several
from palea.checks.planning.layout import units
from palea.checks.rule import rule
from palea.derived.lookup import texts

LONGEST_WAIT = np.timedelta64(60, "D")  # dry in its dish; longer is a slip of the year


@rule(
    "planning.lot-under-two-treatments",
    severity="warning",
    reads=("units", "movements"),
    at="units.treatment_id",
    needs="movements",
    says="{kind} {unit_id}: lot {lot_id} stands for {treatment_id} here and for {other} elsewhere in trial {trial_id}.",
    remedy="A lot has had one treatment. Correct the lot or the treatment of one of the units.",
    fires=several(moved("made", "L"), units({"lot_id": "L", "treatment_id": "A"}, {"lot_id": "L", "treatment_id": "B"})),
    nearly=several(moved("received", "L"), units({"lot_id": "L", "treatment_id": "A"}, {"lot_id": "L", "treatment_id": "B"})),
)
def lot_under_two_treatments(units, movements):
    """Seed that a run made cannot stand for two treatments of a trial; told at the first unit of each further one.

    Seed as it was received can: its treatment is then given in the dish.
    """
    made = movements.loc[movements["kind"].eq("made"), "lot_id"]
    sown = units[units["lot_id"].isin(made)].dropna(subset=["lot_id", "treatment_id"])
    sown = sown.drop_duplicates(["trial_id", "lot_id", "treatment_id"])
    first = sown.groupby(["trial_id", "lot_id"])["treatment_id"].transform("first")
    return sown.assign(other=first)[sown["treatment_id"].ne(first)]


def _sown(drawn):
    return several(
        lot("AV-0"),
        units({"lot_id": "AV-0", "treatment_id": "A"}, {"lot_id": "AV-0", "treatment_id": "A"}),
        moved("sown", "AV-0", trial_id="F1", seed_units=drawn),
    )


@rule(
    "planning.sown-not-drawn",
    severity="warning",
    reads=("movements", "units"),
    at="movements.seed_units",
    says="{drawn} seed units of lot {lot_id} were drawn for trial {trial_id}, but its units hold {sown}.",
    remedy="Count the units again, or correct the draw: what is left of the lot depends on it.",
    fires=_sown(250),
    nearly=_sown(240),
)
def sown_not_drawn(movements, units):
    """What was counted out of a lot is what lies in the units of the trial. Draws by mass alone say nothing of it."""
    draws = movements[movements["kind"].eq("sown") & movements["trial_id"].notna()]
    by = draws.groupby(["lot_id", "trial_id"])["seed_units"].agg(drawn=lambda s: s.sum(skipna=False)).reset_index()
    held = units.groupby(["lot_id", "trial_id"])["sown_n"].agg(sown=lambda s: s.sum(skipna=False)).reset_index()
    both = by.merge(held, on=["lot_id", "trial_id"]).dropna()
    wrong = both[both["drawn"].ne(both["sown"])]
    first = draws.drop_duplicates(["lot_id", "trial_id"]).reset_index(names="line")
    return first.merge(wrong, on=["lot_id", "trial_id"]).set_index("line")


@rule(
    "planning.sown-before-locked",
    severity="warning",
    reads=("trials", "units"),
    at="trials.locked_at",
    says="The plan of trial {trial_id} was locked on {locked_at}, after its first unit was sown on {sown}.",
    remedy="Say in the notes what was still changed after sowing; lock a plan before anything is wetted.",
    fires=units({"placed_at": "2025-03-01"}, trial={"locked_at": "2025-03-09"}),
    nearly=units({"placed_at": "2025-03-01"}, trial={"locked_at": "2025-03"}),
)
def sown_before_locked(trials, units):
    """A plan is locked before the first unit is sown; partial dates are spans."""
    sown = units.assign(last=latest(units["placed_at"].fillna(units["first_wetted_at"]))).dropna(subset=["last"])
    first = sown.sort_values("last", kind="stable").drop_duplicates("trial_id").set_index("trial_id")
    told = trials.assign(sown=texts(trials["trial_id"], first["placed_at"].fillna(first["first_wetted_at"])))
    return told[earliest(told["locked_at"]) > latest(told["sown"])]


@rule(
    "planning.locked-before-planned",
    severity="error",
    reads=("trials",),
    at="trials.planned_at",
    says="Trial {trial_id} was locked on {locked_at}, before it was planned on {planned_at}.",
    remedy="Correct one of the two dates.",
    fires={"trials": [{"trial_id": "F1", "planned_at": "2025-03-09", "locked_at": "2025-03-01"}]},
    nearly={"trials": [{"trial_id": "F1", "planned_at": "2025-03-01", "locked_at": "2025-03-01"}]},
)
def locked_before_planned(trials):
    """Planned, then locked."""
    return trials[earliest(trials["planned_at"]) > latest(trials["locked_at"])]


@rule(
    "planning.wetted-long-after",
    severity="warning",
    reads=("units",),
    at="units.first_wetted_at",
    says="{kind} {unit_id} was placed on {placed_at} and first wetted on {first_wetted_at}, more than {days} days "
    "later.",
    remedy="Look whether day and month were swapped in one of the two dates.",
    fires=units({"kind": "dish", "placed_at": "2025-03-02", "first_wetted_at": "2026-03-02"}),
    nearly=units({"kind": "dish", "placed_at": "2025-03-02", "first_wetted_at": "2025-03-02"}),
)
def wetted_long_after(units):
    """Seed in a dish is wetted within days of being placed; a year between the two is a slip."""
    apart = (earliest(units["first_wetted_at"]) - latest(units["placed_at"])) > LONGEST_WAIT
    return units.assign(days=LONGEST_WAIT.astype(int))[apart & units["kind"].eq("dish").fillna(value=False)]


RULES = (lot_under_two_treatments, sown_not_drawn, sown_before_locked, locked_before_planned, wetted_long_after)
