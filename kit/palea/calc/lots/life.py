"""Filled, viable, germinating and dormant seed of a lot from counted replicates; intervals know the spread."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from palea.calc import simulated
from palea.calc.checked import share
from palea.calc.lots.readings import estimate_of, units_frame
from palea.calc.means import Interval
from palea.calc.results import Refusal, Values
from palea.calc.stats.proportions import checked_counts, t_quantile, wilson
from palea.calc.stats.share_means import NEAR_END, of_counts

FILLED, VIABLE = "filled units", "viable seed"
GERMINATED, DORMANT = "germinated", "waiting seed"
LIVE = "live seed"
FEWEST_DF = 3  # fewer say next to nothing about how much replicates differ
ALONE = (
    "Too few replicates to see how they differ: seeds were taken as independent. Of 100 simulated tests of two replicates "
    "(tests/coverage, viability) 95 % intervals held the true share in 81 to 90 where seeds of a replicate were somewhat "
    "alike, and in as few as 54 where they were much alike: test four replicates or more."
)
FEW_SEEDS = (
    "Fewer than ten seeds did, or did not: how replicates differ can hardly be seen there. Should such seeds come in "
    "clusters, the interval is too narrow: of 100 simulated tests (tests/coverage, viability) it held the true share in 84."
)


@dataclass(frozen=True)
class LotShare:
    """A share of one lot, 0 to 1, with its interval.

    n : units looked at.  replicates : in how many.  reason : what the interval leaves out, as a sentence.
    """

    taxon: str
    lot: str
    quantity: str
    denominator: str
    interval: Interval
    n: float
    replicates: int
    reason: str = ""


def adjusted(germinated, viable):
    """Germination of viable seed: G / V; nan where nothing is viable. Both as shares (or counts) of the same units.

    >>> round(float(adjusted(0.45, 0.60)), 4)
    0.75
    """
    viable = np.asarray(viable, float)
    return np.asarray(germinated, float) / np.where(viable > 0, viable, np.nan)


def dormancy(germinated, viable):
    """Share of viable seed that did not germinate: (V - G) / V; below 0 where the tests contradict each other.

    >>> round(float(dormancy(0.45, 0.60)), 4)
    0.25
    """
    return 1 - adjusted(germinated, viable)


def viable_of_units(filled, viable_of_filled):
    """Viable seed as a share of all units, from the share filled and the share of the filled that is viable."""
    return share(filled, "filled") * share(viable_of_filled, "viable_of_filled")


def shares_of(counted, confidence=0.95, fewest=NEAR_END):
    """A LotShare of each lot, quantity and denominator, in order.

    counted : as in `viability`. Replicates of all lots of a species and quantity give one dispersion, never below 1;
    score interval with n / dispersion seeds and a t quantile on its degrees of freedom; the normal one where replicates
    differ by no more than chance and ten seeds (`fewest`) or more did and did not, so that this says something. With fewer than 3
    degrees of freedom: plain score interval, and the reason says so.
    True coverage of nominal 95 %, simulated (tests/coverage, viability): 93 to 99 % with four replicates or more, but
    80 to 85 % where 2 or 98 % do and seeds of one of eight replicates are alike by rho 0.1; with two replicates of 50
    about 81 % at rho 0.02 and 54 % at 0.1. Both are said in the reason.
    Raises UnfitValue where k is below 0 or above n.
    Source: Wilson 1927; McCullagh & Nelder 1989, ch. 4.5 (dispersion); Kish 1965 (effective number).
    """
    read = counted.dropna(subset=["k", "n"])
    read = read[read["n"] > 0].assign(denominator=read["denominator"].fillna("").astype(str))
    checked_counts(read["k"], read["n"])
    found = []
    for (taxon, quantity, of), part in read.groupby(["taxon", "quantity", "denominator"], sort=False, dropna=False):
        found += _of_species(str(taxon), str(quantity), of, part, confidence, fewest)
    order = {lot: at for at, lot in enumerate(dict.fromkeys(read["lot"]))}
    return sorted(found, key=lambda each: order[each.lot])


def _of_species(taxon, quantity, denominator, part, confidence, fewest):
    lots = part["lot"].astype(str)
    means = of_counts(lots, part["k"], part["n"])
    seen = means is not None and means.df >= FEWEST_DF
    for lot, rows in part.groupby(lots, sort=False):
        k, n, replicates = float(rows["k"].sum()), float(rows["n"].sum()), len(rows)
        few = min(k, n - k) < fewest
        # no more spread than chance has: nothing was estimated and nothing is paid for it, unless nothing can be seen
        critical = t_quantile(confidence, means.df if seen and (means.spread > 1 or few) else np.inf)
        ends = means.interval(lot, critical)[1:] if seen else wilson(k, n, confidence)
        interval = Interval(k / n, *map(float, ends), float(means.df) if seen else np.nan)
        yield LotShare(taxon, lot, quantity, denominator, interval, n, replicates, (FEW_SEEDS if few else "") if seen else ALONE)


def viability(counted_seeds, confidence=0.95, fewest=NEAR_END):
    """Filled, viable, germinated and dormant seed of each lot in %, with score intervals -> Values.

    counted_seeds : frame, one row a replicate and thing counted: taxon, lot, test, replicate, quantity ("filled
    units", "viable seed", "germinated", "waiting seed" or another share), denominator ("": all units looked at;
    "filled": only filled ones were), k of n. Intervals as `shares_of`. Refusal where nothing was counted.
    Where more germinated than was found viable, beyond what chance allows (intervals apart), a warning.
    Source: Wilson 1927 and Newcombe 1998 (interval); 7 CFR 201.57a (dormant: viable, not hard, not germinated).
    """
    found = shares_of(counted_seeds, confidence, fewest)
    if not found:
        return Refusal(quantity=VIABLE, missing="No replicate has counts of filled, viable or germinated seed.",
                       remedy="Cut, stain or germinate counted seed, 4 x 50 or 4 x 100, and enter the counts.")
    rows = counted_seeds.dropna(subset=["k", "n"]).query("n > 0")
    return Values(
        units=units_frame(rows.assign(value=100 * rows["k"] / rows["n"], denominator=rows["denominator"].fillna(""))),
        estimates=tuple(_estimate(each, confidence) for each in found), warnings=tuple(_contradicting(found)),
        method="Counts of all replicates together; score interval (Wilson) with an effective number of seeds, the "
        "dispersion of replicates pooled over the lots of a species and never below 1. " + simulated.CAREFUL_LIFE,
        assumptions=("Replicates were drawn at random from the pure seed of the lot.",),
    )


def _estimate(each, confidence):
    return estimate_of(
        each.taxon, each.lot, each.quantity, each.interval.times(100.0), confidence, each.replicates, each.n,
        denominator=each.denominator, reason=each.reason,
    )  # fmt: skip


def _contradicting(found):
    """Lots in which germination lies above viability, both of the same units."""
    at = {(e.lot, e.quantity, e.denominator): e for e in found}
    for (lot, quantity, of), germinated in at.items():
        viable = at.get((lot, VIABLE, of))
        if quantity != GERMINATED or viable is None or germinated.interval.lower <= viable.interval.value:
            continue
        low, high = 100 * viable.interval.lower, 100 * viable.interval.upper
        yield (f"{lot}: germination {100 * germinated.interval.value:.0f} % is above viability "
               f"{100 * viable.interval.value:.0f} % ({low:.0f} to {high:.0f}, {viable.n:.0f} seeds): one of the tests "
               "or samples is wrong.")



def with_live(counted):
    """`counted` with rows for live seed added: germinated and dormant of a replicate together, where both were counted.

    Both come from the same seeds of one germination test, so their sum is one count with one interval.
    """
    keys = ["taxon", "lot", "test", "replicate", "denominator", "n"]
    both = counted[counted["quantity"].isin([GERMINATED, DORMANT])].dropna(subset=["k", "n"])
    sums = both.groupby(keys, sort=False, dropna=False)["k"].agg(["sum", "size"]).reset_index()
    sums = sums[sums["size"] == 2].rename(columns={"sum": "k"}).drop(columns="size").assign(quantity=LIVE)
    return pd.concat([counted, sums], ignore_index=True) if len(sums) else counted
