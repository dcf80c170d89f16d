"""What was counted in plots and rows, laid out for judging: shares at the planned day, intervals, what came up unsown.

Day 0 is the day of sowing. Blank is not zero: what was not looked for stays nan, and a plot that was lost is not there.
"""

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.samples import relative_error
from palea.calc.spans import earliest
from palea.derived import contrasts
from palea.derived.counting import DAY, dishes, sheets
from palea.derived.ladder import alike, level_of
from palea.derived.lineage import ancestry, parents
from palea.derived.lookup import TEXT, moments, numbers, texts
from palea.derived.tests_of_lots import counted, share_of
from palea.derived.view import view

WINDOW = 3.5  # days between the planned day and the visit that answers for it, at most: half a week, our own convention
BASES = ["filled", "live", "filled_error", "viable_error", "filled_from", "viable_from"]
PLACE = ["taxon", "treatment", "environment", "batch", "unit", "block", "main_plot", "level"]


@view(parents, counted, lots="lot_id", runs="run_id kind")
def live_shares(parents, counted, lots, runs):
    """One row a lot with what its tests, or those of the seed it was made of, say: lot, filled, viable (0 to 1, of units).

    filled_error, viable_error : standard errors of these as parts of them.  filled_from, viable_from : the lots tested.
    Fill and viability each from the nearest lot that was tested, replicates pooled. Seed keeps its shares under a coat, in
    a soak and in drying; cleaning and grading take empties out, storing kills and mixing blends, so that no test from
    before one of these stands for the seed after it.
    """
    keeping = runs.loc[keeps_shares(runs["kind"]), "run_id"]
    before = ancestry.function(_unmixed(parents[parents["run"].eq("") | parents["run"].isin(keeping)]))
    itself = pd.DataFrame({"lot": lots["lot_id"].dropna().unique()})
    chain = pd.concat([itself.assign(ancestor=itself["lot"], steps=0), before]).sort_values("steps", kind="stable")
    fill, alive = (share_of(counted, *asked) for asked in (("fill", ["filled"]), ("viability", ["viable"])))
    filled, living = (_nearest(chain, told).reindex(itself["lot"]).reset_index(drop=True) for told in (fill, alive))
    both = np.hypot(filled["error"], living["error"])
    return itself.assign(
        filled=filled["share"], viable=filled["share"] * living["share"], filled_error=filled["error"], viable_error=both,
        filled_from=filled["of"], viable_from=filled["of"] + ", " + living["of"],
    )


def keeps_shares(kind):
    """Whether runs of these kinds leave fill and viability of seed as they were."""
    return kind.isin(schema.words("run_kind", keeps_shares=True))


def _unmixed(parents):
    """Rows of lots that come from one lot: what a test of one part says of a mixture is not known."""
    return parents[parents.groupby("lot")["parent"].transform("nunique").eq(1)]


def _nearest(chain, told):
    """By lot, of the nearest lot of its chain that was tested: share, error, of (its name); of several as near, all together."""
    found = chain.merge(told.rename_axis("ancestor").reset_index(), on="ancestor")
    near = found[found["steps"].eq(found.groupby("lot")["steps"].transform("min"))]
    by = near.groupby("lot")
    sums = by[["k", "n"]].sum()
    named = by["ancestor"].agg(lambda names: " + ".join(sorted(set(names))) if len(names) else "").astype(TEXT)
    return pd.DataFrame({"share": sums["k"] / sums["n"], "error": relative_error(sums["k"], sums["n"]), "of": named})


@view(dishes, level_of, live_shares, units="unit_id kind parent_unit_id")
def sown_plots(dishes, level_of, live_shares, units):
    """One row a plot or row that was sown and is in use: PLACE, trial, lot, sown (units), filled and live (seeds), start.

    level : what its main plot was given, "" without one; where a main plot has several levels they stand together.
    """
    known = units.drop_duplicates("unit_id").set_index("unit_id")
    kinds = schema.words("unit_kind", stage="field")
    mine = dishes[texts(dishes["unit"], known["kind"]).isin(kinds).to_numpy() & dishes["sown"].gt(0)]
    main_plot = texts(mine["unit"], known["parent_unit_id"])
    levels = level_of.groupby("unit")["level"].agg(lambda names: " + ".join(names.dropna()))
    share = live_shares.set_index("lot")
    return mine.assign(
        batch=mine["batch"].fillna(""), main_plot=main_plot.fillna(""), level=texts(main_plot, levels).fillna(""),
        filled=mine["sown"] * numbers(mine["lot"], share["filled"]), live=mine["sown"] * numbers(mine["lot"], share["viable"]),
        **{name: numbers(mine["lot"], share[name]) for name in ("filled_error", "viable_error")},
        **{name: texts(mine["lot"], share[name]).fillna("") for name in ("filled_from", "viable_from")},
    ).drop_duplicates("unit")[[*PLACE, "trial", "lot", "sown", *BASES, "start"]].reset_index(drop=True)  # fmt: skip


@view(sheets, units="unit_id")
def seedlings(sheets, units):
    """One row a unit, taxon, visit and outcome of the field: unit, taxon, visit, at, outcome, count.

    Running totals are turned into what was new; taxon is "" where nobody said whose seedlings they were.
    """
    outdoors = sheets["outcome"].isin(schema.words("outcome", stage="field"))
    kept = sheets[outdoors & sheets["unit"].isin(units["unit_id"])]
    keys = [kept["unit"], kept["taxon"].fillna(""), kept["outcome"]]
    total = kept["counting"].eq("cumulative").fillna(value=False) & kept["outcome"].isin(_added_up())
    before = kept["count"].groupby(keys).ffill().groupby(keys).shift().fillna(0.0)
    told = kept.assign(taxon=kept["taxon"].fillna(""), count=kept["count"] - before.where(total, 0.0))
    return told[["unit", "taxon", "visit", "at", "outcome", "count"]].reset_index(drop=True)


def _added_up():
    """Outcomes of which each visit has its own: those that are new since the visit before."""
    return schema.words("outcome", stage="field", seen="new since the last visit")


@view(sown_plots, seedlings)
def own(sown_plots, seedlings):
    """Seedlings of the species that was sown, with their plot and the day since sowing; those of others are left out."""
    both = seedlings.rename(columns={"taxon": "counted"}).merge(sown_plots, on="unit")
    both = both[both["counted"].eq("") | both["counted"].eq(both["taxon"].fillna(""))]
    day = ((both["at"] - both["start"]) / DAY).astype(float)
    return both.assign(day=day).drop(columns="counted").reset_index(drop=True)


def day_of(trial_outcomes, quantity):
    """{trial: planned day} of a quantity; a trial without one, or that did not plan it, is not in it."""
    mine = trial_outcomes[trial_outcomes["outcome"].eq(quantity)].drop_duplicates("trial_id")
    return mine.set_index("trial_id")["at_day"].dropna()


def at_planned_day(rows, planned):
    """(n,) whether each row belongs to the visit of its plot nearest to the planned day (without one: the last).

    rows : trial, unit, day.  planned : {trial: day}. A visit farther from it than WINDOW does not answer for it.
    """
    wanted = numbers(rows["trial"], planned)
    distance = (rows["day"] - wanted).abs()
    nearest = distance.groupby(rows["unit"]).transform("min")
    last = rows["day"].groupby(rows["unit"]).transform("max")
    found = np.where(wanted.isna(), rows["day"].eq(last), distance.eq(nearest) & distance.le(WINDOW))
    return pd.Series(found, index=rows.index)


def _counted_in_plots(trial_outcomes):
    """Quantities that are the count of one outcome in a plot: those that a trial planned, else all."""
    fields = {q: schema.word("quantity", q).get("numerator") for q in schema.words("quantity", stage="field")}
    plain = [q for q, numerator in fields.items() if tuple(numerator or ()) == (q,)]
    return [q for q in plain if trial_outcomes["outcome"].eq(q).any()] or plain


@view(own, sown_plots, trial_outcomes="trial_id outcome at_day")
def shares(own, sown_plots, trial_outcomes):
    """One row a plot, quantity and denominator: k seedlings of n seeds on the planned day, with the plot's place.

    New seedlings are added up to that day, standing ones are taken as they stand. k is nan where the plot was not counted
    on the day; n of filled and viable seed is that of the lot's tests, at least k.
    """
    parts = []
    for quantity in _counted_in_plots(trial_outcomes):
        seen = _on_the_day(own[own["outcome"].eq(quantity)], quantity, day_of(trial_outcomes, quantity))
        k = numbers(sown_plots["unit"], seen)
        for denominator, n in _bases(sown_plots).items():
            part = sown_plots[PLACE].assign(quantity=quantity, denominator=denominator, k=k, n=np.fmax(n, k))
            part = part.assign(**_tested(sown_plots, denominator))
            parts.append(part[n.notna()])
    return pd.concat(parts, ignore_index=True)


def _bases(plots):
    """{denominator: seeds of each plot}, nan where the lot's tests do not say."""
    column = {"": "sown", "filled": "filled", "viable": "live"}
    words = schema.words("denominator", of_a_dish=True)
    return {word: plots[column[schema.word("denominator", word)["counted_by"]]] for word in words}


def _tested(plots, denominator):
    """Which tests the number of seeds of that denominator is known from, and its relative error; none for what was counted."""
    counted_by = schema.word("denominator", denominator)["counted_by"]
    if not counted_by:
        return {"tested": "", "tested_error": 0.0}
    return {"tested": plots[f"{counted_by}_from"], "tested_error": plots[f"{counted_by}_error"].fillna(0.0)}


def _on_the_day(rows, quantity, planned):
    """{unit: count}: of new ones the sum up to that day, nan where one of the visits is blank."""
    here = at_planned_day(rows, planned)
    if quantity not in _added_up():
        return rows[here].drop_duplicates("unit").set_index("unit")["count"]
    until = numbers(rows["unit"], rows[here].groupby("unit")["day"].max())
    by = rows[rows["day"] <= until].groupby("unit")["count"]
    return by.sum().where(by.count().eq(by.size()))


@view(
    seedlings,
    alike,
    units="unit_id trial_id kind environment_id sown_n status placed_at",
    trial_outcomes="trial_id outcome at_day",
)
def unsown(seedlings, alike, units, trial_outcomes):
    """One row an unsown plot, species and quantity: taxon, environment, unit, quantity, k; nan: not looked for that day."""
    outdoors = units["kind"].isin(schema.words("unit_kind", stage="field"))
    out = units["status"].isin(schema.words("unit_status", counts=False))
    bare = units[outdoors & units["sown_n"].eq(0) & ~out].drop_duplicates("unit_id")
    plots = pd.DataFrame({
        "unit": bare["unit_id"], "trial": bare["trial_id"],
        "start": pd.Series(earliest(bare["placed_at"]), index=bare.index),
        "environment": texts(bare["environment_id"], alike.set_index("environment")["like"]).fillna(""),
    })  # fmt: skip
    rows = seedlings.merge(plots, on="unit")
    rows = rows.assign(day=((rows["at"] - rows["start"]) / DAY).astype(float), plot=rows["unit"])
    rows = rows.assign(unit=rows["plot"] + "\x1f" + rows["taxon"])  # each species of a plot is looked for by itself
    parts = [rows.head(0).assign(quantity="", k=np.nan)]
    for quantity in _counted_in_plots(trial_outcomes):
        told = rows[rows["outcome"].eq(quantity)]
        k = _on_the_day(told, quantity, day_of(trial_outcomes, quantity))
        once = told.drop_duplicates("unit")
        parts.append(once.assign(quantity=quantity, k=numbers(once["unit"], k)))
    both = pd.concat(parts, ignore_index=True).assign(unit=lambda f: f["plot"])
    return both[["taxon", "environment", "unit", "quantity", "k"]]


@view(own, sown_plots)
def intervals(own, sown_plots):
    """One row a plot and interval (left, right] between looks for new seedlings [d], and one for seeds that never came."""
    looks = own[own["outcome"].eq("emerged") & own["count"].notna()].sort_values("day", kind="stable")
    since = looks.groupby("unit")["day"].shift().fillna(0.0)
    events = looks[PLACE].assign(left=since, right=looks["day"], count=looks["count"])
    by = looks.groupby("unit")
    seen = sown_plots[sown_plots["unit"].isin(looks["unit"])]
    rest = seen["sown"] - numbers(seen["unit"], by["count"].sum())
    waiting = seen[PLACE].assign(left=numbers(seen["unit"], by["day"].max()), right=np.inf, count=rest.clip(lower=0))
    both = pd.concat([events, waiting], ignore_index=True)
    return both[both["count"] > 0].reset_index(drop=True)


@view(sown_plots)
def firsts(sown_plots):
    """{trial: its first day of sowing}, as a series."""
    return sown_plots.groupby("trial")["start"].min()


@view(own, firsts)
def by_visit(own, firsts):
    """One row a plot and visit: PLACE, trial, time (days since the trial's first sowing), sown, live, a column an outcome."""
    keys = ["unit", "visit"]
    wide = own.pivot_table(index=keys, columns="outcome", values="count", aggfunc="first", dropna=False)
    wide = wide.reindex(columns=schema.words("outcome", stage="field")).astype(np.float64)
    told = own.drop_duplicates(keys).merge(wide.reset_index(), on=keys).drop(columns=["outcome", "count"])
    days = (told["at"] - moments(told["trial"], firsts)) / DAY
    return told.assign(time=days.astype(float)).sort_values(["unit", "time"], kind="stable").reset_index(drop=True)


@view(by_visit, seedlings)
def unthinned(by_visit, seedlings):
    """Rows of `by_visit` of plots that nobody ever thinned and in which standing plants were counted."""
    thinned = seedlings.loc[seedlings["outcome"].isin(["kept", "removed"]) & seedlings["count"].notna(), "unit"]
    return by_visit[~by_visit["unit"].isin(thinned) & by_visit["standing"].notna()]


@view(unthinned)
def visits(unthinned):
    """One row an unthinned plot and visit: PLACE, time [d], standing, new (nan: not counted), sown and live seeds.

    More plants than live seeds mean that the test of the lot said too little, so the plants are the least.
    """
    rows = unthinned.rename(columns={"emerged": "new"})
    rise = rows["standing"] - rows.groupby("unit")["standing"].shift().fillna(0.0)
    came = np.fmax(rows["new"], rise.clip(lower=0)).groupby(rows["unit"]).transform("sum")
    live = np.maximum(rows["live"], came)
    told = rows.assign(live=live, **_tested(rows, "viable"))
    return told[[*PLACE, "time", "standing", "new", "sown", "live", "tested", "tested_error"]].reset_index(drop=True)


@view(contrasts.asked, sown_plots)
def asked(asked, sown_plots):
    """Declared contrasts, without those across sites where the trial has one site only: see palea.derived.sites."""
    sites = sown_plots.groupby("trial")["environment"].nunique()
    alone = numbers(asked["trial"], sites).fillna(0) < 2
    return asked[~(asked["across"].eq("site") & alone)]
