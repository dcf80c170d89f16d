"""Whether a plan leaves keep-samples alone: they are sown to compare with, and for nothing else."""

from palea import schema
from palea.checks.examples import dish, lot, moved, several, treated
from palea.checks.rule import rule
from palea.derived.lookup import texts

COMPARED = schema.words("treatment_role", compared=True)  # roles for which kept seed may be sown, to compare with
_KEPT = several(lot("AV-0"), lot("AV-K", fraction="keep-sample", keep_of="AV-0"), treated("T0", role="keep-sample"), treated("T1"))


def _kept(lots):
    """Ids of lots that are kept back."""
    return lots.loc[lots["fraction"].eq("keep-sample") | lots["keep_of"].notna(), "lot_id"]


@rule(
    "lots.keep-sample-planned",
    severity="error",
    reads=("units", "lots", "treatments"),
    at="units.lot_id",
    says="Unit {unit_id} of trial {trial_id} takes its seed from {lot_id}, a keep-sample, for a treatment that is no "
    "comparison: {treatment_id}.",
    remedy="Sow it from another lot, or make the plan smaller; `palea plan seed` says what fits.",
    fires=several(_KEPT, dish(lot_id="AV-K", treatment="T1")),
    nearly=several(_KEPT, dish(lot_id="AV-K", treatment="T0"), dish("D02", "AV-0", "T1")),
)
def keep_sample_planned(units, lots, treatments):
    """A plan that would touch a keep-sample is stopped before the draw."""
    role = texts(units["treatment_id"], treatments.set_index("treatment_id")["role"])
    return units[units["lot_id"].isin(_kept(lots)) & role.notna() & ~role.isin(COMPARED)]


@rule(
    "lots.keep-sample-sown",
    severity="error",
    reads=("movements", "lots", "units", "treatments"),
    at="movements.lot_id",
    says="{lot_id} is a keep-sample, and seed was drawn from it on {moved_at} to be sown in trial {trial_id}, where no unit "
    "compares with it.",
    remedy="Draw from another lot, or plan units of the keep-sample to compare with first.",
    fires=several(_KEPT, dish("D02", "AV-0", "T1"), moved("sown", "AV-K", mass_g=5, trial_id="G1")),
    nearly=several(_KEPT, dish(lot_id="AV-K", treatment="T0"), moved("sown", "AV-K", mass_g=5, trial_id="G1")),
)
def keep_sample_sown(movements, lots, units, treatments):
    """What is drawn from a keep-sample for a trial is for units that were planned to compare with it."""
    drawn = movements[movements["kind"].eq("sown").fillna(value=False) & movements["lot_id"].isin(_kept(lots))]
    role = texts(units["treatment_id"], treatments.set_index("treatment_id")["role"])
    compared = units[role.isin(COMPARED)]
    known = set(zip(compared["trial_id"], compared["lot_id"], strict=True))
    alone = [pair not in known for pair in zip(drawn["trial_id"], drawn["lot_id"], strict=True)]
    return drawn[alone]


RULES = (keep_sample_planned, keep_sample_sown)
