"""Where what germinated disagrees with what is known of the lot."""

import numpy as np
import pandas as pd

from palea import schema
from palea.checks.examples import lot
from palea.checks.rule import rule

POINTS = 5  # a share that was only reported may be rounded, and its sample is another one


def _tests(**shares):
    """A lot with a fill test and a germination test of these percentages, told without counts."""
    rows = [{"test_id": f"Q-{q}", "lot_id": "AV-0", "quantity": q, "method": "x"} for q in shares]
    items = {"fill": "filled", "germination": "normal"}
    read = [
        {"test_id": f"Q-{q}", "replicate": 1, "item": items[q], "value": v, "unit": "%", "reported_only": True}
        for q, v in shares.items()
    ]
    return lot("AV-0") | {"tests": rows, "readings": read}


@rule(
    "germination.above-filled",
    severity="warning",
    reads=("tests", "readings"),
    at="tests.test_id",
    says="Lot {lot_id}: {share} % is said to germinate, but only {filled} % of its units hold a seed. Is that share "
    "of filled or of "
    "viable seed rather than of units sown?",
    remedy="Say of what it is a share. A share of filled seed does not belong where shares of sown units stand.",
    fires=_tests(fill=70, germination=91),
    nearly=_tests(fill=70, germination=72),
)
def above_filled(tests, readings):
    """No more units can germinate than hold a seed."""
    share = _share(tests, readings, "germination", schema.words("outcome", germinated=True))
    filled = _share(tests, readings, "fill", ["filled"])
    both = share.merge(filled.drop_duplicates("lot_id")[["lot_id", "pct"]], on="lot_id", suffixes=("", "_filled"))
    wrong = both[both["pct"] > both["pct_filled"] + POINTS].set_index("line")
    return tests.loc[tests.index.isin(wrong.index)].assign(share=wrong["pct"], filled=wrong["pct_filled"])


def _share(tests, readings, quantity, items):
    """One row a test of that quantity: line, lot_id, pct of what was looked at, from counts or as it was reported."""
    told = readings[readings["item"].isin(items)].merge(
        tests[tests["quantity"].eq(quantity)].reset_index(names="line")[["line", "test_id", "lot_id"]], on="test_id"
    )
    reported = told["unit"].eq("%").fillna(value=False)
    value = np.where(reported, told["value"], 100 * told["value"] / told["out_of"])
    by = pd.DataFrame({"line": told["line"], "lot_id": told["lot_id"], "replicate": told["replicate"], "pct": value})
    each = by.groupby(["line", "lot_id", "replicate"])["pct"].sum(min_count=1).reset_index()
    return each.groupby(["line", "lot_id"])["pct"].mean().reset_index().dropna(subset=["pct"])


RULES = (above_filled,)
