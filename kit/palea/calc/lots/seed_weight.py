"""Thousand-seed weight from counted groups, with the rule that says when they differ too much to stand for the lot."""

from dataclasses import dataclass

import numpy as np

from palea.calc.checked import above_zero
from palea.calc.lots.readings import estimate_of, units_frame
from palea.calc.means import Interval, mean_interval
from palea.calc.results import Refusal, Values
from palea.calc.stats.proportions import t_quantile
from palea.calc.units import per

WEIGHT, VARIATION = "thousand-seed weight", "variation of group mass"
PER_GRAM = "seeds per gram"
CHAFFY_LIMIT, LIMIT = 6.0, 4.0  # % CV
MORE = 16  # groups from which one that lies far off may be left out
GRAMS_A_POUND = 453.59237


@dataclass(frozen=True)
class Weighed:
    """Counted groups of one lot, as masses of a thousand.

    per_1000 : (n,) g.  kept : (n,) False for a group left out as more than two standard deviations off.
    """

    per_1000: np.ndarray
    kept: np.ndarray

    @property
    def mean(self):
        """Thousand-seed weight [g]."""
        return float(self.per_1000[self.kept].mean())

    def interval(self, confidence=0.95, lowest=0.0):
        """Mean of the kept groups with a t interval -> Interval.

        Groups that were left out still say how much groups differ: the spread of the kept ones alone is too small (true
        coverage 90 in place of 95 %, tests/coverage, seed-weight).
        """
        if self.kept.all():
            return mean_interval(self.per_1000, confidence, lowest=lowest)
        df = self.per_1000.size - 1.0
        half = t_quantile(confidence, df) * self.per_1000.std(ddof=1) / np.sqrt(self.kept.sum())
        return Interval(self.mean, float(max(self.mean - half, lowest)), float(self.mean + half), df)

    @property
    def variation(self):
        """Coefficient of variation of the kept groups [%], divisor n - 1; nan for one group."""
        kept = self.per_1000[self.kept]
        return float(100 * kept.std(ddof=1) / kept.mean()) if kept.size > 1 else np.nan


def weigh(mass_g, count=100, limit=LIMIT):
    """Groups of counted seeds -> Weighed.

    mass_g : (n,) > 0 [g].  count : seeds in each group, > 0.  limit : largest coefficient of variation allowed [%].
    s2 = (n sum x2 - (sum x)2) / (n (n - 1)), CV = 100 s / mean, weight = 1000 mean / count. Where the CV is above the
    limit and there are 16 groups or more, those more than 2 s from the mean are left out.
    Raises UnfitValue for a mass or count that is not above 0.
    Source: AOSA Rules, App. 4 tutorial 2001 (formulas); ISTA Rules ch. 10 (limits and the second eight, from memory).

    >>> round(weigh([0.2224, 0.2134, 0.2130, 0.2116, 0.2145, 0.2071, 0.2116, 0.2125]).mean, 4)
    2.1326
    """
    values = 1000 * np.atleast_1d(above_zero(mass_g, "mass_g") / above_zero(count, "count"))
    every = Weighed(values, np.ones(values.size, bool))
    if values.size < MORE or not every.variation > limit:
        return every
    return Weighed(values, np.abs(values - values.mean()) <= 2 * values.std(ddof=1))


def per_gram(thousand_g):
    """Seeds a gram from the mass of a thousand [g]: 1000 / TSW.

    >>> round(float(1000 * per_gram(2.132625)), 1)  # seeds a kilogram
    468905.7
    """
    return 1000 / above_zero(thousand_g, "thousand_g")


def from_per_pound(seeds_per_pound):
    """Thousand-seed weight [g] from seeds a pound: 453 592.37 / seeds.

    >>> round(float(from_per_pound(225_000)), 2)
    2.02
    """
    return 1000 * GRAMS_A_POUND / above_zero(seeds_per_pound, "seeds_per_pound")


def thousand_seed_weight(
    counted_groups, confidence=0.95, chaffy_limit=CHAFFY_LIMIT, limit=LIMIT, interval=Weighed.interval
):
    """Thousand-seed weight, its coefficient of variation, and seeds a gram, of each lot -> Values.

    counted_groups : frame, one row a counted group: taxon, lot, test, replicate, mass_g [g], count (seeds in it),
    chaffy (bool: held against `chaffy_limit` in place of `limit`, both % CV). Rows without mass or count are left out;
    interval : how an Interval comes from a Weighed; earlier versions have another.
    Refusal where none is left. Raises UnfitValue as `weigh`. The t interval is of the weighing: it knows nothing of how
    the sample was drawn.
    Source: AOSA Rules, App. 4 tutorial 2001 (formulas); ISTA Rules ch. 10 (limits 6.0 and 4.0, from memory).
    """
    read = counted_groups.dropna(subset=["mass_g", "count"])
    if read.empty:
        return Refusal(quantity=WEIGHT, missing="No counted group of units was weighed.",
                       remedy="Count eight groups of 100 and weigh each.")
    read = read.assign(value=1000 * read["mass_g"] / read["count"], quantity=WEIGHT)
    estimates, warnings = [], []
    for (_, lot), part in read.groupby(["taxon", "lot"], sort=False, dropna=False):
        chaffy = bool(part["chaffy"].isin([True]).any())
        most = chaffy_limit if chaffy else limit
        found = weigh(part["mass_g"], part["count"], most)
        estimates += _estimates(part[found.kept], found, confidence, interval)
        warnings += _doubts(lot, found, most, chaffy=chaffy)
    return Values(
        units=units_frame(read), estimates=tuple(estimates), warnings=tuple(warnings),
        method="Mean of counted groups, as the mass of a thousand, with a t interval between groups.",
        assumptions=("The groups were counted from the pure seed as it came, without choosing.",),
    )


def _estimates(part, found, confidence, interval_of):
    """Weight, variation and seeds a gram of one lot."""
    taxon, lot = (part[name].iloc[0] for name in ("taxon", "lot"))
    ends = interval_of(found, confidence)
    behind = {"confidence": confidence, "replicates": len(part), "seeds": float(part["count"].sum())}
    many = ends.inverse().times(1000.0)
    for quantity, interval, unit in (
        (WEIGHT, ends, "g"), (VARIATION, Interval(found.variation), "%"), (PER_GRAM, many, per("", "g")),
    ):  # fmt: skip
        yield estimate_of(taxon, lot, quantity, interval, unit=unit, **behind)


def _doubts(lot, found, limit, *, chaffy):
    out = int((~found.kept).sum())
    if out:
        yield f"{lot}: {out} of {found.kept.size} weighings lay more than two standard deviations off and were left out."
    if found.variation > limit:
        kind = "chaffy seed" if chaffy else "this kind of seed"
        more = "Weigh eight more." if found.kept.size < MORE else "The lot is not even: mix it and sample again."
        yield (f"{lot}: {found.kept.sum()} weighings give a coefficient of variation of {found.variation:.1f} %; the "
               f"limit for {kind} is {limit:.1f} %. {more}")
