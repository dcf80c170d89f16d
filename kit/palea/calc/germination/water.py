"""Germination in drought: whether a treatment does the same there as in water, and hydrotime where it can be fitted."""

from dataclasses import dataclass, field, replace

import numpy as np
from scipy.special import ndtri

from palea.calc.germination.arms import ONE_BATCH
from palea.calc.germination.conditions import Series, series, settings
from palea.calc.germination.dishes import LABELS, counted_dishes
from palea.calc.germination.interaction import interactions
from palea.calc.germination.stress_terms import (
    BASE_TEMPERATURE,
    BASE_WATER,
    HYDROTHERMAL,
    HYDROTIME,
    NEVER,
    SPREAD_WATER,
    UNITS,
    WATER_CHANGE,
)
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats import declared
from palea.calc.stats.resampling import percentile_interval
from palea.calc.stats.threshold_models import Hydrothermal, Hydrotime
from palea.calc.stats.threshold_time import fit
from palea.calc.terms import Denominator, Rung

FEWEST_POTENTIALS, FEWEST_WITH, FEWEST_TEMPERATURES = 4, 2, 4
NAMED = {"base": BASE_WATER, "spread": SPREAD_WATER, "constant": HYDROTIME, "base temperature": BASE_TEMPERATURE}
TOO_FEW = "Hydrotime needs {} water potentials with germination at {} or more; there are {} with germination at {}."
REMEDY = "Set out dishes at four potentials or more, water among them, dry enough to slow the seed and wet enough for some."
UNDETERMINED = "These counts do not say how time and water potential hang together: no maximum of the likelihood."
ASSUMPTIONS = (
    "Base water potentials of the seeds are normally distributed and one hydrotime holds for all of a treatment.",
    "The share that never germinates is the same at all water potentials.",
    "Dishes are resampled within potential and batch: intervals hold the variation between dishes of a batch.",
    "One received lot a species: the answer is for that lot.",
)


@dataclass(frozen=True)
class Fitted:
    """Hydrotime of one treatment: values {quantity: number}, drawn {quantity: (replicates,)}; reason "" where it has any."""

    line: Series
    reason: str
    value: dict = field(default_factory=dict)
    drawn: dict = field(default_factory=dict, repr=False)

    def interval(self, quantity, confidence):
        """Percentiles of the draws."""
        return percentile_interval(self.drawn[quantity], confidence, self.line.df)


def water(
    intervals, shares, asked, environments, confidence=0.95, replicates=999, seed=1, denominator=Denominator.FILLED
):
    """Change of declared effects with water potential, and hydrotime of each treatment -> Effects, or Refusal.

    intervals : as in germination.time.curve.  shares, asked : as in germination.final.  environments : one row an
    environment, see conditions.settings.  denominator : what the seeds of `intervals` are, for the label.
    Change: at each temperature, each drier potential against the wettest: (a - b) dry less (a - b) wet, in points, with
    the verdict of the declared contrast.
    Hydrotime, at each temperature: base water potential of the median seed, its spread (SD), hydrotime and the share
    that never germinates, by maximum likelihood of counts in inspection intervals; intervals by resampling dishes within
    potential and batch, which takes over-dispersion between dishes along. Needs four potentials with germination at two
    or more, else those estimates are not judged, with the reason. With four temperatures besides: hydrothermal time.
    For each declared pair the difference of base potentials and the ratio of hydrotimes; a verdict only where it was
    declared on them.
    Refusal where there is one potential only, or no dish.
    Source: Gummerson 1986, J. Exp. Bot. 37:729-741; Bradford 1990, Plant Physiol. 94:840-849; interaction: Steel &
    Torrie 1980; Rao & Wu 1988, J. Am. Stat. Assoc. 83:231-241 (draws).
    """
    placed, told = settings(environments)
    dishes, left_out = counted_dishes(shares)
    used = [s for s in placed if set(s.environments) & {*intervals["environment"], *dishes["environment"]}]
    regimes = _regimes(used)
    if not any(len(levels) > 1 for levels in regimes):
        return Refusal(quantity=BASE_WATER, missing="All dishes stood at one water potential, or it is not recorded.",
                       remedy=REMEDY, warnings=told)
    effects = [e for levels in regimes for dry in levels[1:]
               for e in interactions(dishes, asked, dry, levels[0], WATER_CHANGE, confidence)]
    fitted = [_hydrotime(each, replicates, seed) for levels in regimes for each in series(intervals, levels).values()]
    fitted += [_hydrothermal(each, replicates, seed) for each in series(intervals, used).values() if _warm_enough(each)]
    groups = [e for f in fitted for e in _estimates(f, confidence, str(denominator))]
    effects += _differences(fitted, asked, confidence)
    return Effects(
        units=_by_dish(dishes), groups=tuple(groups), effects=tuple(effects), assumptions=ASSUMPTIONS,
        warnings=(*told, *left_out, *_single(fitted)), method=_method(confidence, replicates, seed),
    )


def _method(confidence, replicates, seed):
    return (
        "Change of an effect: difference of differences of shares, on batches that stood in both settings where both "
        "treatments have two, else on dishes. Hydrotime: probit(g) = (psi - theta / t - psi_b50) / sigma with a share "
        "that never germinates, maximum likelihood of counts in inspection intervals (t1, t2]. Intervals: "
        f"{100 * confidence:g} % percentiles of {replicates} draws of dishes within potential and batch, seed {seed}. "
        "Hydrotime effects stand each by itself: no adjustment for several."
    )


def _regimes(placed):
    """Settings of each temperature regime, the wettest first."""
    found = {}
    for setting in placed:
        found.setdefault(setting.warmth, []).append(setting)
    return [tuple(sorted(levels, key=lambda s: -s.water)) for levels in found.values()]


def _by_dish(dishes):
    return dishes[LABELS].assign(value=100 * dishes["k"] / dishes["n"])


def _too_few(line):
    potentials = np.array([s.water for s in line.settings])
    with_some = np.unique(potentials[line.germinated > 0]).size
    held = np.unique(potentials).size
    if held >= FEWEST_POTENTIALS and with_some >= FEWEST_WITH:
        return ""
    return f"{TOO_FEW.format(FEWEST_POTENTIALS, FEWEST_WITH, held, with_some)} {REMEDY}"


def _hydrotime(line, replicates, seed):
    reason = _too_few(line)
    if reason:
        return Fitted(line, reason)
    psi = np.array([s.water for s in line.settings])
    model = Hydrotime(psi[line.level])
    return _fitted(line, model, start_of_hydrotime(psi[line.level], line), replicates, seed)


def start_of_hydrotime(psi, line):
    """First guess of the own parameters: probits of shares seen by each visit, least squares on psi and 1 / t."""
    counts = line.counts.sum(axis=0)
    seen = np.isfinite(line.right)
    best = max(float(np.max(line.germinated / np.bincount(line.level, counts))), 1e-3)
    rows = []
    for level in np.unique(line.level):
        at = line.level == level
        for time in np.unique(line.right[at & seen]):
            share = counts[at & seen & (line.right <= time)].sum() / counts[at].sum() / (1.02 * best)
            if 0.01 < share < 0.99:
                rows.append((psi[at][0], 1 / time, ndtri(share)))
    if len(rows) < 3:
        return Hydrotime.own(np.median(psi), 0.5, 1.0)
    psi_at, slow, probit = np.array(rows).T
    design = np.column_stack([-np.ones_like(psi_at), psi_at, -slow])
    found = np.linalg.lstsq(design, probit, rcond=None)[0]
    return np.array([found[0], max(found[1], 0.2), max(found[2], 0.2)])


def _warm_enough(line):
    return (not _too_few(line) and all(s.constant for s in line.settings)
            and len({s.temperature for s in line.settings}) >= FEWEST_TEMPERATURES)


def _hydrothermal(line, replicates, seed):
    psi, warm = np.array([s.water for s in line.settings]), np.array([s.temperature for s in line.settings])
    coldest = warm[line.germinated > 0].min()
    start = start_of_hydrotime(psi[line.level], line)
    model = Hydrothermal(psi[line.level], warm[line.level], coldest)
    below = 5.0
    own = np.append(start * np.array([1, 1, warm.mean() - coldest + below]), np.log(below))
    return _fitted(line, model, own, replicates, seed)


def _fitted(line, model, start, replicates, seed):
    """Fit all dishes together, then each draw of dishes from there."""
    looks = line.looks()
    whole = fit(model, looks, line.counts.sum(axis=0), start)
    value = _values(model, whole)
    if not whole.settled[0] or not all(np.isfinite(v[0]) for v in value.values()):
        return Fitted(line, UNDETERMINED)
    drawn = fit(model, looks, line.draws(HYDROTIME, replicates, seed), whole.shape[0])
    several = {name: np.where(drawn.settled, v, np.nan) for name, v in _values(model, drawn).items()}
    return Fitted(line, "", {name: float(v[0]) for name, v in value.items()}, several)


def _values(model, fitted):
    """{quantity: (r,)}."""
    natural = model.natural(fitted.shape)
    named = {NAMED[name]: value for name, value in natural.items()}
    if "base temperature" in natural:
        named[HYDROTHERMAL] = named.pop(HYDROTIME)
    return named | {NEVER: 100 * (1 - fitted.share[:, 0])}


def _estimates(fitted, confidence, denominator):
    bare = {"of": fitted.line.key, "confidence": confidence, "rung": str(Rung.DISH)} | fitted.line.behind
    if fitted.reason:
        yield Estimate(BASE_WATER, value=np.nan, unit=UNITS[BASE_WATER], verdict="not judged", reason=fitted.reason, **bare)
        return
    remark = ONE_BATCH if bare["n_batches"] == 1 else ""
    for quantity, value in fitted.value.items():
        lower, upper = fitted.interval(quantity, confidence)
        yield Estimate(quantity, value=value, lower=lower, upper=upper, unit=UNITS[quantity], reason=remark,
                       denominator=denominator if quantity == NEVER else "", **bare)


def _differences(fitted, asked, confidence):
    """Base potentials as differences, hydrotimes as ratios, for each declared pair at each temperature, once."""
    held = {}
    for f in fitted:
        if HYDROTHERMAL not in f.value:
            held.setdefault((f.line.key["taxon"], f.line.settings[0].warmth), {})[f.line.key["treatment"]] = f
    rows = {(r.taxon, r.a, r.b, r.quantity): r for r in declared.about(
        asked, (BASE_WATER, HYDROTIME), beside=(BASE_WATER, HYDROTIME))[::-1]}
    for row in list(rows.values())[::-1]:
        for (taxon, _), arms in held.items():
            if taxon == row.taxon and {row.a, row.b} <= set(arms):
                yield _difference(row, arms[row.a], arms[row.b], confidence)


def _difference(row, a, b, confidence):
    ratio = row.quantity == HYDROTIME
    row = replace(row, environment=b.line.key["environment"])
    behind = {name: a.line.behind[name] + b.line.behind[name] for name in b.line.behind} | {"rung": str(Rung.DISH)}
    reason = row.refused or a.reason or b.reason
    if reason:
        return declared.not_judged(row, reason, confidence, UNITS[row.quantity], ratio=ratio, behind=behind)
    compare = np.divide if ratio else np.subtract
    drawn = compare(a.drawn[row.quantity], b.drawn[row.quantity])
    return declared.by_intervals(
        row, compare(a.value[row.quantity], b.value[row.quantity]),
        lambda level: percentile_interval(drawn, level, a.line.df + b.line.df), confidence, UNITS[row.quantity], behind,
        ratio=ratio, remark=ONE_BATCH if 1 in (a.line.behind["n_batches"], b.line.behind["n_batches"]) else "",
    )  # fmt: skip


def _single(fitted):
    alone = sorted({f.line.key["treatment"] for f in fitted if f.line.behind["n_batches"] == 1})
    return (f"{ONE_BATCH} ({', '.join(alone)}.)",) if alone else ()
