"""Which levels of which factors a treatment has: as it was meant, and as its lots' lineage says it was done.

Factors are compared in the terms of the question: a lot in its hull has no cleaning method, and hand cleaning is the
method's zero, so untouched against hand-cleaned seed asks about the hull alone. A coat brings its tumbling and wetting
along, a soak its water; an active's dose is part of it where the other side has none.
"""

import pandas as pd

from palea import schema
from palea.derived.lineage import history
from palea.derived.lookup import texts
from palea.derived.view import view

NONE = ""


@view(
    treatments="treatment_id hull clean_method coat_class route soak_then role",
    treatment_actives="treatment_id material_id",
)
def intended(treatments, treatment_actives):
    """One row a treatment, as it was meant: hull, clean_method, coat, soak, handling, active (text; "" for none)."""
    actives = treatment_actives.groupby("treatment_id")["material_id"].agg(_together)
    zero = schema.words("clean_method", zero=True)
    bare = schema.words("coat_class", zero=True)
    return pd.DataFrame(
        {
            "treatment": treatments["treatment_id"],
            "hull": treatments["hull"].fillna(NONE),
            "clean_method": treatments["clean_method"].mask(treatments["clean_method"].isin(zero)).fillna(NONE),
            "coat": treatments["coat_class"].mask(treatments["coat_class"].isin(bare)).fillna(NONE),
            "route": treatments["route"].fillna(NONE),
            "soak": treatments["soak_then"].fillna(NONE),
            "handling": treatments["role"]
            .where(treatments["role"].isin(schema.words("treatment_role", sham=True)))
            .fillna(NONE),
            "active": texts(treatments["treatment_id"], actives).fillna(NONE),
        }
    )


@view(
    history,
    units="treatment_id lot_id",
    runs="run_id kind place_kind disclosure status",
    run_steps="run_id action material_id equipment_id",
    materials="material_id role disclosure",
    material_parts="material_id part_material_id",
)
def done(history, units, runs, run_steps, materials, material_parts):
    """One row a treatment that was sown, as done: put_on (all materials), coat_materials, kinds of run, hidden runs."""
    lots = units[["treatment_id", "lot_id"]].dropna().drop_duplicates()
    behind = lots.merge(history, left_on="lot_id", right_on="lot").merge(runs, left_on="run", right_on="run_id")
    steps = behind.merge(run_steps.dropna(subset=["material_id"]), on="run_id")[["treatment_id", "material_id"]]
    parts = _with_parts(steps.drop_duplicates(), material_parts)
    told = parts.merge(materials, on="material_id")
    by_treatment = pd.DataFrame({"treatment": lots["treatment_id"].drop_duplicates()}).set_index("treatment")
    coats = told[told["role"].isin(schema.words("material_role", stays=True))]
    hidden = behind[behind["disclosure"].isin(schema.words("disclosure", reported=False))]
    return (
        by_treatment.assign(
            coat_materials=coats.groupby("treatment_id")["material_id"].agg(_together),
            put_on=parts.groupby("treatment_id")["material_id"].agg(_together),
            kinds=behind.groupby("treatment_id")["kind"].agg(_together),
            hidden=hidden.groupby("treatment_id")["run_id"].agg(_together),
        )
        .fillna(NONE)
        .reset_index()
    )


def _with_parts(used, material_parts):
    """Materials used, and what they were prepared from, stock into solution included."""
    found, far = [used], used
    for _ in range(len(material_parts)):
        far = far.merge(material_parts, on="material_id").drop(columns="material_id")
        far = far.rename(columns={"part_material_id": "material_id"}).drop_duplicates()
        if far.empty:
            break
        found.append(far)
    return pd.concat(found).drop_duplicates()


def _together(names):
    return " + ".join(sorted(set(names.dropna())))


@view(intended, done)
def levels(intended, done):
    """One row a treatment: its levels by which two treatments are told apart; `product` where the recipe is hidden."""
    once = intended.drop_duplicates("treatment")  # a treatment entered twice is a fault of its own, found by its key
    both = once.merge(done, on="treatment", how="left").fillna(dict.fromkeys(done.columns, NONE))
    hidden = both["hidden"].ne(NONE)
    coat = (both["coat"] + ": " + both["coat_materials"]).str.strip(": ").mask(both["coat"].eq(NONE), NONE)
    return both.assign(coat=coat, product=both["hidden"].where(hidden, NONE))


def differing(a, b):
    """The factors in which two treatments (rows of `levels`, as mappings) differ, in words of the list asks_about."""
    if a["product"] != b["product"]:
        return [*_changed(a, b, ("hull", "clean_method")), "product"]
    if a["active"] and b["active"] and a["route"] != b["route"]:
        return [*_changed(a, b, ("hull", "clean_method", "active")), "route"]
    plain = _changed(a, b, ("hull", "clean_method", "coat", "soak", "active"))
    brings_handling = {"coat", "soak"} & set(plain)
    return plain if brings_handling else plain + _changed(a, b, ("handling",))


def _changed(a, b, names):
    return [name for name in names if a[name] != b[name]]
