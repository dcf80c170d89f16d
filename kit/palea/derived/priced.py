"""What a treatment costs: the price of its received seed, what is done to a kilogram of it, and what a campaign costs."""

import numpy as np
import pandas as pd

from palea import schema
from palea.derived.chain import established
from palea.derived.contrasts import asked
from palea.derived.lineage import ancestry, history, origins
from palea.derived.lookup import numbers, texts
from palea.derived.recovery import recovery, unit_masses
from palea.derived.view import view

KG, MINUTES = 1000.0, 60.0
FRESH = ("untouched", "reference")  # what money is set against: seed as received, and seed that is only cleaned


@view(
    origins, history, ancestry,
    units="treatment_id lot_id", lots="lot_id taxon_id", runs="run_id kind", movements="run_id lot_id kind",
)  # fmt: skip
def stations(origins, history, ancestry, units, lots, runs, movements):
    """One row a treatment, lot behind it and what that lot is to it: treatment, taxon, lot, run, station.

    station : "received" (nothing lies before it), "clean" (came out of the last cleaning run behind what was sown, which
    is `run`; the received lot itself where none cleaned it) and "sown" (what was put into units).
    """
    sown = units[["treatment_id", "lot_id"]].dropna().drop_duplicates().rename(columns={"lot_id": "lot"})
    first = sown.merge(origins, on="lot")
    cleaning = runs.loc[runs["kind"].eq("clean").fillna(value=False), "run_id"]
    last = sown.merge(history[history["run"].isin(cleaning)].drop_duplicates("lot"), on="lot", how="inner")
    made = movements[movements["kind"].eq("made").fillna(value=False)]
    itself = pd.DataFrame({"lot": sown["lot"].unique(), "ancestor": sown["lot"].unique()})
    behind = last.merge(pd.concat([itself, ancestry[["lot", "ancestor"]]]), on="lot")
    came = behind.merge(made[["run_id", "lot_id"]], left_on=["run", "ancestor"], right_on=["run_id", "lot_id"])
    untouched = first[~first["lot"].isin(last["lot"])]
    parts = [
        pd.DataFrame({"treatment": first["treatment_id"], "lot": first["origin"], "run": None, "station": "received"}),
        pd.DataFrame({"treatment": came["treatment_id"], "lot": came["ancestor"], "run": came["run"], "station": "clean"}),
        pd.DataFrame({"treatment": untouched["treatment_id"], "lot": untouched["origin"], "run": None, "station": "clean"}),
        pd.DataFrame({"treatment": sown["treatment_id"], "lot": sown["lot"], "run": None, "station": "sown"}),
    ]
    told = pd.concat([part.astype(object) for part in parts], ignore_index=True).drop_duplicates()
    taxon = texts(told["lot"], lots.drop_duplicates("lot_id").set_index("lot_id")["taxon_id"])
    return told.assign(taxon=taxon).reset_index(drop=True)


@view(stations, unit_masses, recovery)
def masses(stations, unit_masses, recovery):
    """One row a treatment: taxon, received_g, clean_g, product_g (thousand-seed weights), recovery (clean a received unit).

    Weights are means over its tested lots, nan where none was tested. recovery : units out over units in, all its last
    cleaning runs together; 1 where no run cleaned it; nan where one of them was not weighed or counted.
    """
    each = stations.assign(tsw=numbers(stations["lot"], unit_masses.set_index("lot")["tsw_g"]))
    wide = each.pivot_table(index="treatment", columns="station", values="tsw", aggfunc="mean", dropna=False)
    wide = wide.reindex(columns=["received", "clean", "sown"]).astype(np.float64)
    told = wide.rename(columns={"received": "received_g", "clean": "clean_g", "sown": "product_g"})
    runs = stations.dropna(subset=["run"])[["treatment", "run"]].drop_duplicates().merge(recovery, on="run", how="left")
    sums = runs.groupby("treatment")[["units_in", "units_out"]].sum(min_count=1)
    share = (sums["units_out"] / sums["units_in"]).where(~runs["units_out"].isna().groupby(runs["treatment"]).any())
    cleaned = told.index.isin(runs["treatment"])
    told = told.assign(recovery=np.where(cleaned, share.reindex(told.index), 1.0)).rename_axis("treatment").reset_index()
    taxon = stations.drop_duplicates("treatment").set_index("treatment")["taxon"]
    return told.assign(taxon=texts(told["treatment"], taxon))


@view(stations, runs="run_id hands_on_min", movements="run_id kind mass_g")
def hours(stations, runs, movements):
    """One row a treatment whose last cleaning was timed and weighed: hours of hands for a kg of seed that went in."""
    drawn = movements[movements["kind"].eq("drawn for run").fillna(value=False)].groupby("run_id")["mass_g"].sum(min_count=1)
    mine = stations.dropna(subset=["run"])[["treatment", "run"]].drop_duplicates()
    mine = mine.assign(
        minutes=numbers(mine["run"], runs.drop_duplicates("run_id").set_index("run_id")["hands_on_min"]),
        grams=numbers(mine["run"], drawn),
    ).dropna()
    sums = mine.groupby("treatment")[["minutes", "grams"]].sum()
    return (sums["minutes"] / MINUTES / (sums["grams"] / KG)).rename("hours").reset_index()


@view(
    masses, stations, hours,
    lots="lot_id price currency price_basis", costs="about_table about_id basis amount currency",
)  # fmt: skip
def prices(masses, stations, hours, lots, costs):
    """One row a treatment that can be priced, as calc.decision.cost reads it: taxon, treatment, price, received_g,
    clean_g, recovery, per_received, per_clean, campaign, currency.

    Work by the hour is brought to a kg of received seed by the minutes and grams of its own cleaning runs, a cost per kg
    of product to clean seed by the weights of both. A treatment is left out where a cost stands on another basis, where
    seed is priced by live seed, or where what is needed was not weighed or timed: passing a cost over would make it look
    cheap. Seed of several received lots costs their mean.
    """
    known = lots.drop_duplicates("lot_id").set_index("lot_id")
    per_kg = known["price"].where(known["price_basis"].eq("per kg of product").fillna(value=False))
    first = stations[stations["station"].eq("received")]
    price = numbers(first["lot"], per_kg).groupby(first["treatment"]).agg(lambda p: p.mean(skipna=False))
    told = masses.assign(price=numbers(masses["treatment"], price))
    mine = costs[costs["about_table"].eq("treatments").fillna(value=False)].dropna(subset=["about_id"])
    sums = _by_kind(mine, told.set_index("treatment"), hours.set_index("treatment")["hours"])
    told = told.merge(sums, left_on="treatment", right_index=True, how="left")
    told[["per_received", "per_clean", "campaign"]] = told[["per_received", "per_clean", "campaign"]].fillna(0.0)
    told["currency"] = _currency(mine, first, known).reindex(told["treatment"]).to_numpy()
    kept = told[~told["treatment"].isin(_untold(mine, hours)) & told["price"].notna() & told["recovery"].notna()]
    return kept[[
        "taxon", "treatment", "price", "received_g", "clean_g", "recovery", "per_received", "per_clean", "campaign", "currency",
    ]].reset_index(drop=True)  # fmt: skip


def _by_kind(costs, masses, hours):
    """Sums a treatment: per kg received, per kg clean, and once a campaign."""
    basis = costs["basis"]
    once = basis.isin(schema.words("cost_basis", once=True))
    of = {mass: basis.isin(schema.words("cost_basis", of_mass=mass)) for mass in ("received", "clean", "product")}
    heavier = masses["product_g"] / masses["clean_g"]
    of_product = (costs["amount"] * numbers(costs["about_id"], heavier)).where(of["product"])
    rows = pd.DataFrame({
        "treatment": costs["about_id"],
        "per_received": costs["amount"].where(of["received"], _hourly(costs, hours)),
        "per_clean": costs["amount"].where(of["clean"], of_product),
        "campaign": costs["amount"].where(once),
    })  # fmt: skip
    return rows.groupby("treatment")[["per_received", "per_clean", "campaign"]].sum()


def _hourly(costs, hours):
    return (costs["amount"] * numbers(costs["about_id"], hours)).where(costs["basis"].eq("per hour").fillna(value=False))


def _untold(costs, hours):
    """Treatments with a cost that cannot be brought to a kg or a campaign."""
    spread = costs["basis"].isin([b for b in schema.words("cost_basis") if schema.word("cost_basis", b)["of_mass"]])
    once = costs["basis"].isin(schema.words("cost_basis", once=True))
    timed = costs["basis"].eq("per hour").fillna(value=False) & costs["about_id"].isin(hours["treatment"])
    return set(costs.loc[~(spread | once | timed) | costs["amount"].isna(), "about_id"])


def _currency(costs, first, lots):
    """{treatment: its currency}; of several, all of them, so that whoever adds up is told."""
    paid = pd.DataFrame({"treatment": first["treatment"], "currency": texts(first["lot"], lots["currency"])})
    worked = costs[["about_id", "currency"]].rename(columns={"about_id": "treatment"})
    both = pd.concat([paid.astype(object), worked.astype(object)]).dropna()
    return both.groupby("treatment")["currency"].agg(lambda c: " and ".join(sorted(set(c))))


@view(established, treatments="treatment_id role")
def against_fresh(established, treatments):
    """One row a treatment that was followed to its end and what it is set against: taxon, a, b, environment.

    b : seed of its species as it was received, and seed that was only cleaned, where they were followed at that place too.
    """
    role = treatments.drop_duplicates("treatment_id").set_index("treatment_id")["role"]
    there = established[["taxon", "environment", "treatment"]].drop_duplicates()
    there = there.assign(role=texts(there["treatment"], role))
    base = there[there["role"].isin(FRESH)]
    both = there.merge(base, on=["taxon", "environment"], suffixes=("", "_b"))
    rank = both["role_b"].map({name: at for at, name in enumerate(FRESH)})
    earlier = both["role"].eq(FRESH[0]).fillna(value=False)
    kept = both[both["treatment"].ne(both["treatment_b"]) & ~earlier.to_numpy(bool)].assign(rank=rank)
    told = kept.sort_values("rank", kind="stable").rename(columns={"treatment": "a", "treatment_b": "b"})
    return told[["taxon", "environment", "a", "b"]].reset_index(drop=True)


@view(against_fresh)
def pairs(against_fresh):
    """One row a pair that money is asked about: taxon, a, b, at all places at once."""
    return against_fresh[["taxon", "a", "b"]].drop_duplicates().reset_index(drop=True)


@view(against_fresh, asked)
def compared(against_fresh, asked):
    """One row a pair whose ways are set side by side, at one place: taxon, environment, a, b.

    Each treatment against seed as it was received (where that was not sown, against seed that was only cleaned), then the
    primary contrasts of that place.
    """
    first = against_fresh.drop_duplicates(["taxon", "environment", "a"])
    mine = asked["primary"] & asked["refused"].eq("") & asked["environment"].isin(against_fresh["environment"])
    both = pd.concat([first, asked.loc[mine, ["taxon", "environment", "a", "b"]]])
    return both.drop_duplicates().reset_index(drop=True)
