"""Checks on coated units: seeds in each, how even their mass is, how long the coat lasts in water, how it dusts."""

from dataclasses import replace

import numpy as np
import pandas as pd
from scipy import special

from palea.calc.checked import above_zero, not_below_zero
from palea.calc.coating.evenness import components, variation_interval
from palea.calc.coating.gathered import KEYS, LABELS, ONE_BATCH, batch_units, by_treatment, stacked
from palea.calc.means import Interval
from palea.calc.results import Estimate, Refusal, Values
from palea.calc.stats.proportions import t_quantile, wilson
from palea.calc.stats.share_means import of_counts
from palea.calc.terms import Rung

SINGLES, MULTIPLES = "units with one seed", "units with several seeds"
EMPTIES, BROKEN = "units without seed", "broken units"
EVENNESS, BETWEEN = "variation of unit mass", "variation between batches"
TIME, DUST = "time to disintegrate", "dust from 100 000 units"
HOLDS = {SINGLES: ("one",), MULTIPLES: ("two", "more"), EMPTIES: ("none",), BROKEN: ("broken",)}
OPENED = ("none", "one", "two", "more", "broken")
FEWEST_BATCHES = 3
MANY = 100_000
INDEPENDENT = "Units were taken as independent: too few batches to see how they differ."


def dust_per_100_000(gain_g, n_units):
    """Dust from a number of units, in grams from 100 000: gain / n x 10^5.

    Source: ESTA / Euroseeds reference values are given per 100 000 seeds (or another number).

    >>> float(dust_per_100_000(0.5, 700_000).round(4))
    0.0714
    """
    return MANY * not_below_zero(gain_g, "gain_g") / above_zero(n_units, "n_units")


def dust_from_mass(g_per_100_kg, thousand_g):
    """Dust per mass in grams from 100 000 units: g / 100 kg x TSW / 1000.

    >>> float(dust_from_mass(4, 45))
    0.18
    """
    return not_below_zero(g_per_100_kg, "g_per_100_kg") * above_zero(thousand_g, "thousand_g") / 1000


def seeds_per_unit(none, one, two, more, more_holds=3.0):
    """Mean number of seeds in a unit, from counts of units; `more_holds` for those with more than two.

    >>> float(seeds_per_unit(9, 85, 6, 0).round(2))
    0.97
    """
    counts = [not_below_zero(n, name) for n, name in ((none, "none"), (one, "one"), (two, "two"), (more, "more"))]
    return (counts[1] + 2 * counts[2] + more_holds * counts[3]) / above_zero(sum(counts), "units opened")


def median_interval(values, confidence=0.95):
    """Median of independent values with its interval from order statistics -> Interval; no shape is assumed.

    values : (n,), nan left out. The ends are values that were seen: the k-th from either side, with k as large as keeps
    P(k or more below) + the same above within 1 - confidence. nan ends where n is too small (below 6 at 95 %).
    Source: Conover 1999, Practical nonparametric statistics (from memory).

    >>> median_interval([3, 5, 7, 9, 11, 13, 15])[:3]
    (9.0, 3.0, 15.0)
    """
    values = np.sort(np.asarray(values, float)[~np.isnan(np.asarray(values, float))])
    n = values.size
    if not n:
        return Interval(np.nan)
    tail = special.bdtr(np.arange(n), n, 0.5)
    k = int(np.sum(tail <= (1 - confidence) / 2))
    ends = (float(values[k - 1]), float(values[n - k])) if k else (np.nan, np.nan)
    return Interval(float(np.median(values)), *ends)


def units(opened_units, single_masses, disintegration_times, dust_tests, confidence=0.95):
    """Singles, multiples, empties, broken; evenness of mass; time to disintegrate; dust, of each treatment -> Values.

    opened_units : frame, one row a replicate: taxon, treatment, batch, replicate, none, one, two, more, broken (numbers
    of coated units; nan: not looked at).
    single_masses : frame, one row a unit weighed alone: taxon, treatment, batch, mass_mg.
    disintegration_times : frame, one row a unit in water: taxon, treatment, batch, time_s.
    dust_tests : frame, one row a test: taxon, treatment, batch, gain_g (dust), n_units.
    Each may be empty; Refusal where all are.
    Shares: score intervals, replicates pooled in the batch, one dispersion between batches pooled over the treatments
    of a species; where there is none to see, units count as independent, which is said. Spread of unit mass: within
    batches; between batches from 3 batches on. Time: median of units; over batches the geometric mean of batch medians.
    A warning where more than one unit in twenty holds several seeds.
    Source: ISTA Rules ch. 11 (units; from memory); Wilson 1927; Vangel 1996 (spread); Burdick & Graybill 1992 (between
    batches); Conover 1999 (median).
    """
    counts, told = _opened(opened_units, confidence)
    parts = [
        counts, _masses(single_masses, confidence), _times(disintegration_times, confidence),
        _dust(dust_tests, confidence),
    ]  # fmt: skip
    estimates = tuple(e for _, found in parts for e in found)
    if not estimates:
        return Refusal(quantity=SINGLES, missing="No coated unit was opened, weighed alone, put in water or shaken.",
                       remedy="Open 3 x 100 units and count seeds in each; weigh 100 units one by one.")
    return Values(
        units=pd.concat([rows for rows, found in parts if found], ignore_index=True),
        estimates=estimates, warnings=told,
        method="Shares of units: score intervals with an effective number of units. Spread of unit mass: coefficient "
        "of variation within batches, and between them by components of variance. Time: median.",
        assumptions=("Units were drawn at random from the whole batch, screened as it is handed on.",),
    )


def _opened(rows, confidence):
    rows = rows.dropna(subset=["none", "one"]).fillna({"two": 0, "more": 0, "broken": 0})
    totals = rows.groupby([*KEYS, "batch"], sort=False, dropna=False)[list(OPENED)].sum().reset_index()
    totals["n"] = totals[list(OPENED)].sum(axis=1)
    totals = totals[totals["n"] > 0]
    long = stacked(totals, {q: 100 * totals[list(held)].sum(axis=1) / totals["n"] for q, held in HOLDS.items()})
    found = [e for _, part in totals.groupby("taxon", sort=False, dropna=False) for e in _shares(part, confidence)]
    many = [e for e in found if e.quantity == MULTIPLES and e.value > 5]
    told = tuple(f"{e.of['treatment']}: {e.value:.0f} % of units hold two seeds or more: counts may exceed units sown."
                 for e in many)
    return (batch_units(long), found), told


def _shares(part, confidence):
    """Estimates of one species, treatments in order, quantities in the order of HOLDS."""
    means = {q: of_counts(part["treatment"], part[list(h)].sum(axis=1), part["n"]) for q, h in HOLDS.items()}
    for name, rows in part.groupby("treatment", sort=False):
        for quantity, held in HOLDS.items():
            model, n, batches = means[quantity], float(rows["n"].sum()), len(rows)
            k, df, reason = float(rows[list(held)].to_numpy().sum()), np.nan, INDEPENDENT
            ends = wilson(k, n, confidence)
            if model is not None and model.df >= FEWEST_BATCHES:
                critical = t_quantile(confidence, model.df if model.spread > 1 else np.inf)
                ends, df, reason = model.interval(str(name), critical)[1:], float(model.df), ""
            yield Estimate(
                quantity, {"taxon": str(part["taxon"].iloc[0]), "treatment": str(name)}, 100 * k / n,
                *(100 * float(end) for end in ends), confidence=confidence, df=df, n_batches=batches, n_seeds=round(n),
                rung=str(Rung.BATCH), reason=" ".join(filter(None, (reason, ONE_BATCH if batches == 1 else ""))),
            )  # fmt: skip


def _masses(rows, confidence):
    rows = rows.dropna(subset=["mass_mg"])
    each = rows.groupby([*KEYS, "batch"], sort=False, dropna=False)["mass_mg"]
    within = each.agg(["mean", "std", "size"]).reset_index()
    within = within[within["size"] > 1]
    long = stacked(within, {EVENNESS: 100 * within["std"] / within["mean"]}, seeds=within["size"])
    groups = rows.groupby(list(KEYS), sort=False, dropna=False)
    found = [e for key, part in groups for e in _spread(key, part, confidence)]
    return batch_units(long), found


def _spread(key, part, confidence):
    """Spread of unit mass within batches, as a share of the batch mean, and of batches among themselves."""
    sizes = part.groupby("batch")["mass_mg"].transform("size")
    part = part[sizes > 1]
    batches = part["batch"].nunique()
    if not batches:
        return
    relative = part["mass_mg"] / part.groupby("batch")["mass_mg"].transform("mean")
    df = len(part) - batches
    k = float(np.sqrt(np.sum((relative - 1) ** 2) / df))
    ends = variation_interval(k, df + 1, confidence)
    common = {"confidence": confidence, "n_batches": batches, "n_seeds": len(part), "rung": str(Rung.BATCH)}
    of = dict(zip(KEYS, map(str, key), strict=True))
    yield Estimate(EVENNESS, of, 100 * k, 100 * ends.lower, 100 * ends.upper, df=float(df),
                   reason=ONE_BATCH if batches == 1 else "", **common)
    if batches >= FEWEST_BATCHES:
        found = components(part["batch"], part["mass_mg"], confidence)
        value, low, high = (100 * np.sqrt(v) / found.mean for v in (found.between, found.lower, found.upper))
        yield Estimate(BETWEEN, of, float(value), float(low), float(high), df=found.df_between, **common)


def _times(rows, confidence):
    rows = rows.dropna(subset=["time_s"])
    median = rows.groupby([*KEYS, "batch"], sort=False, dropna=False)["time_s"].median().reset_index()
    long = stacked(median, {TIME: median["time_s"]})
    found = list(by_treatment(long, confidence, {TIME: "s"}, geometric=(TIME,)))
    for at, estimate in enumerate(found):
        if estimate.n_batches == 1:
            own = rows[(rows["taxon"] == estimate.of["taxon"]) & (rows["treatment"] == estimate.of["treatment"])]
            found[at] = _of_units(estimate, own["time_s"], confidence)
    return batch_units(long), found


def _of_units(estimate, times, confidence):
    ends = median_interval(times, confidence)
    return replace(estimate, lower=ends.lower, upper=ends.upper, n_seeds=len(times))


def _dust(rows, confidence):
    rows = rows.dropna(subset=["gain_g", "n_units"])
    long = stacked(rows, {DUST: dust_per_100_000(rows["gain_g"], rows["n_units"])})
    return batch_units(long)[LABELS], list(by_treatment(long, confidence, {DUST: "g"}, lowest=0.0))
