"""The way of seed from sown unit to established plant, stage by stage, each stage counted on units of its own.

Filled and viable come from the tests of the lots behind a treatment, germinated from dishes, the rest from plots. Where a
package has a field trial, only what was sown there has a way that leads to an end.
"""

import numpy as np
import pandas as pd

from palea import schema
from palea.derived.counting import ends
from palea.derived.field_counts import by_visit, seedlings, sown_plots
from palea.derived.ladder import alike
from palea.derived.lineage import ancestry, batches, parents
from palea.derived.lookup import numbers, texts
from palea.derived.tests_of_lots import counted
from palea.derived.view import view

COLUMNS = ["taxon", "treatment", "environment", "stage", "unit", "batch", "entered", "passed", "of", "rung"]
KEYS = ["taxon", "environment", "treatment"]


@view(counted, parents, batches, lots="lot_id taxon_id", runs="run_id kind", units="treatment_id lot_id")
def tested(counted, parents, batches, lots, runs, units):
    """One row a treatment, test and replicate: taxon, treatment, quantity, unit, batch, entered and passed (seed units).

    Tests of fill and of viability: those of the lots that were sown, else of the nearest lots before them whose shares
    still hold (coating, soaking and drying keep them). A replicate that stands behind several lots of a treatment is there once.
    """
    kinds = runs.loc[runs["kind"].isin(schema.words("run_kind", keeps_shares=True)), "run_id"]
    before = ancestry.function(parents[parents["run"].eq("") | parents["run"].isin(kinds)])
    sown = units[["treatment_id", "lot_id"]].dropna().drop_duplicates()
    itself = pd.DataFrame({"lot": sown["lot_id"].unique()})
    chain = pd.concat([itself.assign(ancestor=itself["lot"], steps=0), before[before["lot"].isin(itself["lot"])]])
    found = chain.merge(_replicates(counted), left_on="ancestor", right_on="tested_lot")
    near = found[found["steps"].eq(found.groupby(["lot", "quantity"])["steps"].transform("min"))]
    both = sown.merge(near, left_on="lot_id", right_on="lot").drop_duplicates(["treatment_id", "quantity", "unit"])
    told = both.assign(
        taxon=texts(both["lot_id"], lots.drop_duplicates("lot_id").set_index("lot_id")["taxon_id"]),
        batch=texts(both["tested_lot"], batches.set_index("lot")["batch"]).fillna(""),
    ).rename(columns={"treatment_id": "treatment"})
    return told[["taxon", "treatment", "quantity", "unit", "batch", "entered", "passed"]].reset_index(drop=True)


def _replicates(counted):
    """One row a replicate of a test of fill or viability: tested_lot, quantity (what passes), unit, entered, passed."""
    parts = []
    for quantity, passes in (("fill", "filled"), ("viability", "viable")):
        mine = counted[counted["quantity"].eq(quantity).fillna(value=False)]
        by = ["lot", "test", "replicate"]
        k = mine[mine["item"].eq(passes).fillna(value=False)].groupby(by)["value"].sum()
        both = mine.groupby(by)["out_of"].max().to_frame("entered").join(k.rename("passed"), how="inner").reset_index()
        unit = both["test"].astype(str) + " " + both["replicate"].astype(int).astype(str)
        parts.append(both.assign(tested_lot=both["lot"], quantity=passes, unit=unit))
    rows = pd.concat(parts).dropna(subset=["entered", "passed"])
    return rows[rows["entered"] > 0][["tested_lot", "quantity", "unit", "entered", "passed"]]


@view(ends)
def germinated(ends):
    """One row a dish that was counted out, in the conditions in which most treatments of its species were tried.

    taxon, treatment, environment, unit, batch, entered (living seeds), passed (germinated, normal or not). Of conditions
    tried with as many treatments the first is taken.
    """
    tried = ends.groupby(["taxon", "environment"], sort=False)["treatment"].nunique()
    widest = tried.groupby(level="taxon", sort=False).idxmax()
    place = pd.MultiIndex.from_frame(ends[["taxon", "environment"]])
    here = ends[place.isin(list(widest))]
    seen, living, came = (
        here[list(schema.words("outcome", ends_a_seed=True, **asked))].sum(axis=1)
        for asked in ({}, {"viable": True}, {"germinated": True})
    )
    told = here[["taxon", "treatment", "environment", "unit", "batch"]].assign(entered=living, passed=came)
    return told[seen.ge(here["sown"]) & living.gt(0)].reset_index(drop=True)


@view(by_visit, seedlings, alike, units="unit_id environment_id sown_n status")
def grown(by_visit, seedlings, alike, units):
    """One row a plot and stage of the field: KEYS, stage (emerged, standing, established), unit, batch, entered, passed, of.

    emerged : all that came up, of units sown.  standing : what stood when plots were thinned, of units sown; not there
    where they never were.  established : what stands at the last visit, of those kept at thinning ("standing"), else of
    units sown. The level of unsown plots is taken off in proportion, so that a species that grows wild there is not
    counted as ours. A plot that was thinned and never looked at again is not there in the last stage.
    """
    known = by_visit.sort_values("time", kind="stable").groupby("unit", sort=False)
    plots = known.agg({**dict.fromkeys([*KEYS, "batch", "sown"], "first"), "kept": "last"}).reset_index()
    plots["came"] = numbers(plots["unit"], known["emerged"].sum(min_count=1))
    plots["stood"] = numbers(plots["unit"], _at_thinning(by_visit))
    after = by_visit[by_visit["standing"].notna()].groupby("unit", sort=False)
    plots["left"] = numbers(plots["unit"], after["standing"].last().where(after["time"].last() > _thinned_at(by_visit, after)))
    thinned = plots["kept"].notna().groupby([plots[name] for name in KEYS]).transform("any")
    wild = _wild(seedlings, alike, units)
    rows = [
        _stage(plots, "emerged", "sown", "came", "", wild),
        _stage(plots[thinned], "standing", "sown", "stood", "", wild),
        _stage(plots[thinned], "established", "kept", "left", "standing"),
        _stage(plots[~thinned], "established", "sown", "left", "", wild),
    ]
    return pd.concat(rows, ignore_index=True)


def _thinned_at(by_visit, after):
    """{unit: time of its thinning}; before all time where it was never thinned."""
    at = by_visit[by_visit["kept"].notna()].groupby("unit")["time"].max()
    return at.reindex(after["time"].last().index).fillna(-np.inf)


def _at_thinning(by_visit):
    """{unit: what stood when it was thinned}: what was kept and what was taken out."""
    here = by_visit[by_visit["kept"].notna()].groupby("unit").last()
    return here["kept"] + here["removed"].fillna(0)


def _stage(plots, stage, entered, passed, of, wild=None):
    """Rows of one stage; entered, passed : columns of `plots` that hold them."""
    told = plots.assign(stage=stage, entered=plots[entered], passed=plots[passed], of=of, rung="plot")[COLUMNS]
    told = told[told["entered"].gt(0) & told["passed"].notna()]
    if wild is not None and len(told):
        level = _level(told, wild.get(stage if stage == "emerged" else "standing"))
        mean = told.groupby(KEYS)["passed"].transform("mean")
        told = told.assign(passed=told["passed"] * (1 - level / mean).clip(lower=0).fillna(0.0))
    return told.assign(entered=np.maximum(told["entered"], told["passed"]))


def _level(rows, wild):
    """Mean number of wild seedlings of the same species in an unsown plot there, along `rows`; 0 where none was looked at."""
    keys = pd.MultiIndex.from_frame(rows[["taxon", "environment"]])
    return 0.0 if wild is None else wild.reindex(keys).fillna(0.0).to_numpy()


def _wild(seedlings, alike, units):
    """{outcome: mean in unsown plots by taxon and environment}: all that emerged, and what stood last."""
    unsown = units[units["sown_n"].eq(0)].drop_duplicates("unit_id")
    rows = seedlings[seedlings["unit"].isin(unsown["unit_id"]) & seedlings["count"].notna()]
    like = texts(unsown["environment_id"], alike.set_index("environment")["like"])
    place = texts(rows["unit"], pd.Series(like.to_numpy(), index=unsown["unit_id"]))
    rows = rows.assign(environment=place).sort_values("at", kind="stable")
    by = ["taxon", "environment", "unit"]
    came = rows[rows["outcome"].eq("emerged")].groupby(by)["count"].sum()
    stood = rows[rows["outcome"].eq("standing")].groupby(by)["count"].last()
    return {name: told.groupby(["taxon", "environment"]).mean() for name, told in (("emerged", came), ("standing", stood))}


@view(tested, germinated, grown, sown_plots)
def passed(tested, germinated, grown, sown_plots):
    """One row a unit and stage, as calc.decision.chains reads it: COLUMNS, stages in the order in which seed passes them.

    Only treatments that were sown in plots, at each place where they were; in a package without plots all treatments that
    were tried in dishes, there. Emerged is of units sown, as plots are counted, so it does not rest on tests or dishes.
    """
    ground = sown_plots if len(sown_plots) else germinated
    places = ground[KEYS].dropna().drop_duplicates()
    rows = [
        _everywhere(tested[tested["quantity"].eq("filled")].assign(stage="filled", of="", rung="lot"), places),
        _everywhere(tested[tested["quantity"].eq("viable")].assign(stage="viable", of="filled", rung="lot"), places),
        _everywhere(germinated.drop(columns="environment").assign(stage="germinated", of="viable", rung="dish"), places),
        grown,
    ]
    return _with_their_base(pd.concat([r[COLUMNS] for r in rows], ignore_index=True))


def _everywhere(rows, places):
    return rows.merge(places, on=["taxon", "treatment"], how="inner")


def _with_their_base(rows):
    """Rows of a stage that is counted of one which is there too: without its base a share of it leads nowhere."""
    while True:
        there = pd.MultiIndex.from_frame(rows[[*KEYS, "stage"]])
        lost = rows["of"].ne("") & ~pd.MultiIndex.from_frame(rows[[*KEYS, "of"]]).isin(there)
        if not lost.any():
            return rows
        rows = rows[~lost]


@view(passed)
def established(passed):
    """Rows of `passed` of those ways that lead to established plants."""
    ends_well = passed.loc[passed["stage"].eq("established"), KEYS].drop_duplicates()
    return passed.merge(ends_well, on=KEYS, how="inner")
