"""Treatments as they were meant against the runs behind the lots that were sown."""

import pandas as pd

from palea import schema
from palea.calc.units import per
from palea.checks.examples import dish, lot, run, several, treated
from palea.checks.rule import rule
from palea.derived.doses import delivered
from palea.derived.factors import levels
from palea.derived.lineage import history
from palea.derived.lookup import texts

LOST = 0.2  # share of an intended dose that may be missing, or too much, before it is told; common practice, no source


def _coated(material, role="binder", **materials):
    """A dish sown from a lot whose coating run used `material`, while the treatment speaks of a wetting agent."""
    step = {"run_id": "R1", "step": 1, "action": "spray", "material_id": material}
    return several(
        lot("AV-0"),
        lot("AV-1"),
        run("R1", "AV-0", "AV-1", kind="coat"),
        dish(lot_id="AV-1", treatment="T17", normal=3),
        treated("T17", coat_class="film", route="coat"),
        {"treatment_actives": [{"treatment_id": "T17", "material_id": "WET"}], "run_steps": [step]},
        {"materials": [{"material_id": "WET", "role": "surfactant"}, {"material_id": "BIND", "role": role}]},
        {"material_parts": [{"material_id": m, "part_material_id": p} for m, p in materials.items()]},
    )


@rule(
    "coating.treatment-not-done",
    severity="error",
    reads=("treatments", levels),
    at="treatments.treatment_id",
    needs="runs movements treatment_actives",
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
    "coating.active-not-meant", severity="error", reads=("treatments", levels, "materials"),
    at="treatments.treatment_id", needs="runs movements run_steps materials",
    says="The runs behind treatment {treatment_id} brought {brought}, which the treatment does not mean to bring.",
    remedy="Enter it among the treatment's actives, or name the lots that were really sown.",
    fires=_coated("BIND", role="active"), nearly=_coated("BIND"),
)  # fmt: skip
def active_not_meant(treatments, levels, materials):
    """An active or inoculant that nobody meant makes a blank of the treatment no longer a blank."""
    working = set(materials.loc[materials["role"].isin(("active", "inoculant")), "material_id"])
    told = levels.set_index("treatment")
    pairs = zip(told["put_on"], told["active"], strict=True)
    extra = [" + ".join(sorted((set(used.split(" + ")) & working) - set(meant.split(" + ")))) for used, meant in pairs]
    brought = texts(treatments["treatment_id"], pd.Series(extra, index=told.index, dtype=object))
    return treatments.assign(brought=brought)[brought.fillna("").ne("")]


def _classed(coat_class, seed_unit):
    return several(treated("T05", coat_class=coat_class), lot("AV-1", seed_unit=seed_unit), dish(treatment="T05"))


@rule(
    "coating.class-not-as-meant", severity="error", reads=("units", "treatments", "lots"), at="units.lot_id",
    says="Treatment {treatment_id} means the coat to be {coat_class}, but its units were sown from lot {lot_id}, which is "
    "{seed_unit}.",
    remedy="Correct the treatment, the lot that was sown, or the lot's seed unit: it goes by what stays visible.",
    fires=_classed("film", "encrusted"), nearly=_classed("none", "seed"),
)  # fmt: skip
def class_not_as_meant(units, treatments, lots):
    """The class of coat that was meant is the one that lies in the bag; told once a treatment and lot."""
    words = schema.words("seed_unit")
    bare = schema.words("coat_class", zero=True)[0]
    found = {w: schema.word("seed_unit", w).get("coat_class") or (bare if "hull" in schema.word("seed_unit", w) else None)
             for w in words}  # fmt: skip
    pairs = units.drop_duplicates(["treatment_id", "lot_id"])
    pairs = pairs.assign(coat_class=texts(pairs["treatment_id"], treatments.set_index("treatment_id")["coat_class"]),
                         seed_unit=texts(pairs["lot_id"], lots.set_index("lot_id")["seed_unit"]))  # fmt: skip
    return pairs[texts(pairs["seed_unit"], found).ne(pairs["coat_class"]).fillna(value=False)]


def _run(status):
    return several(lot("AV-0"), lot("AV-1"), run("R1", "AV-0", "AV-1", kind="coat", status=status), dish())


@rule(
    "coating.unfit-run-sown", severity="error", reads=("units", "runs", history),
    at="units.lot_id", needs="runs movements",
    says="Lot {lot_id} was sown ({unit_id} the first), but run {run_id} behind it is {status}: its seed is not what was meant.",
    remedy="Leave these units out with the reason, or set the state of the run right.",
    fires=_run("stopped"), nearly=_run("finished"),
)  # fmt: skip
def unfit_run_sown(units, runs, history):
    """Only a finished run gives seed that may be sown; told once a lot."""
    unfit = runs[~runs["status"].isin(schema.words("run_status", gives_seed=True)) & runs["status"].notna()]
    behind = history[history["run"].isin(unfit["run_id"])].drop_duplicates("lot").set_index("lot")["run"]
    in_use = units[~units["status"].isin(schema.words("unit_status", counts=False))].drop_duplicates("lot_id")
    told = in_use.assign(run_id=texts(in_use["lot_id"], behind))
    told = told.assign(status=texts(told["run_id"], unfit.set_index("run_id")["status"]))
    return told[told["run_id"].notna()]


def _assayed(found):
    return several(
        lot("AV-1"), treated("T10", route="coat"), dish(treatment="T10"),
        {"materials": [{"material_id": "GA3", "name": "GA3", "role": "active"}]},
        {"treatment_actives": [{"treatment_id": "T10", "material_id": "GA3", "amount": 150.0, "unit": per("mg", "kg"),
                                "basis": "per kg bare seed"}]},
        {"tests": [{"test_id": "Q1", "lot_id": "AV-1", "quantity": "assayed active", "material_id": "GA3"}],
         "readings": [{"test_id": "Q1", "replicate": 1, "item": "active", "value": found, "unit": per("mg", "kg")}]},
    )  # fmt: skip


@rule(
    "coating.dose-not-as-meant", severity="warning", reads=("treatment_actives", delivered), at="treatment_actives.amount",
    says="Treatment {treatment_id} means {intended} mg/kg of {material_id}; {stayed} mg/kg was found on the seed.",
    remedy="Compare with treatments that got the same dose, and report what was found beside what was meant.",
    fires=_assayed(92.0), nearly=_assayed(140.0),
)  # fmt: skip
def dose_not_as_meant(treatment_actives, delivered):
    """What was applied is not what stayed: the pan and the sieve keep some. Asked only where it was assayed."""
    told = treatment_actives.assign(intended=delivered["intended_mg_kg"], stayed=delivered["mg_kg"].round(1))
    off = (told["stayed"] / told["intended"] - 1).abs() > LOST
    return told[off & delivered["grade"].eq("assayed")]


RULES = (treatment_not_done, active_not_meant, class_not_as_meant, unfit_run_sown, dose_not_as_meant)
