"""Where what germinated disagrees with what is known of the lot."""

import numpy as np
import pandas as pd

from palea import schema
from palea.checks.examples import dish, examined, lot, several
from palea.checks.rule import rule
from palea.derived.counting import ends
from palea.derived.field_counts import live_shares

FEWEST = 50  # seeds that were followed to their end
TOO_FEW = 0.2  # below the living share of the lot's tests; dishes and samples differ by less, as a rule
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


def _ended(alive, **seeds):
    """A lot of which so many of 100 are alive by its tests, and three dishes of it in which seed ended like this."""
    tests = (examined("AV-0", "fill", {"filled": 100}, out_of=100),
             examined("AV-0", "viability", {"viable": alive, "dead": 100 - alive}, out_of=100))  # fmt: skip
    dishes = (dish(f"D{n}", "AV-0", visits={f"2025-03-1{n}": seeds}) for n in (1, 2, 3))
    return several(lot("AV-0"), *tests, *dishes)


@rule(
    "germination.waiting-as-dead",
    severity="warning",
    reads=("lots", live_shares, ends),
    at="lots.lot_id",
    needs="tests",
    says="Lot {lot_id}: {alive} % of what was sown in trials came up, and all the rest is entered as dead or empty, though by "
    "its tests {viable} % is alive. Was hard or fresh seed counted as dead?",
    remedy="Press, cut or stain what did not come up: hard and fresh seed is alive and waits. Enter it as that.",
    fires=_ended(93, normal=9, dead=16),
    nearly=_ended(93, normal=9, hard=14, dead=2),
)
def waiting_as_dead(lots, live_shares, ends):
    """Seed that was alive and did not come up waits; where none is said to wait, it cannot be so much less than was alive."""
    known = live_shares.set_index("lot")["viable"].dropna()
    mine = ends[ends["lot"].isin(known.index) & ends["seeds_each"].eq(1) & ends["dead"].notna()]
    if mine.empty:
        return None
    seen = {name: mine[list(schema.words("outcome", **{name: True}))].sum(axis=1) for name in ("germinated", "waiting")}
    over = mine[list(schema.words("outcome", ends_a_seed=True))].sum(axis=1) >= mine["sown"]
    by = mine.assign(**seen)[over].groupby("lot")[["germinated", "waiting", "sown"]].sum()
    by = by.assign(viable=known.reindex(by.index), alive=by["germinated"] / by["sown"])
    odd = by[by["waiting"].eq(0) & by["sown"].ge(FEWEST) & (by["alive"] < by["viable"] - TOO_FEW)]
    told = odd.assign(**{name: (100 * odd[name]).round() for name in ("alive", "viable")})
    found = lots[lots["lot_id"].isin(told.index)]
    return found.assign(**{name: told[name].reindex(found["lot_id"]).to_numpy() for name in ("alive", "viable")})


RULES = (above_filled, waiting_as_dead)
