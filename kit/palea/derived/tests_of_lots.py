"""What the readings of tests say: counts with what they were counted of, masses of counted units, shares of a lot."""

import pandas as pd

from palea import schema
from palea.derived.lookup import numbers, texts
from palea.derived.spoken import amounts, sums
from palea.derived.view import view

PER = 1000.0  # a thousand-seed weight is of a thousand


@view(
    tests="test_id lot_id quantity status",
    readings="test_id replicate item value unit out_of reported_only",
    lots="lot_id seed_unit",
)
def read(tests, readings, lots):
    """One row a reading of a test that may be built on: its test, lot, quantity and the lot's seed unit.

    The index is that of readings. A test entered twice is taken as it stands first; the doubled key is told elsewhere.
    """
    named = tests.drop_duplicates("test_id").set_index("test_id")
    kept = readings[~texts(readings["test_id"], named["status"]).isin(schema.words("test_status", counts=False))]
    lot = texts(kept["test_id"], named["lot_id"])
    return pd.DataFrame(
        {
            "test": kept["test_id"],
            "lot": lot,
            "quantity": texts(kept["test_id"], named["quantity"]),
            "seed_unit": texts(lot, lots.set_index("lot_id")["seed_unit"]),
            "replicate": kept["replicate"],
            "item": kept["item"],
            "value": kept["value"],
            "unit": kept["unit"],
            "out_of": kept["out_of"],
            "reported": kept["reported_only"].fillna(value=False).astype(bool),
        }
    )


def counting():
    """Quantities whose readings sort units into kinds: every unit that was looked at is of one kind."""
    items = {q: schema.word("test_quantity", q)["items"] for q in schema.words("test_quantity")}
    return [q for q, kinds in items.items() if len(kinds) > 1 and all(_is_count(kind) for kind in kinds)]


def _is_count(item):
    return schema.word("reading_item", item)["unit"] == "1"


@view(read)
def counted(read):
    """Rows of `read` that are counts of units sorted into kinds; percentages without counts are left out."""
    return read[read["quantity"].isin(counting()) & read["unit"].eq("1") & ~read["reported"]]


@view(counted)
def sorted_units(counted):
    """One row a test and replicate of counts: test, lot, quantity, total of all kinds, out_of; indexed by its first reading."""
    by = counted.assign(line=counted.index).groupby(["test", "replicate"], sort=False)
    told = by.agg(line=("line", "first"), lot=("lot", "first"), quantity=("quantity", "first"),
                  total=("value", "sum"), out_of=("out_of", "max"))  # fmt: skip
    return told.reset_index().set_index("line")


@view(read, tests="test_id")
def thousand(read, tests):
    """One row a test of the mass of units: test, lot, seed_unit, groups, tsw_g, cv_pct; the index is that of tests."""
    groups = read[read["quantity"].eq("mass of units").fillna(value=False) & ~read["reported"] & (read["out_of"] > 0)]
    groups = groups.assign(each=PER * amounts(groups["value"], groups["unit"], "mass") / groups["out_of"])
    by = groups.dropna(subset=["each"]).groupby("test", sort=False)
    told = by.agg(lot=("lot", "first"), seed_unit=("seed_unit", "first"), groups=("each", "size"),
                  tsw_g=("each", "mean"), sd=("each", "std"))  # fmt: skip
    told = told.assign(cv_pct=100 * told["sd"] / told["tsw_g"]).drop(columns="sd").reset_index()
    line = pd.Series(tests.index, index=tests["test_id"])
    told.index = pd.Index(numbers(told["test"], line).astype("int64").to_numpy())
    return told


def share_of(counted, quantity, items):
    """Units of these kinds, of those looked at, pooled a lot: frame with k and n by lot; lots without both are left out."""
    mine = counted[counted["quantity"].eq(quantity).fillna(value=False)]
    n = mine.groupby(["lot", "test", "replicate"])["out_of"].max().groupby("lot")
    k = mine[mine["item"].isin(items)].groupby("lot")["value"].sum()
    both = pd.DataFrame({"k": k, "n": sums(n)}).dropna()
    return both[both["n"] > 0]
