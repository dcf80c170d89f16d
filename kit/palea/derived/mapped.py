"""Treatments and the factors in which they differ, laid out for the map of single steps."""

from types import MappingProxyType

import pandas as pd

from palea.derived.contrasts import asked as declared
from palea.derived.factors import NONE
from palea.derived.factors import levels as known_levels
from palea.derived.lookup import texts
from palea.derived.view import view

# What a factor brings along does not count beside it: a coat is put on by tumbling and wetting, a soak wets, an active
# comes by some route, a route has its own carrier, and of a withheld recipe only the product is known.
BRINGS = MappingProxyType({
    "coat": ("handling",), "soak": ("handling",), "active": ("route",), "route": ("coat", "soak", "handling"),
    "product": ("coat", "soak", "route", "active", "handling"),
})  # fmt: skip
# A level that only makes sense beside another: what is still in its hull has not been cleaned by any method.
ONLY_WITH = MappingProxyType({"clean_method": ("hull", "off")})
FACTORS = ("hull", "clean_method", "coat", "soak", "active", "route", "handling", "product")


@view(known_levels, units="treatment_id lot_id", lots="lot_id taxon_id")
def levels(levels, units, lots):
    """One row a species and treatment that was sown: taxon, treatment, and FACTORS as text ("" for none)."""
    taxon = texts(units["lot_id"], lots.drop_duplicates("lot_id").set_index("lot_id")["taxon_id"])
    sown = pd.DataFrame({"taxon": taxon, "treatment": units["treatment_id"]}).dropna().drop_duplicates()
    told = sown.merge(levels, on="treatment").reset_index(drop=True)
    route = told["route"].where(told["active"].ne(NONE), NONE)  # without an active nothing travels
    return told.assign(route=route)[["taxon", "treatment", *FACTORS]]


@view(levels, declared, treatments="treatment_id role")
def pairs(levels, asked, treatments):
    """One row a pair to be told: taxon, a, b: declared contrasts, then each treatment against seed as it was received."""
    role = treatments.drop_duplicates("treatment_id").set_index("treatment_id")["role"]
    each = levels[["taxon", "treatment"]].assign(role=texts(levels["treatment"], role))
    untouched = each[each["role"].eq("untouched").fillna(value=False)]
    both = each.merge(untouched, on="taxon", suffixes=("", "_b"))
    both = both[both["treatment"].ne(both["treatment_b"])]
    beside = pd.DataFrame({"taxon": both["taxon"], "a": both["treatment"], "b": both["treatment_b"]})
    mine = asked.loc[asked["taxon"].ne(""), ["taxon", "a", "b"]]
    return pd.concat([mine, beside]).drop_duplicates().reset_index(drop=True)


@view()
def brings():
    """What a factor brings along, by factor; see BRINGS."""
    return BRINGS


@view()
def only_with():
    """Which level of which other factor a factor needs; see ONLY_WITH."""
    return ONLY_WITH
