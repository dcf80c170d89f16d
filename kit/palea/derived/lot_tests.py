"""Tests and movements of lots as the calculations on lots take them: a row a weighing, tin, replicate or movement."""

import pandas as pd

from palea import schema
from palea.calc.lots.life import DORMANT, FILLED, GERMINATED, VIABLE
from palea.calc.spans import earliest, latest
from palea.derived.converted import converted
from palea.derived.ledger import entries, stock
from palea.derived.lookup import moments, numbers, texts
from palea.derived.recovery import unit_masses
from palea.derived.tests_of_lots import PER, read, share_of
from palea.derived.view import view

PRICED_G = 1000.0  # both bases of a price are per kilogram


def wide(read, quantity):
    """One row a replicate of that test quantity: test, lot, seed_unit, replicate, out_of, and a column an item.

    Values are in the unit of their item in the schema, nan where they were read in a unit that does not lead there (a
    percentage where a count is asked for) or were only reported. An item entered twice is taken as it stands first.
    """
    items = list(schema.word("test_quantity", quantity)["items"])
    mine = read[read["quantity"].eq(quantity).fillna(value=False) & read["item"].isin(items) & ~read["reported"]]
    mine = mine.dropna(subset=["lot"]).assign(replicate=mine["replicate"].fillna(1.0))
    own = mine["item"].map({item: schema.word("reading_item", item)["unit"] for item in items})
    keys = ["test", "replicate"]
    once = mine.assign(value=converted(mine["value"], mine["unit"], own)).drop_duplicates([*keys, "item"])
    first = mine.groupby(keys, sort=False).agg(lot=("lot", "first"), seed_unit=("seed_unit", "first"), out_of=("out_of", "max"))
    values = {item: once[once["item"].eq(item)].set_index(keys)["value"].reindex(first.index) for item in items}
    return first.assign(**{item: v.to_numpy(float) for item, v in values.items()}).reset_index()


def newest(rows, tests):
    """Rows of the last day on which their lot was tested, for what changes while seed lies; undated tests give way."""
    day = moments(rows["test"], pd.Series(latest(tests["tested_at"]), index=tests["test_id"]))
    day = day.fillna(pd.Timestamp.min.ceil("s"))
    return rows[day.eq(day.groupby(rows["lot"]).transform("max"))]


def _of_taxon(rows, lots):
    return rows.assign(taxon=texts(rows["lot"], lots.set_index("lot_id")["taxon_id"]).fillna(""))


@view(read, lots="lot_id taxon_id")
def counted_groups(read, lots):
    """One row a counted group that was weighed: taxon, lot, test, replicate, mass_g, count, chaffy (still in its hull)."""
    rows = _of_taxon(wide(read, "mass of units"), lots)
    in_hull = rows["seed_unit"].isin(schema.words("seed_unit", hull="on"))
    told = rows.rename(columns={"mass": "mass_g", "out_of": "count"}).assign(chaffy=in_hull)
    return told[["taxon", "lot", "test", "replicate", "mass_g", "count", "chaffy"]]


@view(read, lots="lot_id taxon_id")
def purity_parts(read, lots):
    """One row a working sample: taxon, lot, test, replicate, pure_g, other_g, inert_g, sample_g; nan: not weighed."""
    rows = _of_taxon(wide(read, "purity"), lots)
    return rows[["taxon", "lot", "test", "replicate"]].assign(
        pure_g=rows["pure seed"], other_g=rows["other seed"], inert_g=rows["inert"], sample_g=rows["sample"]
    )


@view(read, lots="lot_id taxon_id", tests="test_id tested_at")
def tins(read, lots, tests):
    """One row a tin or meter reading of the last day a lot was tested: taxon, lot, test, replicate, tin_g, moist_g, dry_g,
    meter_pct. Seed takes up and gives off water, so older tests say nothing of it now.
    """
    rows = newest(_of_taxon(wide(read, "moisture"), lots), tests)
    return rows[["taxon", "lot", "test", "replicate"]].assign(
        tin_g=rows["tin"], moist_g=rows["tin with moist seed"], dry_g=rows["tin with dry seed"], meter_pct=rows["meter"]
    )


@view(read, lots="lot_id taxon_id", tests="test_id tested_at")
def counted_seeds(read, lots, tests):
    """One row a replicate and thing counted on the last day a lot was tested so: taxon, lot, test, replicate, quantity,
    denominator, k of n.

    Fill is of all units. A viability test knows no empty units, so it is of filled ones. A germination test gives what
    germinated and what waits, of all units; a kind that nobody entered counts as none where its fellow was counted.
    """
    fill, life = newest(wide(read, "fill"), tests), newest(wide(read, "viability"), tests)
    grown = newest(wide(read, "germination"), tests)
    frames = [
        _counts(fill, FILLED, "", ["filled"], "fill"),
        _counts(life, VIABLE, "filled", ["viable"], "viability"),
        _counts(grown, GERMINATED, "", _items("germination", germinated=True), "germination"),
        _counts(grown, DORMANT, "", _items("germination", waiting=True), "germination"),
    ]
    rows = _of_taxon(pd.concat(frames, ignore_index=True), lots)
    return rows[["taxon", "lot", "test", "replicate", "quantity", "denominator", "k", "n"]]


def _items(quantity, **properties):
    """Items of a test that are outcomes with these properties."""
    outcomes = schema.words("outcome", **properties)
    return [item for item in schema.word("test_quantity", quantity)["items"] if item in outcomes]


def _counts(rows, quantity, denominator, items, test):
    """K of n of these items; n is what was looked at, else all kinds together."""
    every = rows[list(schema.word("test_quantity", test)["items"])].sum(axis=1, min_count=1)
    told = rows[["lot", "test", "replicate"]].assign(quantity=quantity, denominator=denominator)
    return told.assign(k=rows[items].sum(axis=1, min_count=1), n=rows["out_of"].fillna(every)).dropna(subset=["k", "n"])


def live(counted):
    """{lot: share of its units that hold a living seed}: filled units times viable of the filled; nan without either."""
    filled, viable = share_of(counted, "fill", ("filled",)), share_of(counted, "viability", ("viable",))
    both = (filled["k"] / filled["n"]) * (viable["k"] / viable["n"])
    return both.where(both > 0)


@view(stock, counted_seeds, lots="lot_id taxon_id price currency price_basis source_kind status")
def bags(stock, counted_seeds, lots):
    """One row a lot in use that was bought or tested for life: taxon, lot, mass_g (left by the book), price, per_g,
    per_pure_live, currency, established (nan: what comes up in the field is asked there).
    """
    once = lots.dropna(subset=["lot_id"]).drop_duplicates("lot_id")
    tested = once["lot_id"].isin(counted_seeds["lot"]) | once["price"].notna()
    kept = once[tested & ~once["status"].isin(schema.words("lot_status", open=False))]
    return pd.DataFrame(
        {
            "taxon": kept["taxon_id"].fillna(""),
            "lot": kept["lot_id"],
            "mass_g": numbers(kept["lot_id"], stock.set_index("lot")["mass_g"]).clip(lower=0.0),
            "price": kept["price"],
            "per_g": PRICED_G,
            "per_pure_live": kept["price_basis"].eq("per kg PLS").fillna(value=False).astype(bool),
            "currency": kept["currency"].fillna(""),
            "established": float("nan"),
        }
    ).reset_index(drop=True)


@view(
    entries, movements="lot_id moved_at kind mass_g moisture_pct", lots="lot_id taxon_id status",
)  # fmt: skip
def lot_movements(entries, movements, lots):
    """One row a movement of a lot that is still in use, in order of time: taxon, lot, signed_g, moisture_pct, weighed_g.

    Weighings of a day come after what was moved on it. A movement without a day comes last.
    """
    moved = entries.assign(signed_g=entries["mass_g"], weighed_g=float("nan"), rank=0)
    scale = movements[movements["kind"].eq("weighed").fillna(value=False)].dropna(subset=["lot_id", "mass_g"])
    weighed = pd.DataFrame({
        "lot": scale["lot_id"], "earliest": earliest(scale["moved_at"]), "line": scale.index, "signed_g": float("nan"),
        "weighed_g": scale["mass_g"], "rank": 1,
    })  # fmt: skip
    columns = ["lot", "earliest", "line", "signed_g", "weighed_g", "rank"]
    both = pd.concat([moved[columns], weighed[columns]]) if len(weighed) else moved[columns]
    both = both[both["lot"].isin(_open(lots))].sort_values(["earliest", "rank", "line"], kind="stable")
    moisture = numbers(both["line"], movements["moisture_pct"])
    told = _of_taxon(both.assign(moisture_pct=moisture), lots).reset_index(drop=True)
    place = numbers(told["lot"], pd.Series(range(len(lots)), index=lots["lot_id"]))
    told = told.iloc[place.argsort(kind="stable")].reset_index(drop=True)
    return told[["taxon", "lot", "signed_g", "moisture_pct", "weighed_g"]]


def _open(lots):
    return lots.loc[~lots["status"].isin(schema.words("lot_status", open=False)), "lot_id"].dropna()


@view(
    unit_masses, units="unit_id trial_id lot_id sown_n sown_g status first_wetted_at placed_at",
    movements="lot_id trial_id kind", lots="lot_id status",
)  # fmt: skip
def planned_draws(unit_masses, units, movements, lots):
    """One row a unit that is planned and whose seed was not drawn yet: lot, grams (nan where neither mass nor TSW is known)."""
    drawn = movements[movements["kind"].eq("sown").fillna(value=False)]
    done = pd.MultiIndex.from_frame(drawn[["lot_id", "trial_id"]])
    waiting = units["placed_at"].isna() & units["first_wetted_at"].isna() & units["lot_id"].isin(_open(lots))
    waiting &= ~units["status"].isin(schema.words("unit_status", counts=False))
    kept = units[waiting & ~pd.MultiIndex.from_frame(units[["lot_id", "trial_id"]]).isin(done)]
    tsw = numbers(kept["lot_id"], unit_masses.set_index("lot")["tsw_g"])
    grams = kept["sown_g"].fillna(kept["sown_n"] * tsw / PER)
    return pd.DataFrame({"lot": kept["lot_id"], "grams": grams}).reset_index(drop=True)
