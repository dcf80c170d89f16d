"""Survival of plants in the field: curves, shares alive at the planned day, hazard ratios and time lived.

Taken out is not dead: a seedling that was thinned, cut for weighing or lost with its plot was followed until then.
"""

import numpy as np
import pandas as pd

from palea.calc import simulated
from palea.calc.field.answers import UNASKED, effects, groups
from palea.calc.field.lifetimes import alive, alive_means, behind_all, followed, hazard_means, last_look, rungs
from palea.calc.field.plot_times import Measure
from palea.calc.field.plot_times import places as timed_places
from palea.calc.field.questions import HAZARD, POINTS, Place, plain, read
from palea.calc.germination.arms import KEYS, arms
from palea.calc.results import Curve, Curves, Effects, Estimate, Refusal
from palea.calc.stats.kaplan_meier import log_rank
from palea.calc.stats.proportions import score_interval, t_quantile
from palea.calc.terms import Denominator, Rung
from palea.errors import UnfitValue

SURVIVING, CURVE = "surviving", "survival curve"
HAZARD_OF, LIVED = "hazard of dying", "time lived"
EMERGED = str(Denominator.EMERGED)
NOBODY = ("No plot has plants that were followed.",
          "Enter what stood, what had died and what was taken out at each visit; write 0 where there was none.")
ASSUMPTIONS = (
    "Plants that were thinned, cut or lost would have died like those that stayed. Thinning by size breaks this.",
    "Plots were laid out at random within their blocks, and vary alike in all treatments, given the share alive.",
    "Hazard ratios: hazards of two treatments stand in one proportion from the first visit to the last.",
)
METHOD = (
    "Share alive from intervals between visits: the life table where visits are shared (Kaplan-Meier), the best-fitting "
    "curve without a formula elsewhere (NPMLE). Unit of replication: the plot; effective numbers of plants by one "
    "dispersion between plots of a species and site, score intervals, t quantiles. Hazard ratio: complementary log-log on "
    "visit intervals, {hazards}. Time lived up to the planned day: area below the curve, each "
    "plot's part by leaving it out. " + simulated.CAREFUL_SURVIVAL
)
BETWEEN_PLANTS = "between all plants, errors between plots (sandwich, CR2)"
BETWEEN_PLOTS = "between plots alike, plots differing at random (normal on the log hazard scale, maximum likelihood)"
SHOWN = "For display only, clustered by plot: log-rank {statistic:.3g} on {df} df, p {p:.2g} ({taxon}, {place})."
BESIDE = "Beside the difference at the planned day: it carries no verdict of its own."


def curve(intervals, confidence=0.95):
    """Share alive over time, as steps with a band, for every species, site and treatment -> Curves, or Refusal.

    intervals : one row a plot and interval (left, right] [d]: taxon, treatment, environment, batch, unit, left, right
    (inf: alive or taken out when last seen, at `left`), count; and where there are such block, main_plot, level. Time
    counts from the day at which the plants were tagged or kept.
    Band: each time by itself, score intervals with effective numbers of plants (see lifetimes.alive_means); nan for a
    single plot. `units` holds each plot's own curve; `estimates` are the last times.
    Raises UnfitValue for intervals that run backwards.
    Source: Kaplan & Meier 1958; Turnbull 1976; Rao & Scott 1992, Biometrics 48:577 (effective numbers).
    """
    frame = followed(intervals)
    found = arms(frame)
    if not found:
        return Refusal(quantity=CURVE, missing=NOBODY[0], remedy=NOBODY[1])
    lines, units = [], []
    for _, part in frame.groupby(["taxon", "environment"], sort=False):
        bands = {}  # of all treatments of a species and site at once, time by time
        for arm in arms(part).values():
            lines.append(_line(arm, part, bands, confidence))
            units.append(_own(arm, lines[-1].time))
    units = pd.concat(units, ignore_index=True).assign(quantity=CURVE, denominator=EMERGED)
    return Curves(
        units=units, method=f"{METHOD.split(' Hazard ratio', maxsplit=1)[0]} {simulated.CAREFUL_SURVIVAL}",
        assumptions=ASSUMPTIONS[:2], quantity=CURVE,
        denominator=EMERGED, curves=tuple(lines), estimates=tuple(_at_end(line, confidence) for line in lines),
    )


def _line(arm, frame, bands, confidence):
    where = arm.where
    last = arm.left[np.isinf(arm.right)].max(initial=0.0)
    time = np.unique(np.concatenate([[0.0], where.upper[np.isfinite(where.upper)], [last]]))
    value = alive(arm, arm.counts.sum(axis=0)[None], time)[0].clip(0, 1)
    lower, upper = np.full(time.size, np.nan), np.full(time.size, np.nan)
    for at, when in enumerate(time):
        if when not in bands:
            bands[when] = alive_means(frame, when)
        means = bands[when]
        if means is not None and arm.key["treatment"] in means.names:
            seeds = means.seeds[means.names.index(arm.key["treatment"])]
            lower[at], upper[at] = score_interval(value[at], seeds, t_quantile(confidence, means.df))
    start = time == 0  # whoever is followed is alive at the start
    lower, upper = np.where(start, value, lower), np.where(start, value, upper)
    return Curve(arm.key, time, 100 * value, 100 * lower, 100 * upper, **arm.behind)


def _own(arm, time):
    value = 100 * alive(arm, arm.counts, time)
    frame = pd.DataFrame({
        "unit": np.repeat(arm.units, time.size), "batch": np.repeat(arm.batches, time.size),
        "time": np.tile(time, len(arm.units)), "value": value.ravel(),
    })
    return frame.assign(**arm.key)[[*KEYS, "unit", "batch", "time", "value"]]


def _at_end(line, confidence):
    return Estimate(
        SURVIVING, line.of, float(line.value[-1]), float(line.lower[-1]), float(line.upper[-1]), confidence=confidence,
        denominator=EMERGED, time=float(line.time[-1]), rung=str(Rung.PLOT), n_batches=line.n_batches,
        n_units=line.n_units, n_seeds=line.n_seeds,
    )


def compare(intervals, asked, at=np.nan, confidence=0.95, *, plot_effects=False):
    """Survival to the planned day, differences with verdicts, and hazard ratios and time lived beside -> Effects.

    intervals : as in `curve`.  at : the planned day [d]; nan: the last at which all plots were still followed.
    asked : declared contrasts; those on "surviving" (points), "hazard of dying" (margin a ratio above 1) and "time lived"
    (days) are judged. a and b may be two levels of the main plots, and `across` a factor of them or "site".
    Every difference in survival is followed by its hazard ratio and its difference in time lived, without verdicts unless
    they were declared. `method` ends with the log-rank test of each species and site, clustered by plot, for display.
    plot_effects : hazard ratios between plots alike, plots differing at random, in place of those between all plants.
    True coverage of nominal 95 % (tests/coverage, survival): 94 to 100 %, most with four plots or 97 % alive.
    Refusal where nobody was followed. Raises UnfitValue for intervals that run backwards, and a day beyond the last look.
    Source: Prentice & Gloeckler 1978 (hazard ratio); Bell & McCaffrey 2002 (errors between few plots); Rao & Scott 1992;
    Irwin 1949 and Andersen, Hansen & Klein 2004, Lifetime Data Anal. 10:335 (time lived); two error strata: Cochran & Cox
    1957, ch. 7.
    """
    frame = followed(intervals)
    if frame.empty:
        return Refusal(quantity=SURVIVING, missing=NOBODY[0], remedy=NOBODY[1])
    parts = {key: part.reset_index(drop=True) for key, part in frame.groupby(["taxon", "environment"], sort=False)}
    days = {key: _day(key, part, at) for key, part in parts.items()}
    shares, hazards, lived = {}, {}, {}
    for key, part in parts.items():
        of_share, of_hazard = (*key, SURVIVING, EMERGED), (*key, HAZARD_OF, "")
        shares[of_share] = _place(of_share, part, days[key])
        hazards[of_hazard] = _hazards(of_hazard, part, plot_effects=plot_effects)
        lived |= timed_places(part, time_lived(days[key]))
    declared = read(asked, shares, {SURVIVING})
    found = [_at(e, days) for e in effects(shares, declared, POINTS, confidence)]
    for kind, scale in ((hazards, HAZARD), (lived, plain("d"))):
        found += [_at(e, days) for e in _beside(kind, declared, asked, scale, confidence)]
    return Effects(
        units=_units(parts, days), groups=tuple(_at(e, days) for e in groups(shares, POINTS, confidence)),
        effects=tuple(found), assumptions=ASSUMPTIONS, warnings=tuple(_warnings(parts, days)),
        method=" ".join([METHOD.format(hazards=BETWEEN_PLOTS if plot_effects else BETWEEN_PLANTS), *_shown(parts)]),
    )


def _day(key, frame, at):
    ends = np.concatenate([frame["left"], frame["right"][np.isfinite(frame["right"])]])
    if np.isnan(at):
        return float(ends.max())
    if not 0 < at <= ends.max():
        msg = f"at is day {at:g}, but {key[0]} at {key[1]} was followed to day {ends.max():g}. Choose a day up to that."
        raise UnfitValue(msg)
    return float(at)


def _place(key, frame, at):
    found, levels = rungs(frame, lambda part: alive_means(part, at))
    return Place(key, found, behind_all(frame), levels)


def _hazards(key, frame, *, plot_effects):
    missing = {}

    def means(part):
        found, reasons = hazard_means(part, plot_effects=plot_effects)
        missing.update(reasons)
        return found

    found, levels = rungs(frame, means)
    return Place(key, found, behind_all(frame), levels, missing)


def time_lived(until):
    """Measure of the mean time lived up to `until` [d]: the area below the share alive, in steps at the visits."""

    def area(arm, counts):
        looks = np.unique(np.concatenate([arm.where.upper[arm.where.upper < until], [0.0, until]]))
        return alive(arm, counts, looks[:-1]) @ np.diff(looks)

    return Measure(LIVED, area, plain("d"), "", "It cannot be followed to the planned day.")


def _beside(places, declared, asked, scale, confidence):
    """Effects declared on this quantity, and those of the differences in survival, which carry no verdict here."""
    quantity = next(iter(places))[2]
    own = read(asked, places, {quantity})
    yield from effects(places, own, scale, confidence)
    taken = {(each.taxon, each.environment, each.a, each.b) for each in own}
    for each in declared:
        if each.across or each.refused or (each.taxon, each.environment, each.a, each.b) in taken:
            continue
        row = pd.DataFrame([{
            "taxon": each.taxon, "environment": each.environment, "a": each.a, "b": each.b, "quantity": quantity,
            "denominator": "", "kind": "superiority", "margin": np.nan, "wanted": each.wanted, "primary": False,
            "asks_about": each.asks_about, "refused": "", "margin_late": False,
        }])
        here = {key: place for key, place in places.items() if key[:2] == (each.taxon, each.environment)}
        for effect in effects(here, read(row, here, {quantity}), scale, confidence):
            yield _bare(effect)


def _bare(effect):
    """Without a verdict; what stood in the way of a number stays."""
    values = {name: getattr(effect, name) for name in effect.__dataclass_fields__}
    reason = f"{BESIDE} {UNASKED}" if np.isfinite(effect.value) else effect.reason
    return Estimate(**values | {"verdict": "", "kind": "", "margin": np.nan, "reason": reason})


def _at(estimate, days):
    """With the planned day as its time."""
    day = days.get((estimate.of["taxon"], estimate.of["environment"]), np.nan)
    values = {name: getattr(estimate, name) for name in estimate.__dataclass_fields__}
    return Estimate(**values | {"time": day})


def _units(parts, days):
    """Each plot's own share alive at the planned day."""
    rows = []
    for key, part in parts.items():
        for arm in arms(part).values():
            value = 100 * alive(arm, arm.counts, days[key])
            rows.append(pd.DataFrame({"unit": arm.units, "batch": arm.batches, "value": value}).assign(**arm.key))
    return pd.concat(rows, ignore_index=True).assign(quantity=SURVIVING, denominator=EMERGED)


def _shown(parts):
    for (taxon, place), part in parts.items():
        if part["treatment"].nunique() < 2 or not np.isfinite(part["right"]).any():
            continue
        seen = np.isfinite(part["right"])
        test = log_rank(
            np.where(seen, part["right"], part["left"]), seen, part["treatment"], part["count"], cluster=part["unit"]
        )
        yield SHOWN.format(statistic=test.statistic, df=test.df, p=test.p_value, taxon=taxon, place=place)


def _warnings(parts, days):
    for (taxon, place), part in parts.items():
        plots = part.groupby("treatment")["unit"].nunique()
        single = plots.index[plots == 1].tolist()
        if single:
            yield f"One plot only, so no interval: {', '.join(single)} ({taxon}, {place})."
        if days[taxon, place] > last_look(part):
            yield f"Some plots of {taxon} at {place} were lost before day {days[taxon, place]:g}; they count until then."
