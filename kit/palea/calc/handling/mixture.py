"""Whether a mixture of seed stays mixed: how far samples differ in its parts, and what the hopper lets go last."""

import numpy as np
import pandas as pd

from palea.calc.checked import share as checked_share
from palea.calc.handling.terms import DRIFT, MIXING, SEEDER_RUN, THIRDS, UNITS
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats import declared, value_means
from palea.calc.stats.proportions import t_quantile
from palea.errors import UnfitValue

FEWEST_RUNS = 3
DESCRIBED = "Fewer than three runs, so it is described only: samples of one hopper are no replicates."
ASSUMPTIONS = ("Runs were filled and run independently; samples of a third stand for the whole third.",)


def lacey_index(shares, share, units):
    """How well mixed: 1 as by chance, 0 wholly apart: (s0 - s) / (s0 - sr), s0 = p (1 - p), sr = s0 / n.

    shares : (samples,) share of one part in each sample, 0 to 1, by number.  share : p, in the whole mixture.
    units : n, units in a sample.  s is the variance of the shares with divisor samples - 1.
    It may exceed 1 by chance and is not cut there. nan with fewer than two samples.
    Raises UnfitValue for shares outside 0 to 1, a p of 0 or 1, or samples of fewer than two units.
    Source: Lacey 1954, J. Appl. Chem. 4:257-268 (the index from memory).

    >>> float(lacey_index([0.28, 0.33, 0.25, 0.35, 0.31, 0.27, 0.30, 0.36, 0.24, 0.31], 0.3, 100).round(6))
    1.002298
    """
    shares = checked_share(shares, "shares")
    apart = float(share) * (1 - float(share))
    if not apart > 0 or not units >= 2:
        msg = f"share is {share:g} and units {units:g}; allowed are a share above 0 and below 1, and 2 units or more."
        raise UnfitValue(msg)
    if shares.size < 2:
        return np.float64(np.nan)
    return (apart - shares.var(ddof=1)) / (apart - apart / units)


def shares_by_number(counts):
    """Share of each part in each sample: (samples, parts) counts -> the same shape; nan where a sample is empty."""
    counts = np.asarray(counts, float)
    total = counts.sum(axis=-1, keepdims=True)
    return np.divide(counts, total, out=np.full(counts.shape, np.nan), where=total > 0)


def mixture(samples, asked, confidence=0.95):
    """Whether a mixture stays mixed from the first to the last of the hopper -> Effects, or Refusal.

    samples : frame, one row a sample and part of the mixture: treatment (the mixture), environment, batch, run, third
    (1, 2 or 3 in the order in which it ran out), sample (its name), taxon (the part), count (units of it, 0 where
    none; nan where not counted).
    asked : declared contrasts on the drift between mixtures (as treated against bare), margin in points.
    For each part and mixture: its share by number in each third, the drift (last third less first, in points) and
    Lacey's index of the samples of a run, each a mean of runs with its t interval; with fewer than three runs the mean
    alone. Effects: drift of a less that of b for the part that is named; nearer to 0 is better, so read it with the
    groups.
    Refusal where no run has counts of two parts in two thirds. Raises UnfitValue for a third that is not 1, 2 or 3.
    Source: Lacey 1954, J. Appl. Chem. 4:257-268; means of runs: Snedecor & Cochran 1989, Statistical Methods, ch. 4.
    """
    runs = by_run(samples)
    if runs["value"].isna().all():
        return Refusal(quantity=DRIFT, missing="No run has counts of two parts of a mixture in two thirds of the hopper.",
                       remedy="Catch a sample in the first, the middle and the last third of each run and count it.")
    places = runs.groupby(["taxon", "environment", "quantity"], sort=False, dropna=False)
    found = {tuple(map(str, key)): part for key, part in places}
    estimates = [e for key, part in found.items() for e in _groups(key, part, confidence)]
    return Effects(
        units=runs, groups=tuple(estimates), effects=tuple(_effects(found, asked, confidence)),
        assumptions=ASSUMPTIONS,
        method="Shares by number, samples of a third added up. Unit of replication: the run of the seeder. Means of "
        "runs, one variance pooled over mixtures, t intervals. Lacey's index by run, p from all samples of the run, n "
        "the mean size of its samples.",
    )


def by_run(samples):
    """One row a run, part and quantity: taxon, treatment, environment, batch, unit (the run), quantity, value."""
    wrong = ~samples["third"].isin([1, 2, 3])
    if wrong.any():
        msg = f"third is {samples['third'][wrong].iloc[0]}; allowed are 1, 2 and 3, in the order in which seed ran out."
        raise UnfitValue(msg)
    counted = samples[samples["count"].notna()]
    keys = ["treatment", "environment", "batch", "run"]
    rows = []
    for key, part in counted.groupby(keys, sort=False, dropna=False):
        table = part.pivot_table(index=["third", "sample"], columns="taxon", values="count", aggfunc="sum")
        rows += [{**dict(zip(keys, key, strict=True)), **row} for row in _of_run(table.fillna(0.0))]
    columns = ["taxon", "treatment", "environment", "batch", "unit", "quantity", "value"]
    return pd.DataFrame(rows).rename(columns={"run": "unit"}).reindex(columns=columns)


def _of_run(table):
    """Rows of one run from (third, sample) x part counts."""
    thirds = table.groupby(level="third").sum()
    shares = pd.DataFrame(shares_by_number(thirds), thirds.index, thirds.columns).reindex([1, 2, 3])
    whole = shares_by_number(table.sum().to_numpy(float))
    several = table.shape[1] > 1
    for at, taxon in enumerate(table.columns):
        by_third = 100 * shares[taxon].to_numpy(float) if several else np.full(3, np.nan)
        in_samples = shares_by_number(table)[:, at]
        known = 0 < whole[at] < 1 and len(table) > 1
        size = table.sum(axis=1).mean()
        index = float(lacey_index(in_samples[np.isfinite(in_samples)], whole[at], size)) if known else np.nan
        values = {**dict(zip(THIRDS, by_third, strict=True)), DRIFT: by_third[2] - by_third[0], MIXING: index}
        yield from ({"taxon": taxon, "quantity": quantity, "value": value} for quantity, value in values.items())


def _means(part):
    """ValueMeans of the mixtures with enough runs, or None."""
    known = part[part["value"].notna()]
    enough = known.groupby("treatment")["value"].transform("size") >= FEWEST_RUNS
    kept = known[enough]
    return value_means.of_values(kept["treatment"].to_numpy(str), kept["value"].to_numpy(float)) if len(kept) else None


def _groups(key, part, confidence):
    taxon, environment, quantity = key
    means = _means(part)
    for treatment, runs in part[part["value"].notna()].groupby("treatment", sort=False):
        bare = {"quantity": quantity, "confidence": confidence, "unit": UNITS[quantity], "rung": SEEDER_RUN,
                "of": {"taxon": taxon, "environment": environment, "treatment": str(treatment)}} | _behind(runs)
        if means is None or treatment not in means.names:
            yield Estimate(value=float(runs["value"].mean()), reason=DESCRIBED, **bare)
            continue
        value, lower, upper = means.interval(treatment, t_quantile(confidence, means.df))
        if quantity in THIRDS:
            lower, upper = max(lower, 0.0), min(upper, 100.0)
        yield Estimate(value=value, lower=lower, upper=upper, df=means.df, **bare)


def _effects(found, asked, confidence):
    posed = []
    for row in declared.about(asked, (DRIFT,)):
        places = [key for key in found if key[0] == row.taxon and key[2] == DRIFT and row.environment in ("", key[1])]
        for key in places or [None]:
            part = found[key] if key else None
            means = _means(part) if key else None
            if row.refused or means is None or not {row.a, row.b} <= set(means.names):
                yield declared.not_judged(row, DESCRIBED, confidence, UNITS[DRIFT], ratio=False)
            else:
                runs = part[part["treatment"].isin([row.a, row.b]) & part["value"].notna()]
                posed.append((row, means, _behind(runs) | {"rung": SEEDER_RUN}, ""))
    yield from declared.by_means(posed, confidence, UNITS[DRIFT], ratio=False)


def _behind(runs):
    return {"n_batches": runs["batch"].nunique(), "n_units": len(runs)}
