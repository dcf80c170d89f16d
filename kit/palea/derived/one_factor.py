"""Treatments two by two: in what they differ, which pairs differ in exactly one thing, and which arms would close a gap."""

from itertools import combinations

import pandas as pd

from palea.derived.contrasts import SAME_DOSE
from palea.derived.doses import delivered
from palea.derived.factors import NONE, differing, levels
from palea.derived.lookup import texts
from palea.derived.view import view


@view(levels, units="treatment_id lot_id", lots="lot_id taxon_id", treatments="treatment_id label role")
def arms(levels, units, lots, treatments):
    """One row a species and treatment sown of it, in the order of treatments: taxon, treatment, label, role, hull, active."""
    taxon = texts(units["lot_id"], lots.drop_duplicates("lot_id").set_index("lot_id")["taxon_id"])
    sown = pd.DataFrame({"taxon": taxon, "treatment": units["treatment_id"]}).dropna().drop_duplicates()
    told = treatments.drop_duplicates("treatment_id").rename(columns={"treatment_id": "treatment"})
    both = told.merge(sown, on="treatment").merge(levels[["treatment", "hull", "active"]], on="treatment")
    order = {t: i for i, t in enumerate(dict.fromkeys(sown["taxon"]))}
    both = both.assign(label=both["label"].fillna(both["treatment"]), at=both["taxon"].map(order))
    return both.sort_values("at", kind="stable").drop(columns="at").reset_index(drop=True)


@view(arms, levels, delivered, contrasts="a b")
def pairs(arms, levels, delivered, contrasts):
    """One row a pair of treatments of one species: taxon, a, b, differs (factors, comma between), n of them, declared.

    The dose is a factor of its own where both have the same active and its delivered doses lie apart by more than SAME_DOSE.
    """
    level = levels.drop_duplicates("treatment").set_index("treatment").to_dict("index")
    dose = delivered.groupby("treatment")["mg_kg"].sum(min_count=1)
    asked = {frozenset(pair) for pair in zip(contrasts["a"], contrasts["b"], strict=True)}
    rows = []
    for taxon, own in arms.groupby("taxon", sort=False):
        for a, b in combinations(own["treatment"], 2):
            found = [*differing(level[a], level[b]), *_dose(level[a], level[b], dose.get(a), dose.get(b))]
            rows.append((taxon, a, b, ", ".join(found), len(found), frozenset((a, b)) in asked))
    return pd.DataFrame(rows, columns=["taxon", "a", "b", "differs", "n", "declared"])


def _dose(a, b, of_a, of_b):
    """["dose"] where two arms carry the same active in doses that are known and not the same."""
    if a["active"] == NONE or a["active"] != b["active"] or pd.isna(of_a) or pd.isna(of_b):
        return []
    low, high = SAME_DOSE
    return [] if low <= of_a / of_b <= high else ["dose"]


@view(arms)
def absent(arms):
    """One row an active of a species that no arm puts on seed as it was received: taxon, active, base (that arm's id).

    Without such an arm nobody can tell whether the active needs the cleaned seed, or would do on the seed in its hull.
    """
    bare = arms[arms["role"].eq("untouched").fillna(value=False)]
    base = bare.drop_duplicates("taxon").set_index("taxon")
    rows = []
    for (taxon, active), own in arms[arms["active"].ne(NONE)].groupby(["taxon", "active"], sort=False):
        if taxon in base.index and base.loc[taxon, "hull"] not in set(own["hull"]):
            rows.append((taxon, active, base.loc[taxon, "treatment"]))
    return pd.DataFrame(rows, columns=["taxon", "active", "base"])
