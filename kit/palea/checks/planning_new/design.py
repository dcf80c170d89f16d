"""What a design lacks: batches behind a treatment, treatments in a block."""

from palea.checks.examples import dish, lot, run, several, treated
from palea.checks.rule import rule
from palea.derived.contrasts import arms
from palea.derived.counting import dishes


def _two_batches(second):
    return several(
        lot("AV-0"),
        lot("AV-1"),
        lot("AV-2"),
        treated("AV-T05"),
        run("R1", "AV-0", "AV-1"),
        run("R2", "AV-0", second),
        dish("D1", "AV-1", "AV-T05", normal=5),
        dish("D2", "AV-2", "AV-T05", visits={"2025-03-15": {"normal": 4}}),
    )


@rule(
    "planning.one-batch",
    severity="warning",
    reads=("treatments", arms),
    at="treatments.treatment_id",
    says="Only one batch stands behind {treatment_id} in trial {trial} (units: {dishes}): the answer holds for that "
    "batch, not yet for the recipe.",
    remedy="Make a second batch before the recipe is judged; until then say “this batch”.",
    fires=several(
        lot("AV-0"), lot("AV-1"), treated("AV-T05"), run("R1", "AV-0", "AV-1"), dish("D1", "AV-1", "AV-T05", normal=5)
    ),
    nearly=_two_batches("AV-2"),
)
def one_batch(treatments, arms):
    """A treatment is judged against the variation between its batches; one batch has none to show."""
    single = arms[arms["batches"].eq(1)].drop_duplicates("treatment")
    found = treatments.reset_index(names="line").merge(single, left_on="treatment_id", right_on="treatment")
    return found.set_index("line")


def _blocks(*pairs):
    return several(
        lot("AV-0"),
        treated("A"),
        treated("B"),
        {
            "trials": [{"trial_id": "G1", "design": "randomised blocks"}],
            "units": [
                {
                    "unit_id": f"D{n}",
                    "trial_id": "G1",
                    "kind": "dish",
                    "treatment_id": t,
                    "lot_id": "AV-0",
                    "block": b,
                    "sown_n": 25,
                    "status": "in use",
                }
                for n, (b, t) in enumerate(pairs)
            ],
        },
    )


@rule(
    "planning.block-incomplete",
    severity="warning",
    reads=("trials", dishes),
    at="trials.trial_id",
    says="Trial {trial_id}: block {block} lacks treatment {treatment}.",
    remedy="If the units were lost, record them as lost with the reason; if the block was laid out so, say so in the design.",
    fires=_blocks(("1", "A"), ("1", "B"), ("2", "A")),
    nearly=_blocks(("1", "A"), ("1", "B"), ("2", "A"), ("2", "B")),
)
def block_incomplete(trials, dishes):
    """In randomised blocks each block of a species holds each of its treatments. A block without a name is no block."""
    blocked = trials[trials["design"].eq("randomised blocks").fillna(value=False)]["trial_id"]
    laid = dishes[dishes["trial"].isin(blocked) & dishes["block"].ne("")][["trial", "taxon", "block", "treatment"]]
    laid = laid.drop_duplicates()
    every = (
        laid[["trial", "taxon", "block"]]
        .drop_duplicates()
        .merge(laid[["trial", "taxon", "treatment"]].drop_duplicates())
    )
    missing = every.merge(laid, how="left", indicator=True).query("_merge == 'left_only'")
    return trials.reset_index(names="line").merge(missing, left_on="trial_id", right_on="trial").set_index("line")


RULES = (one_batch, block_incomplete)
