"""Thermal time of one treatment from dishes at several constant temperatures, and its declared contrasts."""

from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from palea.calc.germination.arms import ONE_BATCH
from palea.calc.germination.conditions import Series
from palea.calc.germination.stress_terms import (
    BASE_TEMPERATURE,
    CEILING,
    OPTIMUM,
    SPREAD_THERMAL,
    THERMAL,
    THERMAL_ABOVE,
    UNITS,
)
from palea.calc.results import Estimate
from palea.calc.stats import declared, plateau
from palea.calc.stats.resampling import percentile_interval
from palea.calc.stats.threshold_models import Thermal
from palea.calc.stats.threshold_time import fit
from palea.calc.terms import Rung

FEWEST_TEMPERATURES, FEWEST_WITH = 4, 3
NAMED = {
    "base temperature": BASE_TEMPERATURE, "constant": THERMAL, "spread": SPREAD_THERMAL, "optimum": OPTIMUM,
    "ceiling": CEILING, "constant above": THERMAL_ABOVE,
}
TOO_FEW = (
    "Thermal time needs {} constant temperatures with germination at {} or more; there are {} with germination at {}. "
    "Add temperatures until there are."
)
UNDETERMINED = "These counts do not say how time and temperature hang together: no maximum of the likelihood."


@dataclass(frozen=True)
class Fitted:
    """As water.Fitted, for thermal time."""

    line: Series
    reason: str
    value: dict = field(default_factory=dict)
    drawn: dict = field(default_factory=dict, repr=False)


def thermal(line, replicates, seed):
    """Fit one treatment -> Fitted. Past the optimum only where two temperatures with germination lie on either side."""
    warm = np.array([s.temperature for s in line.settings])
    with_some = warm[line.germinated > 0]
    if warm.size < FEWEST_TEMPERATURES or with_some.size < FEWEST_WITH:
        return Fitted(line, TOO_FEW.format(FEWEST_TEMPERATURES, FEWEST_WITH, warm.size, with_some.size))
    order = np.sort(with_some)
    splits = [np.inf, *((low + high) / 2 for low, high in pairwise(order[1:-1]))]
    tried = [(*_fit(line, warm, split), split) for split in splits]
    good = [each for each in tried if _sensible(each[0], each[1], order, each[3])]
    if not good:
        return Fitted(line, UNDETERMINED)
    model, whole, looks, _ = min(good, key=lambda each: 2 * each[1].shape.shape[1] - 2 * each[1].loglik[0])
    drawn = fit(model, looks, line.draws(THERMAL, replicates, seed), whole.shape[0])
    several = {NAMED[n]: np.where(drawn.settled, v, np.nan) for n, v in model.natural(drawn.shape).items()}
    return Fitted(line, "", {NAMED[n]: float(v[0]) for n, v in model.natural(whole.shape).items()}, several)


def _fit(line, warm, split):
    """Model, fit and looks with temperatures above `split` taken as past the optimum."""
    with_some = warm[line.germinated > 0]
    at = warm[line.level]
    model = Thermal(at, at > split, with_some.min(), with_some.max())
    looks = line.looks(line.level)
    return model, fit(model, looks, line.counts.sum(axis=0), _start(line, warm, split)), looks


def _sensible(model, fitted, order, split):
    """Whether the fit ended at a maximum, and its optimum lies between the two sides."""
    natural = {name: v[0] for name, v in model.natural(fitted.shape).items()}
    if not fitted.settled[0] or not all(map(np.isfinite, natural.values())):
        return False
    return np.isinf(split) or order[order < split].max() - 1e-6 <= natural["optimum"] <= order[order > split].min() + 1e-6


def _start(line, warm, split):
    """First guess: a straight line through the rates 1 / t50 on either side."""
    rate = np.array([_rate(line, level) for level in range(warm.size)])
    known = np.isfinite(rate) & (line.germinated > 0)
    low, high = known & (warm <= split), known & (warm > split)
    steep = 3.0
    constant, base = _line(warm[low], rate[low])
    coldest, warmest = warm[line.germinated > 0].min(), warm[line.germinated > 0].max()
    start = [steep, steep * np.log(constant), np.log(max(coldest - base, 0.5))]
    if not high.any():
        return np.array(start)
    above, ceiling = _line(-warm[high], rate[high])
    return np.array([*start, steep * np.log(above), np.log(max(-ceiling - warmest, 0.5))])


def _line(warm, rate):
    """(theta, where the rate is 0) of rates rising with warmth; a guess where they do not."""
    slope = np.polyfit(warm, rate, 1)[0] if warm.size > 1 else 0.0
    if slope <= 0:
        slope = rate.mean() / (np.ptp(warm) + 10)
    return 1 / slope, warm.mean() - rate.mean() / slope


def _rate(line, level):
    at = line.level == level
    return float(1 / plateau.fit(line.left[at], line.right[at], line.counts[:, at].sum(axis=0)).half_time[0])


def estimates(fitted, confidence):
    """Yield an Estimate a quantity; one, with the reason, where there is nothing to fit."""
    bare = {"of": fitted.line.key, "confidence": confidence, "rung": str(Rung.DISH)} | fitted.line.behind
    if fitted.reason:
        yield Estimate(THERMAL, value=np.nan, unit=UNITS[THERMAL], verdict="not judged", reason=fitted.reason, **bare)
        return
    for quantity, value in fitted.value.items():
        lower, upper = percentile_interval(fitted.drawn[quantity], confidence, fitted.line.df)
        yield Estimate(quantity, value=value, lower=lower, upper=upper, unit=UNITS[quantity],
                       reason=ONE_BATCH if bare["n_batches"] == 1 else "", **bare)


def differences(fitted, asked, confidence):
    """Yield, for each declared pair, the ratio of thermal times and the difference of base temperatures."""
    held = {(f.line.key["taxon"], f.line.key["treatment"]): f for f in fitted}
    both = (THERMAL, BASE_TEMPERATURE)
    once = {(r.taxon, r.a, r.b, r.quantity): r for r in declared.about(asked, both, beside=both)[::-1]}
    for row in list(once.values())[::-1]:
        a, b = held.get((row.taxon, row.a)), held.get((row.taxon, row.b))
        if a and b:
            yield _difference(replace(row, environment=b.line.key["environment"]), a, b, confidence)


def _difference(row, a, b, confidence):
    ratio = row.quantity == THERMAL
    behind = {name: a.line.behind[name] + b.line.behind[name] for name in b.line.behind} | {"rung": str(Rung.DISH)}
    reason = row.refused or a.reason or b.reason
    if reason:
        return declared.not_judged(row, reason, confidence, UNITS[row.quantity], ratio=ratio, behind=behind)
    compare = np.divide if ratio else np.subtract
    drawn = compare(a.drawn[row.quantity], b.drawn[row.quantity])
    return declared.by_intervals(
        row, compare(a.value[row.quantity], b.value[row.quantity]),
        lambda level: percentile_interval(drawn, level, a.line.df + b.line.df), confidence, UNITS[row.quantity], behind,
        ratio=ratio,
    )  # fmt: skip


def single(fitted):
    """The one-batch warning, naming treatments."""
    alone = sorted({f.line.key["treatment"] for f in fitted if f.line.behind["n_batches"] == 1})
    return (f"{ONE_BATCH} ({', '.join(alone)}.)",) if alone else ()
