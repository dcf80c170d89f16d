"""Materials: what is told of them, and whether they could be used on that day."""

from palea import schema
from palea.checks.examples import lot, run, several, stepped
from palea.checks.rule import rule
from palea.derived.lookup import texts
from palea.derived.spoken import surely_before, unsaid


@rule(
    "coating.hazard-not-said",
    severity="gap",
    reads=("materials",),
    at="materials.hazards",
    says="{name} is a material that can hurt ({role}), and no hazard statement is recorded.",
    remedy="Copy the codes from the supplier's safety data sheet, with its edition.",
    fires={"materials": [{"material_id": "ACID", "name": "concentrated acid", "role": "acid"}]},
    nearly={
        "materials": [
            {"material_id": "ACID", "name": "concentrated acid", "role": "acid", "hazards": "H314"},
            {"material_id": "CLAY", "name": "clay", "role": "filler"},
        ]
    },
)
def hazard_not_said(materials):
    """Acids, bases, fuels and the like carry their hazard statements."""
    return materials[materials["role"].isin(_hurtful()) & materials["hazards"].isna()]


def _hurtful():
    """Roles of what burns or corrodes; dusts and actives are asked for item by item in the checklist."""
    return [
        r for r in schema.words("material_role") if {"acid", "flame"} & set(schema.word("material_role", r)["hazard"])
    ]


@rule(
    "coating.withheld-by-nobody",
    severity="gap",
    reads=("materials",),
    at="materials.withheld_by",
    says="What {name} is made of is withheld, and nobody is named as withholding it.",
    remedy="Name the person or firm that keeps it back, so that a reader knows whom to ask.",
    fires={"materials": [{"material_id": "X", "name": "contractor's coat", "disclosure": "withheld"}]},
    nearly={
        "materials": [{"material_id": "X", "name": "contractor's coat", "disclosure": "withheld", "withheld_by": "P9"}]
    },
)
def withheld_by_nobody(materials):
    """A gap that someone keeps open has a name on it."""
    return materials[
        materials["disclosure"].isin(schema.words("disclosure", needs_name=True)) & materials["withheld_by"].isna()
    ]


def _used(at="2025-02-01", **more):
    return several(
        lot("AV-0"), lot("AV-1"), run("R1", "AV-0", "AV-1", at, kind="coat"), stepped("R1", {"action": "wet", "material_id": "M1"}),
        {"materials": [{"material_id": "M1", "name": "Binder"} | more]},
    )  # fmt: skip


@rule(
    "coating.used-after-expiry", severity="warning", reads=("run_steps", "runs", "materials"), at="run_steps.material_id",
    says="Run {run_id} of {begun} used {name} in step {step}, which by its label was to be used until {expires_on}.",
    remedy="Enter the batch that was really used, or note that an old one was; repeat the run if it matters.",
    fires=_used(expires_on="2025-01"), nearly=_used(expires_on="2025-02"),
)  # fmt: skip
def used_after_expiry(run_steps, runs, materials):
    """Told once a run and material."""
    told = _uses(run_steps, runs, materials, "expires_on")
    return told[surely_before(told["expires_on"], told["begun"])]


def _uses(run_steps, runs, materials, column):
    """First use of each material in each run, with the run's start and a column of the material."""
    of = materials.set_index("material_id")
    first = run_steps.dropna(subset=["material_id"]).drop_duplicates(["run_id", "material_id"])
    begun = texts(first["run_id"], runs.set_index("run_id")["started_at"])
    named = {name: texts(first["material_id"], of[name]) for name in ("name", column)}
    return first.assign(begun=begun, **named)


@rule(
    "coating.used-before-made", severity="warning", reads=("run_steps", "runs", "materials"), at="run_steps.material_id",
    says="Run {run_id} ended by {ends}, and used {name} in step {step}, which was only made on {made_at}.",
    remedy="Was it an earlier preparation of the same kind? That is a material of its own. Else correct one of the dates.",
    fires=_used(made_at="2025-02-10"), nearly=_used(made_at="2025-02"),
)  # fmt: skip
def used_before_made(run_steps, runs, materials):
    """A preparation is made before it is used; a run that has no end recorded is taken to end on its day."""
    told = _uses(run_steps, runs, materials, "made_at")
    ended = texts(told["run_id"], runs.set_index("run_id")["ended_at"])
    told = told.assign(ends=ended.fillna(told["begun"].str.slice(0, 10)))
    return told[surely_before(told["ends"], told["made_at"])]


@rule(
    "coating.active-strength-unsaid", severity="gap", reads=("materials",), at="materials.active_fraction_w_w",
    says="{name} is an active, and nothing says how much of it is the active itself.",
    remedy="Enter the share by mass from its certificate, from 0 to 1; a dose is counted in it.",
    fires={"materials": [{"material_id": "GA3", "name": "GA3", "role": "active"}]},
    nearly={"materials": [{"material_id": "GA3", "name": "GA3", "role": "active", "active_fraction_w_w": 0.9}]},
)  # fmt: skip
def active_strength_unsaid(materials):
    """A powder of 90 % brings nine tenths of the dose."""
    told = materials["disclosure"].isna() | materials["disclosure"].isin(schema.words("disclosure", reported=True))
    return materials[materials["role"].eq("active").fillna(value=False) & told & unsaid(materials, "active_fraction_w_w")]


RULES = (hazard_not_said, withheld_by_nobody, used_after_expiry, used_before_made, active_strength_unsaid)
