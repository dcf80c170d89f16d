"""Amounts, doses and strengths: each with a unit that fits and a basis."""

import pandas as pd

from palea import schema
from palea.calc.units import per
from palea.checks.examples import lot, run, several, stepped, treated
from palea.checks.rule import rule
from palea.derived.lookup import numbers, texts
from palea.derived.spoken import dimensions, unsaid

RUN = several(lot("AV-0"), lot("AV-1"), run("R1", "AV-0", "AV-1", kind="coat"))
_PER = {"per unit": "mass per unit", "per ha": "mass per area"}
_NO_AMOUNT = ("length", "area", "angle", "time", "time squared", "rate", "information", "temperature", "pressure", "force",
              "conductivity", "turning speed", "flow", "photon flux", "speed", "mass per amount")  # fmt: skip


def _material(**more):
    return {"materials": [{"material_id": "M1", "name": "Peat", "role": "inoculant"} | more]}


def _dose(**more):
    return several(treated("T16"), _material(), {"treatment_actives": [{"treatment_id": "T16", "material_id": "M1"} | more]})


@rule(
    "coating.dose-without-basis", severity="error", reads=("treatment_actives",), at="treatment_actives.unit",
    says="Treatment {treatment_id}: the dose of {material_id} is {amount}, without {lacks}.",
    remedy="Enter unit and basis: 2 g per kg of bare seed and 2 mg per seed are not the same.",
    fires=_dose(amount=2.0, basis="per kg bare seed"), nearly=_dose(amount=2.0, unit=per("g", "kg"), basis="per kg bare seed"),
)  # fmt: skip
def dose_without_basis(treatment_actives):
    """A dose is so much of a unit per something."""
    unit = treatment_actives["unit"].isna() | treatment_actives["unit"].isin(("1", "%"))
    basis = treatment_actives["basis"].isna()
    lacks = pd.Series("a unit", index=treatment_actives.index).mask(basis, "a basis").mask(unit & basis, "a unit and a basis")
    return treatment_actives.assign(lacks=lacks)[treatment_actives["amount"].notna() & (unit | basis)]


@rule(
    "coating.dose-unit-unfit", severity="error", reads=("treatment_actives",), at="treatment_actives.unit",
    says="Treatment {treatment_id}: the dose of {material_id} is counted {basis}, but {unit} does not fit that.",
    remedy="Enter the dose in a unit of its basis: mg per kg of seed, mg per L of a solution.",
    fires=_dose(amount=2.0, unit=per("mg", "L"), basis="per kg bare seed"),
    nearly=_dose(amount=2.0, unit=per("mL", "kg"), basis="per kg bare seed"),
)  # fmt: skip
def dose_unit_unfit(treatment_actives):
    """A dose per kilogram is a mass or volume per mass, a strength is a mass or amount per volume."""
    basis, got = treatment_actives["basis"], dimensions(treatment_actives["unit"])
    plain = got.isin(("mass", "volume", "number"))  # read together with the basis, “2 g, per ha” says all
    per_kg = basis.str.startswith("per kg") & ~got.isin(("mass per mass", "volume per mass", "share"))
    strength = basis.eq("solution strength") & ~got.isin(("mass per volume", "amount per volume", "mass per mass", "share"))
    other = basis.isin(list(_PER)) & got.ne(basis.map(_PER).astype(got.dtype))
    unfit = per_kg.fillna(value=False) | strength.fillna(value=False) | other.fillna(value=False)
    return treatment_actives[unfit & got.notna() & ~plain & treatment_actives["amount"].notna()]


@rule(
    "coating.amount-without-unit", severity="error", reads=("run_steps",), at="run_steps.unit",
    says="Run {run_id}, step {step} ({action}): an amount of {amount}, without a unit.",
    remedy="Enter the unit that was read: g, mL, or another.",
    fires=several(RUN, stepped("R1", {"action": "wet", "amount": 2.0})),
    nearly=several(RUN, stepped("R1", {"action": "wet", "amount": 2.0, "unit": "mL"})),
)  # fmt: skip
def amount_without_unit(run_steps):
    """2 of what?"""
    return run_steps[run_steps["amount"].notna() & run_steps["unit"].isna()]


def _active_step(role="inoculant", **more):
    step = {"action": "powder", "material_id": "M1", "amount": 2.0, "unit": "g"}
    return several(RUN, _material(role=role), stepped("R1", step | more))


@rule(
    "coating.amount-without-basis", severity="error", reads=("run_steps", "materials"), at="run_steps.basis",
    says="Run {run_id}, step {step}: {amount} {unit} of {name} ({role}), and nothing says of what: in all, or per kg of seed?",
    remedy="Enter the basis; a dose cannot be told without it.",
    fires=_active_step(), nearly=_active_step(basis="in all"),
)  # fmt: skip
def amount_without_basis(run_steps, materials):
    """What works on the seed is dosed; a unit that is itself per something needs no basis."""
    of = materials.set_index("material_id")
    told = run_steps.assign(role=texts(run_steps["material_id"], of["role"]), name=texts(run_steps["material_id"], of["name"]))
    plain = dimensions(told["unit"]).isin(("mass", "volume", "number", "share"))
    dosed = told["role"].isin([r for r in schema.words("material_role") if "active" in schema.word("material_role", r)["hazard"]])
    return told[dosed & plain & told["amount"].notna() & told["basis"].isna()]


@rule(
    "coating.amount-basis-unsaid", severity="gap", reads=("run_steps", "materials"), at="run_steps.basis",
    says="Run {run_id}, step {step}: {amount} {unit} of {name}, and nothing says of what: in all, or per kg of seed?",
    remedy="Enter the basis, as a rule in all.",
    fires=_active_step("binder"), nearly=_active_step("binder", basis="in all"),
)  # fmt: skip
def amount_basis_unsaid(run_steps, materials):
    """The same for what only carries and builds."""
    of = materials.set_index("material_id")
    told = run_steps.assign(role=texts(run_steps["material_id"], of["role"]), name=texts(run_steps["material_id"], of["name"]))
    dosed = [r for r in schema.words("material_role") if "active" in schema.word("material_role", r)["hazard"]]
    plain = dimensions(told["unit"]).isin(("mass", "volume", "number", "share"))
    return told[~told["role"].isin(dosed) & told["name"].notna() & plain & told["amount"].notna() & unsaid(told, "basis")]


def _powder(**more):
    return several(RUN, _material(name="Kaolin", role="filler", **more),
                   stepped("R1", {"action": "powder", "material_id": "M1", "amount": 5.0, "unit": "mL"}))  # fmt: skip


@rule(
    "coating.powder-by-volume", severity="error", reads=("run_steps", "materials"), at="run_steps.unit",
    says="Run {run_id}, step {step}: {amount} {unit} of {name}, a powder without a density: {unit} does not fit.",
    remedy="Weigh it. If it was measured by volume, enter its bulk density beside the material.",
    fires=_powder(), nearly=_powder(density_g_ml=0.5),
)  # fmt: skip
def powder_by_volume(run_steps, materials):
    """A powder has no volume of its own; how it was poured decides."""
    of = materials.set_index("material_id")
    told = run_steps.assign(name=texts(run_steps["material_id"], of["name"]))
    dusty = [r for r in schema.words("material_role") if "dust" in schema.word("material_role", r)["hazard"]]
    powder = told["action"].eq("powder") | texts(told["material_id"], of["role"]).isin(dusty)
    dense = numbers(told["material_id"], of["density_g_ml"]).notna()
    by_volume = dimensions(told["unit"]).eq("volume").fillna(value=False)
    return told[powder.fillna(value=False) & by_volume & told["name"].notna() & ~dense]


@rule(
    "coating.amount-unit-unfit", severity="error", reads=("run_steps",), at="run_steps.unit",
    says="Run {run_id}, step {step} ({action}): {amount} {unit} is no amount of anything.",
    remedy="Times, temperatures and speeds have columns of their own.",
    fires=several(RUN, stepped("R1", {"action": "wet", "amount": 2.0, "unit": "min"})),
    nearly=several(RUN, stepped("R1", {"action": "wet", "amount": 2.0, "unit": per("mL", "kg")})),
)  # fmt: skip
def amount_unit_unfit(run_steps):
    """An amount is a mass, a volume, a number, or one of these per something."""
    return run_steps[run_steps["amount"].notna() & dimensions(run_steps["unit"]).isin(_NO_AMOUNT)]


@rule(
    "coating.strength-unit-unfit", severity="error", reads=("run_steps",), at="run_steps.concentration_unit",
    says="Run {run_id}, step {step} ({action}): {concentration} {concentration_unit} is no strength of a liquid.",
    remedy="A strength is a share with its basis, or a mass or amount in a volume or mass.",
    fires=several(RUN, stepped("R1", {"action": "wet", "concentration": 2.0, "concentration_unit": "mL"})),
    nearly=several(RUN, stepped("R1", {"action": "wet", "concentration": 2.0, "concentration_unit": per("mmol", "L")})),
)  # fmt: skip
def strength_unit_unfit(run_steps):
    """A strength is of something in something."""
    got = dimensions(run_steps["concentration_unit"])
    no_strength = got.isin((*_NO_AMOUNT, "mass", "volume", "mass per unit", "mass per area"))
    return run_steps[run_steps["concentration"].notna() & no_strength]


RULES = (dose_without_basis, dose_unit_unfit, amount_without_unit, amount_without_basis, amount_basis_unsaid,
         powder_by_volume, amount_unit_unfit, strength_unit_unfit)  # fmt: skip
