"""Every figure that a written procedure sets, beside what the run did."""

import pandas as pd

from palea import schema
from palea.derived.converted import converted
from palea.derived.lookup import TEXT, numbers
from palea.derived.made_for import made_for, run_seed
from palea.derived.view import view

G_IN_KG = 1000.0
BESIDE = ["action", "material", "cycle", "nth"]
BOUNDS = ("lowest", "highest")
COLUMNS = ["taxon", "treatment", "batch", "what", "planned", *BOUNDS, "done", "unit", "reason"]


def figures():
    """Columns of a step that a procedure can set a figure and its bounds for."""
    fields = schema.table("protocol_steps").fields
    return [name for name in fields if f"lowest_{name}" in fields]


def _columns(table, *more):
    fields = schema.table(table).fields
    bounds = [f"{bound}_{name}" for name in figures() for bound in BOUNDS if f"{bound}_{name}" in fields]
    return " ".join((*more, *figures(), *bounds, *(c for c in ("unit", "basis") if c in fields)))


@view(
    made_for, run_seed, runs="run_id protocol_id version",
    run_steps=_columns("run_steps", "run_id", "step", "action", "cycle", "material_id", "deviation", "reason"),
    protocol_steps=_columns("protocol_steps", "protocol_id", "version", "step", "action", "cycle", "material_id"),
)  # fmt: skip
def planned_steps(made_for, run_seed, runs, run_steps, protocol_steps):
    """One row a coating or soaking run and figure that its procedure sets: taxon, treatment, batch, what, planned, lowest
    and highest that it allows, done, unit, reason.

    A step of the run is the step of the procedure with the same action, material and cycle, in order where there are
    several. Amounts per kg of seed are of what was put in. done is nan where the step or its figure was not written down.
    """
    mine = made_for[made_for["kind"].isin(["coat", "soak"])]
    whose = runs.dropna(subset=["run_id"]).drop_duplicates("run_id").rename(columns={"run_id": "run"})
    mine = mine.merge(whose, on="run").dropna(subset=["protocol_id"])
    plan = _stacked(_numbered(protocol_steps, ["protocol_id", "version"]), ["protocol_id", "version"])
    plan = plan.dropna(subset=["value", *BOUNDS], how="all")
    plan = plan.rename(columns={"value": "planned", "unit": "planned_unit", "basis": "planned_basis"})
    did = _stacked(_numbered(run_steps, ["run_id"]), ["run_id"], "deviation", "reason").rename(columns={"run_id": "run"})
    both = mine.merge(plan, on=["protocol_id", "version"])
    both = both.merge(did.drop(columns="step"), on=["run", *BESIDE, "figure"], how="left")
    kilos = numbers(both["run"], run_seed.set_index("run")["seed_g"]) / G_IN_KG
    share = _of_seed(both["planned_basis"], kilos)
    done = converted(both["value"] * _of_seed(both["basis"], kilos), both["unit"], both["planned_unit"])
    return pd.DataFrame(
        {
            "taxon": both["taxon"], "treatment": both["treatment"], "batch": both["run"], "what": _what(both),
            "planned": both["planned"] * share, **{name: both[name] * share for name in BOUNDS}, "done": done,
            "unit": both["planned_unit"].fillna(""),
            "reason": both["reason"].fillna(both["deviation"]).fillna(""),
        },
        columns=COLUMNS,
    )  # fmt: skip


def _numbered(steps, keys):
    """Steps with blanks made plain, and `nth` of those alike in action, material and cycle."""
    told = steps.dropna(subset=[keys[0]]).rename(columns={"material_id": "material"})
    told = told.assign(material=told["material"].fillna(""), cycle=told["cycle"].fillna(0.0), action=told["action"].fillna(""))
    return told.assign(nth=told.groupby([*keys, "action", "material", "cycle"], dropna=False).cumcount())


def _stacked(steps, keys, *more):
    """One row a step and figure: value, its bounds where there are such, unit and basis (of an amount as written)."""
    fields = schema.table("run_steps").fields
    frames = []
    for name in figures():
        amount = name == "amount"
        frames.append(steps[[*keys, "step", *BESIDE, *more]].assign(
            figure=name, value=steps[name], unit=steps["unit"] if amount else fields[name].unit,
            basis=steps["basis"] if amount else "",
            **{bound: steps[f"{bound}_{name}"] for bound in BOUNDS if f"{bound}_{name}" in steps},
        ))  # fmt: skip
    return pd.concat(frames, ignore_index=True).astype({"unit": TEXT, "basis": TEXT, "figure": TEXT})


def _of_seed(basis, kilos):
    """What an amount of that basis is multiplied by to be in all."""
    return kilos.where(basis.isin(["per kg seed put in", "per kg bare seed"]).fillna(value=False), 1.0)


def _what(rows):
    """"step 3, powder, kaolin: amount"."""
    titles = {name: schema.table("run_steps")[name].title.lower() for name in figures()}
    step = "step " + rows["step"].fillna(0).astype(int).astype(TEXT) + ", " + rows["action"].astype(TEXT)
    material = (", " + rows["material"].astype(TEXT)).mask(rows["material"].eq(""), "")
    return step + material + ": " + rows["figure"].map(titles).astype(TEXT)
