"""How germination went on over time: the curve, and the times it took."""

import numpy as np

from palea.calc.germination.arms import KEYS, arms, one_batch
from palea.calc.germination.batch_times import batches_differ, doubts, places
from palea.calc.germination.time_ratios import ratios
from palea.calc.germination.timed import T50, TIMES, Timed, of_dishes
from palea.calc.results import Curve, Curves, Effects, Estimate, Refusal
from palea.calc.stats import value_means
from palea.calc.stats.contrasts import with_elsewhere
from palea.calc.stats.proportions import normal_quantile
from palea.calc.stats.resampling import percentile_interval
from palea.calc.stats.time_to_event import masses
from palea.calc.terms import Denominator, Rung
from palea.errors import UnfitValue

CURVE = "germination curve"

_FITTED = (
    "t50 is the half time e of a log-logistic curve with a share that never germinates, fitted to inspection intervals "
    "(t1, t2] by maximum likelihood. t10, t90 and their spread are of those seen to germinate, from the NPMLE, linear "
    "within an inspection interval (Farooq's variant); time to a share of sown: to {share} %. "
)
_BY_BATCH = (
    "Unit of replication: the treatment batch, its dishes pooled and a curve fitted to each. Means of the logs of the "
    "batches' times, so that groups are geometric means and effects ratios of a to b; one variance pooled over the "
    "treatments of a species and environment, {confidence} % t intervals on its degrees of freedom{precision}. The "
    "share that never germinates: means of the batches' shares, or where one is near 0 or 100 % or they are uneven, "
    "score intervals with effective numbers of seeds. "
)
_PRECISION = (
    "; where sampling errors of the fits differ more than twofold between treatments, a variance common to all batches "
    "plus each treatment's own sampling variance (Paule & Mandel 1982)"
)
_BY_DISH = "Where an arm has a single batch, or fewer than two with a curve, dishes in place of batches. "
_ALIKE = "Logs of times vary alike between batches in all treatments of a species and environment."
_APART = "Batches of a treatment were made independently, and dishes were set out without regard to treatment."
_BATCHES_FIXED = "Batches are taken as they are: the intervals hold the variation between dishes of a batch."
_DISHES_FIXED = "Where dishes are judged, batches are taken as they are: intervals hold variation within batches only."
_CENSORED = "Seeds lost or removed before the end would have germinated like those that stayed."
_NO_COUNTS = ("No dish has counts of newly germinated seeds over time.",
              "Enter the counts of each visit, not only the end; percentages alone cannot be used.")


def curve(intervals, confidence=0.95, replicates=2000, seed=1, denominator=Denominator.FILLED):
    """Share germinated by each time, as steps with a band, for every taxon, environment and treatment.

    intervals : frame, one row a dish and inspection interval (left, right] [d]: taxon, treatment, environment, batch,
    unit, left, right (inf: not seen to germinate by `left`), count.
    denominator : what the seeds counted are, for the label; nothing is converted.
    Returns Curves in % of the seeds counted. A step stands at the visit that saw the seeds: the curve lies at or below
    the truth between visits. Band: each time by itself, from draws of dishes within batches; where the dishes agree
    wholly, as at 0 and 100 %, a Wilson interval on n / DE seeds, so that none seen is not taken for none possible;
    nan for a single dish. `units` holds each dish's own curve. `estimates` are the last times.
    Refusal where no dish has counts over time. Raises UnfitValue for intervals that run backwards.
    Source: Turnbull 1976, J. R. Stat. Soc. B 38:290-295; band: Rao & Wu 1988, J. Am. Stat. Assoc. 83:231-241.
    """
    found = list(arms(intervals).values())
    if not found:
        return Refusal(quantity=CURVE, missing=_NO_COUNTS[0], remedy=_NO_COUNTS[1])
    label = str(denominator)
    drawn = [_band(arm, confidence, replicates, seed) for arm in found]
    lines = tuple(
        Curve(arm.key, time, value, lower, upper, **arm.behind)
        for arm, (time, value, lower, upper) in zip(found, drawn, strict=True)
    )
    units = of_dishes(found, [_dishes(arm, line.time) for arm, line in zip(found, lines, strict=True)])
    return Curves(
        units=units.assign(quantity=CURVE, denominator=label), quantity=CURVE, denominator=label, curves=lines,
        estimates=tuple(_at_end(line, confidence, label) for line in lines), warnings=_warnings(found),
        assumptions=(_BATCHES_FIXED, _CENSORED),
        method="Best-fitting curve without a formula (NPMLE) of inspection intervals (t1, t2], the life table where "
        "visits are shared. " + _drawn_by(confidence, replicates, seed),
    )


def _drawn_by(confidence, replicates, seed):
    return (
        f"Intervals: {100 * confidence:g} % percentiles of {replicates} draws of dishes within their batches, one dish "
        "fewer than a batch has and weighted up (Rao & Wu 1988), stretched as a t interval is (Hesterberg 2015), seed "
        f"{seed}. With fewer than 8 degrees of freedom draws do not reach far enough: times and their ratios then have t "
        "intervals on logs with the spread of the draws, and the band of a curve is somewhat too narrow."
    )


def _band(arm, confidence, replicates, seed):
    """Times, and in % of seeds counted: value, lower, upper."""
    where = arm.where
    last = arm.left[np.isinf(arm.right)].max(initial=0.0)
    time = np.unique(np.concatenate([[0.0], where.upper[np.isfinite(where.upper)], [last]]))
    counts = np.vstack([arm.counts.sum(axis=0), arm.draws(CURVE, replicates, seed) @ arm.counts])
    share = _seen_by(where, masses(where, counts), time)
    value = share[0]
    lower, upper = percentile_interval(share[1:], confidence, arm.df)
    careful = arm.careful(value, normal_quantile(confidence))
    agreed = np.isnan(lower) & (len(arm.units) > 1)
    lower, upper = np.where(agreed, careful[0], lower), np.where(agreed, careful[1], upper)
    lower, upper = np.minimum(lower, value), np.maximum(upper, value)
    start = time == 0  # before the first wetting nothing can have germinated
    return time, 100 * value, 100 * np.where(start, value, lower), 100 * np.where(start, value, upper)


def _seen_by(where, mass, time):
    total = np.cumsum(mass, axis=1)
    total = np.hstack([np.zeros((len(total), 1)), np.minimum(total, 1.0)])
    return total[:, np.searchsorted(where.upper, time, side="right")]


def _dishes(arm, time):
    value = 100 * _seen_by(arm.where, masses(arm.where, arm.counts), time)
    return {
        "unit": np.repeat(arm.units, time.size), "batch": np.repeat(arm.batches, time.size),
        "time": np.tile(time, len(arm.units)), "value": value.ravel(),
    }  # fmt: skip


def _at_end(line, confidence, denominator):
    return Estimate(
        CURVE, line.of, float(line.value[-1]), float(line.lower[-1]), float(line.upper[-1]), confidence=confidence,
        denominator=denominator, time=float(line.time[-1]), rung=str(Rung.DISH), n_batches=line.n_batches,
        n_units=line.n_units, n_seeds=line.n_seeds,
    )


def times(
    intervals, asked, confidence=0.95, replicates=999, seed=1, denominator=Denominator.FILLED, share_of_sown=0.25,
    timed_as=Timed,
):
    """Times to germination of every group, and ratios of times for the declared contrasts.

    intervals : as in `curve`; with a column `sown` (seed units sown in the dish) the fixed share is taken of that, else
    of the seeds counted.  asked : frame of declared contrasts: taxon, environment ("": each one), a, b, quantity, kind,
    margin (a ratio above 1; nan: none), wanted, primary, asks_about, refused, margin_late; those on a time are judged.
    share_of_sown : the fixed share, 0 to 1.  timed_as : the class of the times of an arm; earlier versions have another.
    Returns Effects. Groups [d]: t50 is e of the fitted log-logistic curve with a never-germinating share, given with
    that share [%] and the shape b; t10, t90 and their spread are of those seen to germinate, read off the NPMLE, linear
    within an inspection interval; time to a share of sown likewise. Effects: a / b, verdict with the null at 1, from
    the 95 and 90 % intervals whatever `confidence` is.
    On batches where all arms concerned have two or more: a value a batch, its dishes pooled; means of logs, one
    variance pooled over the treatments of a species and environment, t on its degrees of freedom (see
    stats.value_means for treatments of unlike precision); Dunnett for several superiority contrasts with one control,
    Holm for several primaries of a species, among those judged on batches. A batch that no curve can be fitted to is
    left out, with a warning. Else on dishes, drawn within batches on both sides, percentile intervals without p, which
    hold for these batches only.
    A group with germinants in fewer than three intervals has no times (nan, with the reason). Refusal where no dish has
    counts over time, or no group has enough. Raises UnfitValue for a share outside (0, 1).
    Source: Farewell 1982, Biometrics 38:1041-1046 (curve); Turnbull 1976, J. R. Stat. Soc. B 38:290-295 (NPMLE);
    Farooq et al. 2005, J. Integr. Plant Biol. 47:187-193 (interpolation); ladder of replication: Hurlbert 1984, Ecol.
    Monogr. 54:187; means and pooled variance: Snedecor & Cochran 1989, Statistical Methods, ch. 12; Dunnett 1955; Holm
    1979; Rao & Wu 1988, J. Am. Stat. Assoc. 83:231-241 (draws).
    """
    if not 0 < share_of_sown < 1:
        msg = f"share_of_sown is {share_of_sown:g}; allowed is above 0 and below 1, such as 0.25."
        raise UnfitValue(msg)
    found = arms(intervals)
    if not found:
        return Refusal(quantity=T50, missing=_NO_COUNTS[0], remedy=_NO_COUNTS[1])
    timed = {key: timed_as(arm, replicates, seed, share_of_sown) for key, arm in found.items()}
    if all(group.reason for group in timed.values()):
        return Refusal(
            quantity=T50, missing="No group has germinants in three or more inspection intervals.",
            remedy="Visit more often while germination is under way; the final share can be judged without.",
        )
    here = places(timed)
    groups = [e for place in here.values() for e in place.groups(confidence, str(denominator))]
    mine = asked["quantity"].isin(TIMES)
    plain = asked["across"].eq("") if "across" in asked else mine | True  # whether a difference changes is asked elsewhere
    plain = with_elsewhere(asked, mine & plain)[plain]
    effects, warnings, leant = ratios(here, plain, confidence)
    rungs = {e.rung for e in (*groups, *effects) if np.isfinite(e.value)}
    return Effects(
        units=_t50_of_dishes(timed.values()), groups=tuple(groups),
        effects=tuple(effects), assumptions=_assumptions(rungs),
        warnings=(
            *_warnings(found.values()), *doubts(here), *batches_differ({key: here[key] for key in leant}), *warnings,
        ),
        method=_FITTED.format(share=f"{100 * share_of_sown:g}") + _judged_by(here, rungs, confidence, replicates, seed),
    )


def _t50_of_dishes(timed):
    frame = of_dishes([group.arm for group in timed], [group.dishes() for group in timed])
    return frame.assign(quantity=T50, denominator="")[[*KEYS, "unit", "batch", "quantity", "denominator", "value"]]


def _judged_by(here, rungs, confidence, replicates, seed):
    """Of the rungs that were used."""
    models = {means.model for place in here.values() for means in place.means.values()}
    precision = _PRECISION if value_means.BY_PRECISION in models else ""
    on_batches = _BY_BATCH.format(confidence=f"{100 * confidence:g}", precision=precision)
    on_dishes = _BY_DISH + _drawn_by(confidence, replicates, seed)
    return (on_batches * (Rung.BATCH in rungs) + on_dishes * (Rung.DISH in rungs)).strip()


def _assumptions(rungs):
    on_batches = (_APART, _ALIKE) if Rung.BATCH in rungs else ()
    return (*on_batches, *((_DISHES_FIXED,) if Rung.DISH in rungs else ()), _CENSORED)


def _warnings(found):
    found = list(found)
    single = sorted({arm.key["treatment"] for arm in found if len(arm.units) == 1})
    alone = (f"One dish only, so no interval: {', '.join(single)}.",) if single else ()
    return one_batch(found) + alone
