"""How much of an active reached the seed: intended, by uptake, or assayed; per kg of bare seed."""

import pandas as pd

from palea import schema
from palea.derived.lookup import numbers
from palea.derived.view import view


@view(
    units="treatment_id lot_id",
    tests="test_id lot_id quantity material_id",
    readings="test_id replicate item value unit",
    treatment_actives="treatment_id material_id amount unit basis",
)
def delivered(units, tests, readings, treatment_actives):
    """One row a treatment and active: mg of active per kg of bare seed that the seed got, and the grade of that figure.

    grade "assayed" where the treatment's lots were assayed, "by uptake" where a soak's uptake was measured (an upper
    bound: not all that is taken up stays), else "intended"; nan where no basis leads to mg/kg.
    """
    lots = units[["treatment_id", "lot_id"]].dropna().drop_duplicates()
    doses, uptakes = (schema.words("test_quantity", gives=what) for what in ("dose", "uptake"))
    asked = tests[tests["quantity"].isin([*doses, *uptakes])]
    measured = lots.merge(asked, on="lot_id").merge(readings, on="test_id", suffixes=("", "_read"))
    assayed, uptake = (_mean(measured, quantities) for quantities in (doses, uptakes))
    rows = treatment_actives.assign(
        assayed=numbers(treatment_actives["treatment_id"], assayed),
        uptake=numbers(treatment_actives["treatment_id"], uptake),
    )
    strength = rows["amount"].where(rows["basis"].eq("solution strength")) * numbers(
        rows["unit"], _in_base("mass per volume")
    )
    per_kg = rows["amount"].where(rows["basis"].eq("per kg bare seed")) * numbers(
        rows["unit"], _in_base("mass per mass")
    )
    soaked = strength * rows["uptake"]
    grade = (
        pd.Series("intended", index=rows.index)
        .mask(soaked.notna(), "by uptake")
        .mask(rows["assayed"].notna(), "assayed")
    )
    return pd.DataFrame(
        {
            "treatment": rows["treatment_id"],
            "active": rows["material_id"],
            "intended_mg_kg": per_kg.fillna(soaked),
            "mg_kg": rows["assayed"].fillna(soaked).fillna(per_kg),
            "grade": grade,
        }
    )


def _mean(measured, quantities):
    """{treatment: mean over its lots' readings}. mg/kg and mL/g stand as they were read."""
    kept = measured[measured["quantity"].isin(quantities)]
    return kept.groupby(["treatment_id", "lot_id"])["value"].mean().groupby("treatment_id").mean()


def _in_base(dimension):
    """{unit: what one of it is in the base unit of the dimension}: mg/kg for doses, mg/L for solutions, mL/g for uptake."""
    return {u: schema.word("unit", u).get("in_base") for u in schema.words("unit", dimension=dimension)}
