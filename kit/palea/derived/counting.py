"""What the counts of a trial say, dish by dish: new germinants, ends, shares with their denominators, intervals.

Blank is not zero: a count that is not there stays nan, and what rests on it is nan too. Day 0 is the first wetting of
the unit (else the day it was placed).
"""

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.spans import earliest
from palea.derived.ladder import alike
from palea.derived.lineage import batches
from palea.derived.lookup import among, codes, nothing, numbers, texts
from palea.derived.view import view
from palea.tables.coded import again, factorized, positions

DAY = np.timedelta64(1, "D")
MOST = 0.8  # of the dishes with seed left: where so many were cut, the others were missed by accident
LONG_ENOUGH = 4  # visits before a sheet that only ever rises looks like a running total


@view(
    batches,
    alike,
    units="unit_id trial_id kind treatment_id lot_id environment_id block sown_n seeds_each first_wetted_at placed_at status",
    lots="lot_id taxon_id",
)
def dishes(batches, alike, units, lots):
    """One row a unit that was sown and is in use, with the batch and taxon of its lot, its conditions and its day 0."""
    kept = units[units["treatment_id"].notna() & units["lot_id"].notna() & ~units["status"].isin(_out_of_use())]
    taxon, batch = lots.set_index("lot_id")["taxon_id"], batches.set_index("lot")["batch"]
    start = kept["first_wetted_at"].fillna(kept["placed_at"])
    return pd.DataFrame(
        {
            "unit": kept["unit_id"],
            "trial": kept["trial_id"],
            "treatment": kept["treatment_id"],
            "lot": kept["lot_id"],
            "taxon": texts(kept["lot_id"], taxon),
            "batch": texts(kept["lot_id"], batch),
            "environment": texts(kept["environment_id"], alike.set_index("environment")["like"]).fillna(""),
            "block": kept["block"].fillna(""),
            "sown": kept["sown_n"],
            "seeds_each": kept["seeds_each"],
            "start": earliest(start),
        }
    )


def _out_of_use():
    return schema.words("unit_status", counts=False)


@view(
    counts="visit_id unit_id outcome taxon_id observer count missing",
    visits="visit_id trial_id visited_at visited_by counting",
)
def sheets(counts, visits):
    """One row a count with its visit: unit, visit, taxon, outcome, count, counting, at; recounts by others are left out.

    The index is that of counts. Where several people counted the same, the count of the visit's own person stands,
    else the first.
    """
    asked = visits.drop_duplicates("visit_id").dropna(subset=["visit_id"]).set_index("visit_id")
    visit = positions(counts["visit_id"], asked.index)
    at = pd.Series(earliest(asked["visited_at"]))
    rank = at.rank(method="dense").fillna(len(at) + 1).to_numpy(int)
    line = np.flatnonzero(visit >= 0)
    same = codes(counts["visit_id"], counts["unit_id"], counts["outcome"], counts["taxon_id"])[line]
    if again(same).any():  # several people counted the same
        line = line[_first_of_each(same, _second(counts, texts(counts["visit_id"], asked["visited_by"]))[line])]
    order = rank[visit[line]]
    line = line if (order[1:] >= order[:-1]).all() else line[order.argsort(kind="stable")]
    kept = counts if len(line) == len(counts) and (line == np.arange(len(line))).all() else counts.iloc[line]
    counting = texts(kept["visit_id"], asked["counting"])
    names = {"unit_id": "unit", "visit_id": "visit", "taxon_id": "taxon"}
    told = kept.rename(columns=names)[["unit", "visit", "taxon", "outcome", "count"]]
    return told.assign(counting=counting, at=at.to_numpy()[visit[line]]).rename_axis("line")


def _second(counts, visited_by):
    """Whether each count was made by another person than the visit's own; unknown is no."""
    return counts["observer"].ne(visited_by).fillna(value=False).to_numpy(bool)


def _first_of_each(same, second):
    """Positions, rising, of the one row that stands for all that are the same: the first that is not by a second person."""
    order = second.argsort(kind="stable")
    return np.sort(order[~pd.Series(same[order]).duplicated().to_numpy()])


@view(counts="visit_id unit_id outcome", visits="visit_id looked_for")
def looked_for(counts, visits):
    """One row a visit and outcome that it looked for or counted: units it looked at, how many of them have a row of it.

    visit, outcome, wanted (the visit says that it looked for it), units, entered.
    """
    visit, names = factorized(counts["visit_id"])
    once = ~again(codes(counts["visit_id"], counts["unit_id"])) & (visit >= 0)
    units = pd.Series(np.bincount(visit[once], minlength=len(names)), index=names)
    entered = _entered(counts)
    told = visits.dropna(subset=["looked_for"]).drop_duplicates("visit_id")
    wanted = told.assign(outcome=told["looked_for"].str.split("; ")).explode("outcome")[["visit_id", "outcome"]]
    both = wanted.assign(wanted=True).merge(entered, on=["visit_id", "outcome"], how="outer")
    both = both[both["visit_id"].isin(told["visit_id"]) & both["visit_id"].isin(units.index)]
    return pd.DataFrame(
        {
            "visit": both["visit_id"],
            "outcome": both["outcome"],
            "wanted": both["wanted"].notna(),
            "units": numbers(both["visit_id"], units),
            "entered": both["entered"].fillna(0).astype(float),
        }
    )


def _entered(counts):
    """One row a visit and outcome that has rows: visit_id, outcome, entered (how many units have one)."""
    visit, visits = factorized(counts["visit_id"])
    outcome, outcomes = factorized(counts["outcome"])
    known = among(counts["outcome"], schema.words("outcome"))  # a word that is none is a fault of its own
    once = ~again(codes(counts["visit_id"], counts["unit_id"], counts["outcome"])) & known & (visit >= 0)
    number = np.bincount(visit[once] * len(outcomes) + outcome[once], minlength=len(visits) * len(outcomes))
    cell = np.flatnonzero(number)
    named = {"visit_id": visits[cell // max(len(outcomes), 1)], "outcome": outcomes[cell % max(len(outcomes), 1)]}
    return pd.DataFrame(named, dtype=counts["visit_id"].dtype).assign(entered=number[cell])


@view(sheets)
def new_counts(sheets):
    """Sheets as seen anew since the last look: running totals become differences, standing counts are left out.

    A visit at which nobody looked stays blank; what came up meanwhile is in the next look.
    """
    anew = sheets["counting"].notna().to_numpy() & ~among(sheets["counting"], ["standing"])
    kept = (sheets if anew.all() else sheets[anew]).drop(columns="taxon")
    added = among(kept["counting"], ["cumulative"])
    if not added.any():
        return kept
    totals = kept[added]
    known = totals.groupby(["unit", "outcome"])["count"].ffill()
    before = known.groupby([totals["unit"], totals["outcome"]]).shift().fillna(0.0)
    kept.loc[totals.index, "count"] = totals["count"] - before
    return kept


@view(new_counts, units="unit_id sown_n")
def rising(new_counts, units):
    """One row a unit whose new counts of an outcome never fall over several visits and add up to more than was sown."""
    once = units.set_index("unit_id")["sown_n"]
    unit = positions(new_counts["unit"], once.index)
    count = new_counts["count"].to_numpy(np.float64)
    seen = among(new_counts["outcome"], schema.words("outcome", germinated=True)) & (unit >= 0) & ~np.isnan(count)
    above = np.bincount(unit[seen], count[seen], len(once)) > once.to_numpy(np.float64)  # few, so looked at closely
    if not above.any():
        return nothing(text="unit outcome series", number="total")
    seeds = new_counts[seen & above[unit]]
    falls = seeds.groupby(["unit", "outcome"], sort=False)["count"].diff().lt(0)
    by = seeds.assign(falls=falls).groupby(["unit", "outcome"], sort=False)
    told = by.agg(total=("count", "sum"), visits=("count", "size"), falls=("falls", "any")).reset_index()
    sown = numbers(told["unit"], once)
    odd = told[~told["falls"].astype(bool) & told["visits"].ge(LONG_ENOUGH) & (told["total"] > sown)].drop_duplicates("unit")
    series = seeds[seeds["unit"].isin(odd["unit"])].groupby(["unit", "outcome"], sort=False)["count"].agg(_told)
    keys = pd.MultiIndex.from_frame(odd[["unit", "outcome"]])
    return odd.assign(series=series.reindex(keys).to_numpy())[["unit", "outcome", "total", "series"]]


def _told(counts):
    return ", ".join(f"{c:.0f}" for c in counts)


@view(new_counts, dishes)
def ends(new_counts, dishes):
    """One row a dish: how its seeds ended, a column a way to end (nan: not looked for, or not at its last visit)."""
    ways = schema.words("outcome", ends_a_seed=True)
    dish = positions(new_counts["unit"], dishes["unit"])
    outcome, outcomes = factorized(new_counts["outcome"])
    way = np.array([*(ways.index(o) if o in ways else -1 for o in outcomes), -1])[outcome]
    mine = (way >= 0) & (dish >= 0)
    cell, count = dish[mine] * len(ways) + way[mine], new_counts["count"].to_numpy()[mine]
    total = _totals(cell, count, len(dishes) * len(ways)).reshape(-1, len(ways))
    known = np.vstack([total, np.full(len(ways), np.nan)])[positions(dishes["unit"], dishes["unit"])]
    return dishes.assign(**dict(zip(ways, known.T, strict=True)))


def _totals(cell, count, cells):
    """Sum of the counts of each cell (0 .. cells - 1); nan for one that was never counted or whose last count is blank."""
    blank = np.isnan(count)
    total = np.bincount(cell, np.where(blank, 0.0, count), cells)
    last = np.full(cells, -1)
    last[cell] = np.arange(len(cell))  # of a cell that is written to several times the last stays
    ended = np.append(~blank, [False])[last]
    return np.where(ended, total, np.nan)


def _sum_if_all(frame, by):
    """Sum of `count` a group; nan where one of its counts is blank."""
    grouped = frame.assign(blank=frame["count"].isna()).groupby(by, sort=False)
    told = grouped.agg(count=("count", "sum"), blank=("blank", "any")).reset_index()
    return told.assign(count=told["count"].where(~told["blank"]).astype(float)).drop(columns="blank")


@view(ends, trial_outcomes="trial_id outcome")
def shares(ends, trial_outcomes):
    """One row a dish, quantity and denominator: k of n seeds, with the dish's taxon, treatment, environment, batch.

    The quantities are those that the dish's trial was planned to judge; every one where it planned none.

    Filled and viable are known only where every seed of the dish came to an end that was looked at, as in most dishes
    like it; else that row is not there. A unit that may hold several seeds cannot be counted out, so what was seen is
    taken as its number.
    """
    return of_bases(ends, trial_outcomes, bases(ends))


def of_bases(ends, trial_outcomes, bases):
    """The rows of `shares`, of these numbers a dish by denominator."""
    keys = ends[["taxon", "treatment", "environment", "batch", "block", "unit"]]
    rows = []
    for quantity in _planned(trial_outcomes):
        k = _numerator(ends, schema.word("quantity", quantity))
        for denominator, n in bases.items():
            part = keys.assign(quantity=quantity, denominator=denominator, k=k, n=np.maximum(n, k))
            rows.append(part[k.notna() & (n > 0)])
    return pd.concat(rows, ignore_index=True)


def _planned(trial_outcomes):
    counted = schema.words("quantity", is_share=True)
    return [q for q in counted if trial_outcomes["outcome"].eq(q).any()] or counted


def _numerator(ends, word):
    """What is counted of a quantity, a dish: the sum of its outcomes, or the one outcome that says it whole."""
    k = _total(ends, word["numerator"])
    alone = word.get("numerator_alone")
    return k.fillna(ends[alone]) if alone else k


def bases(ends, *, as_a_rule=True):
    """{denominator: its number a dish}, nan where the dish was not counted out, or dishes like it as a rule were not.

    A dish in which every seed came up is counted out without a cut. Were it kept where the others were not cut, shares of
    filled seed would rest on the dishes that did best. So what counts is whether dishes in which seed was left were cut.
    as_a_rule : False to look at each dish alone, as earlier versions did.
    """
    seen = _total(ends, schema.words("outcome", ends_a_seed=True), blank_as_zero=True)
    single = ends["seeds_each"].eq(1)
    counted_out = (seen >= ends["sown"]) | (
        ~single & ends[list(schema.words("outcome", waiting=True))].notna().all(axis=1)
    )
    known_of = counted_out & _cut_as_a_rule(ends, counted_out) if as_a_rule else counted_out
    found = {}
    for denominator in schema.words("denominator", of_a_dish=True):
        counted_by = schema.word("denominator", denominator)["counted_by"]
        outcomes = schema.words("outcome", **{counted_by: True}) if counted_by else ()
        known = _total(ends, outcomes, blank_as_zero=True).where(known_of)
        found[denominator] = known if counted_by else ends["sown"]
    return found


def _cut_as_a_rule(ends, counted_out):
    """Whether most dishes of the same trial, environment and treatment in which seed was left were counted out."""
    left = _total(ends, schema.words("outcome", germinated=True), blank_as_zero=True) < ends["sown"]
    alike = codes(ends["trial"], ends["environment"], ends["treatment"])
    share = counted_out.where(left).astype(float).groupby(alike).transform("mean")
    return share.isna() | (share >= MOST)


def _total(ends, outcomes, *, blank_as_zero=False):
    """Sum over outcomes a dish. An outcome that nobody looked for is nan unless it is told to count as none."""
    return ends[list(outcomes)].sum(axis=1, skipna=blank_as_zero)


@view(new_counts, dishes)
def looks(new_counts, dishes):
    """One row a dish and visit at which it was looked at for germination: day, day of the look before, new germinants."""
    seeds = new_counts[new_counts["outcome"].isin(schema.words("outcome", germinated=True))]
    by_visit = _sum_if_all(seeds, ["unit", "visit", "at"]).dropna()
    seen = by_visit.merge(dishes, on="unit").sort_values("at", kind="stable")
    seen = _in_order_of(dishes, seen)
    day = ((seen["at"] - seen["start"]) / DAY).astype(float)
    return seen.assign(day=day, since=day.groupby(seen["unit"]).shift().fillna(0.0))


@view(looks, new_counts, ends)
def intervals(looks, new_counts, ends):
    """One row a dish and inspection interval (left, right], and one for the seeds never seen to germinate.

    Empty seed units hold no seed and are left out where the dish was cut; a seed lost at a visit is censored there.
    Seed that died is censored at the last look: it never germinated.
    """
    keys = ["taxon", "treatment", "environment", "batch", "block", "unit"]
    seen = looks[looks["count"] > 0]
    events = seen[keys].assign(left=seen["since"], right=seen["day"], count=seen["count"])
    lost = new_counts[new_counts["outcome"].isin(schema.words("outcome", censors=True)) & (new_counts["count"] > 0)]
    lost = lost.merge(ends[[*keys, "start"]], on="unit")
    lost = lost.assign(left=((lost["at"] - lost["start"]) / DAY).astype(float), right=np.inf)
    last = looks.groupby("unit")["day"].max()
    came, went = (numbers(ends["unit"], f.groupby("unit")["count"].sum()).fillna(0) for f in (events, lost))
    seeds = bases(ends)["filled"].fillna(ends["sown"] - went)
    waiting = (seeds - came).clip(lower=0)
    rest = ends[keys].assign(left=numbers(ends["unit"], last), right=np.inf, count=waiting)
    rest = rest[(rest["count"] > 0) & rest["left"].notna()]
    laid = pd.concat([events, lost[[*keys, "left", "right", "count"]], rest], ignore_index=True)
    return _in_order_of(ends, laid.assign(sown=numbers(laid["unit"], ends.set_index("unit")["sown"])))


def _in_order_of(dishes, rows):
    """Rows a dish in the order in which the dishes were entered, which is the order of every answer."""
    place = numbers(rows["unit"], pd.Series(range(len(dishes)), index=dishes["unit"]))
    return rows.iloc[place.argsort(kind="stable")].reset_index(drop=True)


@view(looks)
def newly(looks):
    """One row a dish and visit: day, new germinants (count) and seed units sown, for the indices of a dish."""
    return looks[["taxon", "treatment", "environment", "batch", "block", "unit", "day", "count", "sown"]]
