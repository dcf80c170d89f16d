"""What a design lacks: batches behind a treatment, treatments in a block."""

from palea import schema
from palea.checks.examples import dish, lot, run, several, treated
from palea.checks.rule import rule
from palea.derived.contrasts import arms
from palea.derived.counting import dishes
from palea.derived.lookup import beside, numbers, texts


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
    return beside(treatments, "treatment_id", single, "treatment")


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
    reads=("trials", "units", "lots"),
    at="trials.trial_id",
    says="Trial {trial_id}: block {block} lacks treatment {treatment}.",
    remedy="If the units were lost, record them as lost with the reason; if the block was laid out so, say so in the "
    "design.",
    fires=_blocks(("1", "A"), ("1", "B"), ("2", "A")),
    nearly=_blocks(("1", "A"), ("1", "B"), ("2", "A"), ("2", "B")),
)
def block_incomplete(trials, units, lots):
    """In randomised blocks each block of a species holds each of its treatments, those that were lost since included."""
    blocked = trials[trials["design"].eq("randomised blocks").fillna(value=False)]["trial_id"]
    if blocked.empty:
        return None
    sown = units[units["trial_id"].isin(blocked) & units["block"].notna() & units["lot_id"].notna()]
    taxon = texts(sown["lot_id"], lots.set_index("lot_id")["taxon_id"])
    named = sown.assign(taxon=taxon).rename(columns={"trial_id": "trial", "treatment_id": "treatment"})
    laid = named[["trial", "taxon", "block", "treatment"]].dropna().drop_duplicates()
    every = (
        laid[["trial", "taxon", "block"]]
        .drop_duplicates()
        .merge(laid[["trial", "taxon", "treatment"]].drop_duplicates())
    )
    missing = every.merge(laid, how="left", indicator=True).query("_merge == 'left_only'")
    return beside(trials, "trial_id", missing, "trial")



def _factor(rung):
    return {
        "trials": [{"trial_id": "G1"}],
        "trial_factors": [{"trial_id": "G1", "factor": "coat", "applied_to": rung}],
    }


@rule(
    "planning.other-rung",
    severity="warning",
    reads=("trial_factors",),
    at="trial_factors.applied_to",
    says="Trial {trial_id}: {factor} is said to be applied to each {applied_to}. It is applied to a {rung}, and its "
    "effect has to be "
    "judged there.",
    remedy="Correct what it is applied to; units below that rung are no replicates of it.",
    fires=_factor("dish"),
    nearly=_factor("batch"),
)
def other_rung(trial_factors):
    """A coat is put on a batch, a temperature set for an incubator run: judged lower, replicates are invented."""
    order = {name: n for n, name in enumerate(schema.words("rung"))}
    known = {name: schema.word("asks_about", name)["rung"] for name in schema.words("asks_about")}
    told = trial_factors.assign(rung=texts(trial_factors["factor"], known))
    lower = numbers(told["applied_to"], order) > numbers(told["rung"], order)
    return told[lower]


@rule(
    "planning.factor-not-varied",
    severity="warning",
    reads=("trial_factors", "unit_levels", "units"),
    at="trial_factors.factor",
    says="Trial {trial_id} names the factor {factor}, and all its units have the same level of it, {level}.",
    remedy="Enter the other level where it was applied, or take the factor out of the plan.",
    fires={
        "trial_factors": [{"trial_id": "F1", "factor": "fence", "applied_to": "main plot"}],
        "units": [{"unit_id": "P1", "trial_id": "F1"}, {"unit_id": "P2", "trial_id": "F1"}],
        "unit_levels": [{"unit_id": u, "factor": "fence", "level": "open"} for u in ("P1", "P2")],
    },
    nearly={
        "trial_factors": [{"trial_id": "F1", "factor": "fence", "applied_to": "main plot"}],
        "units": [{"unit_id": "P1", "trial_id": "F1"}, {"unit_id": "P2", "trial_id": "F1"}],
        "unit_levels": [{"unit_id": u, "factor": "fence", "level": f} for u, f in (("P1", "open"), ("P2", "fenced"))],
    },
)
def factor_not_varied(trial_factors, unit_levels, units):
    """A factor has two levels at least, where it is told unit by unit."""
    trial = texts(unit_levels["unit_id"], units.set_index("unit_id")["trial_id"])
    by = unit_levels.assign(trial_id=trial).groupby(["trial_id", "factor"])["level"]
    single = by.agg(levels="nunique", level="first").query("levels == 1").reset_index()
    found = trial_factors.reset_index(names="line").merge(single, on=["trial_id", "factor"])
    return found.set_index("line")


@rule(
    "planning.no-blocks",
    severity="error",
    reads=("trials", dishes),
    at="trials.design",
    says="Trial {trial_id} is laid out in {design}, and {n} of its units name no block.",
    remedy="Enter the block of each unit; without it the design cannot be analysed as it was laid out.",
    fires=_blocks((None, "A"), ("1", "B")),
    nearly=_blocks(("1", "A"), ("1", "B")),
)
def no_blocks(trials, dishes):
    """A blocked design has blocks."""
    bare = dishes[dishes["block"].eq("")].groupby("trial").size()
    told = trials[trials["design"].isin(schema.words("design", blocked=True)) & trials["trial_id"].isin(bare.index)]
    return told.assign(n=numbers(told["trial_id"], bare))


RULES = (one_batch, block_incomplete, other_rung, factor_not_varied, no_blocks)
