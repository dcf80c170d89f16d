"""What cannot be true of treatments and the runs that carried them out; what they leave unsaid."""

import pandas as pd

from palea import schema
from palea.checks.examples import dish, lot, run, several, treated
from palea.checks.rule import rule
from palea.derived.factors import levels


def _coated(material, **materials):
    """A dish sown from a lot whose coating run used `material`, while the treatment speaks of a wetting agent."""
    step = {"run_id": "R1", "step": 1, "action": "spray", "material_id": material}
    return several(
        lot("AV-0"),
        lot("AV-1"),
        run("R1", "AV-0", "AV-1", kind="coat"),
        dish(lot_id="AV-1", treatment="T17", normal=3),
        treated("T17", coat_class="film", route="coat"),
        {"treatment_actives": [{"treatment_id": "T17", "material_id": "WET"}], "run_steps": [step]},
        {"materials": [{"material_id": "WET", "role": "surfactant"}, {"material_id": "BIND", "role": "binder"}]},
        {"material_parts": [{"material_id": m, "part_material_id": p} for m, p in materials.items()]},
    )


@rule(
    "coating.treatment-not-done",
    severity="error",
    reads=("treatments", levels),
    at="treatments.treatment_id",
    says="Treatment {treatment_id} means to bring {active}, but the runs behind its lots used {used}.",
    remedy="Record the step that brought it, or correct the treatment: what was done stands, what was meant may be wrong.",
    fires=_coated("BIND"),
    nearly=_coated("MIXED", MIXED="WET"),
)
def treatment_not_done(treatments, levels):
    """Intended actives are among those that the runs used, directly or within a preparation. A hidden recipe is no lie."""
    told = levels[levels["kinds"].fillna("").ne("") & levels["hidden"].eq("")].set_index("treatment")
    missing = [not _among(a, u) for a, u in zip(told["active"], told["put_on"], strict=True)]
    wanting = told[pd.Series(missing, index=told.index, dtype=bool)]
    bad = treatments[treatments["treatment_id"].isin(wanting.index)]
    by_id = wanting.reindex(bad["treatment_id"]).set_index(bad.index)
    return bad.assign(active=by_id["active"], used=by_id["put_on"].replace("", "none"))


def _among(wanted, used):
    return set(filter(None, wanted.split(" + "))) <= set(used.split(" + "))


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


RULES = (treatment_not_done, hazard_not_said, withheld_by_nobody)
