"""What was measured of seed as a material: how it flows, what a seeder makes of it, and whether a mixture stays mixed."""

import numpy as np
import pandas as pd

from palea import schema
from palea.derived import contrasts
from palea.derived.field_counts import keeps_shares, live_shares
from palea.derived.lineage import ancestry, batches, history, origins, parents
from palea.derived.lookup import TEXT, numbers, texts
from palea.derived.tests_of_lots import thousand
from palea.derived.view import View, view

PLACE = ["taxon", "treatment", "environment", "batch"]
PORTION = ["trial", "lot", "replicate"]


@view(
    batches,
    handling_runs="handling_id trial_id lot_id treatment_id method replicate speed_km_h length_m width_m hopper_third "
    "filled_g delivered_g seconds stops angle_deg volume_ml status",
    lots="lot_id taxon_id",
)
def handled(batches, handling_runs, lots):
    """One row a handling run that may be built on: PLACE, trial, lot, run, method and what was read.

    A material without a treatment, as a mixture, goes under its lot (`is_lot`). environment is "": rooms are not compared.
    """
    out = handling_runs["status"].isin(schema.words("test_status", counts=False))
    known = handling_runs[handling_runs["lot_id"].notna() & ~out].drop_duplicates("handling_id")
    taxon = lots.drop_duplicates("lot_id").set_index("lot_id")["taxon_id"]
    named = {"handling_id": "run", "trial_id": "trial", "lot_id": "lot"}
    return known.drop(columns=["treatment_id", "status"]).rename(columns=named).assign(
        taxon=texts(known["lot_id"], taxon).fillna(""), treatment=known["treatment_id"].fillna(known["lot_id"]), environment="",
        batch=texts(known["lot_id"], batches.set_index("lot")["batch"]).fillna(""), is_lot=known["treatment_id"].isna(),
    ).reset_index(drop=True)  # fmt: skip


@view(handled)
def samples(handled):
    """One row a sample poured once, by its repetition: PLACE, unit, and what flow was read of it; nan where it was not.

    A cone is handed on by its angle: height and radius stand for it, the radius being 1. A funnel that stopped is blocked.
    """
    by = {method: part.drop_duplicates(PORTION).set_index(PORTION) for method, part in handled.groupby("method")}
    none = handled.head(0).set_index(PORTION)
    loose, tapped = by.get("bulk density", none), by.get("tapped density", none)
    cone, funnel = by.get("angle of repose", none), by.get("funnel", none)
    poured = loose.index.append([tapped.index, cone.index, funnel.index])
    keys = pd.MultiIndex.from_frame(handled[PORTION])
    each = handled[keys.isin(poured)].drop_duplicates(PORTION).set_index(PORTION)
    mass = loose["filled_g"].reindex(each.index).fillna(tapped["filled_g"].reindex(each.index))
    read = {
        "mass_g": mass, "bulk_ml": loose["volume_ml"], "tapped_ml": tapped["volume_ml"],
        "cone_height_mm": np.tan(np.radians(cone["angle_deg"])), "cone_radius_mm": cone["angle_deg"] * 0 + 1,
        "funnel_g": funnel["delivered_g"].fillna(funnel["filled_g"]), "funnel_s": funnel["seconds"],
        "blocked": funnel["stops"].gt(0).astype(float).where(funnel["stops"].notna()),
    }  # fmt: skip
    told = each[PLACE].assign(**{name: values.reindex(each.index) for name, values in read.items()}).reset_index()
    return told.assign(unit=told["lot"].astype(TEXT) + " " + _number(told["replicate"]))[[*PLACE, "unit", *read]]


def _number(replicate):
    return replicate.fillna(0).astype(int).astype(str).astype(TEXT)  # an empty one would have no type of its own


@view(handled)
def seeder_runs(handled):
    """Rows of `handled` that a seeder ran along a row, with the run that each is part of: thirds of one hopper are one run."""
    along = schema.words("handling_method", counts_along=True)
    mine = handled[handled["method"].isin(along)]
    whole = mine["lot"] + " run " + _number(mine["replicate"])
    third = mine["hopper_third"].notna()
    return mine.rename(columns={"run": "part"}).assign(run=whole.where(third, mine["run"]))


@view(seeder_runs, handling_counts="handling_id place_no length_m seeds")
def metres(seeder_runs, handling_counts):
    """One row a run and stretch: run, metre (its number), count of all seed there; nan where a part of it was not counted.

    Places of single seeds, which have no length, are no stretches.
    """
    stretches = handling_counts[handling_counts["length_m"].ne(0)].drop(columns="length_m")
    both = stretches.merge(seeder_runs[["part", "run"]], left_on="handling_id", right_on="part")
    by = both.groupby(["run", "part", "place_no"], sort=False)["seeds"]
    told = by.sum().where(by.count().eq(by.size())).rename("count").reset_index()
    return told.assign(metre=told.groupby("run").cumcount() + 1)[["run", "metre", "count"]]


@view(parents, history, thousand, lots="lot_id", runs="run_id kind")
def units_masses(parents, history, thousand, lots, runs):
    """One row a lot: lot, tsw_g of bare seed, build_up_pct of what is on it (0: not coated); nan where nobody weighed it.

    Of the lots that it is a portion of, the nearest that was weighed stands for the product; of those that it was coated,
    soaked or dried from, the farthest weighed one for the bare seed.
    """
    kind = runs.drop_duplicates("run_id").set_index("run_id")["kind"]
    kept = parents["run"].eq("") | keeps_shares(texts(parents["run"], kind))
    itself = pd.DataFrame({"lot": lots["lot_id"].dropna().unique()})
    mass = thousand.groupby("lot")["tsw_g"].mean()
    single = parents.groupby("lot")["parent"].transform("nunique").eq(1)  # of a mixture no part says what it weighs
    product = _weighed(itself, parents[single & parents["run"].eq("")], mass).groupby("lot")["tsw_g"].first()
    bare = _weighed(itself, parents[single & kept], mass).groupby("lot")["tsw_g"].last()
    coated = history.loc[texts(history["run"], kind).eq("coat").fillna(value=False), "lot"]
    heavier = 100 * (numbers(itself["lot"], product) / numbers(itself["lot"], bare) - 1)
    build_up = heavier.clip(lower=0).where(itself["lot"].isin(coated), 0.0)
    return itself.assign(tsw_g=numbers(itself["lot"], bare), build_up_pct=build_up)


def _weighed(itself, edges, mass):
    """Lots with the weighed lots that they come from along these edges, nearest first."""
    chain = pd.concat([itself.assign(ancestor=itself["lot"], steps=0), ancestry.function(edges)])
    found = chain.assign(tsw_g=numbers(chain["ancestor"], mass)).dropna(subset=["tsw_g"])
    return found.sort_values("steps", kind="stable")


@view(seeder_runs, units_masses, live_shares)
def runs(seeder_runs, units_masses, live_shares):
    """One row a run: PLACE, run, length_m, stops, speed_km_h, delivered_g, width_m, tsw_g, build_up_pct, live_pct."""
    by = seeder_runs.groupby("run", sort=False)
    sums = {name: by[name].sum().where(by[name].count().eq(by.size())) for name in ("length_m", "stops", "delivered_g")}
    told = seeder_runs.drop_duplicates("run").set_index("run").assign(**sums).reset_index()
    weighed, share = units_masses.set_index("lot"), live_shares.set_index("lot")["viable"]
    read = ["run", "length_m", "stops", "speed_km_h", "delivered_g", "width_m"]
    return told[[*PLACE, *read]].assign(
        tsw_g=numbers(told["lot"], weighed["tsw_g"]), build_up_pct=numbers(told["lot"], weighed["build_up_pct"]),
        live_pct=100 * numbers(told["lot"], share),
    )  # fmt: skip


@view(seeder_runs)
def gaps(seeder_runs):
    """No rows: run, gap_mm, wanted_mm. Which gap was wanted is not recorded, so places of single seeds say no spacing."""
    return pd.DataFrame({"run": seeder_runs["run"].head(0), "gap_mm": np.zeros(0), "wanted_mm": np.zeros(0)})


@view(handled)
def without_treatment(handled):
    """One row a material that goes under its lot, because it has no treatment: lot."""
    return handled.loc[handled["is_lot"], ["lot"]].drop_duplicates().reset_index(drop=True)


@view(handled, origins)
def arms(handled, origins):
    """One row a trial and treatment that was handled, as contrasts are asked of it: see palea.derived.contrasts.arms."""
    from_lots = handled[~handled["is_lot"]].merge(origins, on="lot", how="left")
    by = from_lots.groupby(["trial", "environment", "treatment"], sort=False)
    return by.agg(
        taxon=("taxon", "first"), dishes=("run", "nunique"), batches=("batch", "nunique"),
        origins=("origin", lambda s: frozenset(s.dropna())),
    ).reset_index()  # fmt: skip


def _asked():
    """Declared contrasts of what was handled: those of dishes and plots, asked of the materials that ran."""
    others = tuple(arms if v is contrasts.arms else v for v in contrasts.asked.views)

    def asked(**read):
        return contrasts.asked.function(**read)

    return View(asked, contrasts.asked.columns, others)


asked = _asked()
