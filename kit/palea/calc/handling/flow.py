"""How seed flows: bulk and tapped density, what follows from them, angle of repose, a funnel, and blockages."""

from dataclasses import replace

import numpy as np
import pandas as pd

from palea.calc.checked import above_zero, not_below_zero
from palea.calc.germination.arms import KEYS
from palea.calc.handling.falling import terminal_velocity
from palea.calc.handling.means import Ladder, effects, groups, readings
from palea.calc.handling.terms import ANGLE, BLOCKED, BULK, CARR, FALL, FUNNEL, HAUSNER, ONE_BATCH, TAPPED, UNITS
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats.proportions import clopper_pearson
from palea.calc.terms import Rung
from palea.errors import UnfitValue

# Highest value of each class, in whole per cent or degrees; above the last one: very, very poor. Source: USP <1174>.
CLASSES = ("excellent", "good", "fair", "passable", "poor", "very poor", "very, very poor")
CARR_TOPS, ANGLE_TOPS = (10, 15, 20, 25, 31, 37), (30, 35, 40, 45, 55, 65)
MEASURED = (BULK, TAPPED, CARR, HAUSNER, ANGLE, FUNNEL, FALL)
ASSUMPTIONS = (
    "Samples of a material were poured anew from the bag, not measured twice.",
    "For the fall in air seeds are taken as balls: awned, winged or flat seed falls slower.",
    "Materials vary alike from sample to sample (for bulk and tapped density and funnel flow: as a percentage).",
)
READ = ("mass_g", "bulk_ml", "tapped_ml", "cone_height_mm", "cone_radius_mm", "funnel_g", "funnel_s", "blocked")
LOGGED = (BULK, TAPPED, HAUSNER, FUNNEL, FALL)
OF_A_SEED = ("diameter_mm", "seed_g_ml")


def density(mass_g, volume_ml):
    """Bulk density of a poured sample, or tapped density of one that was tapped until it settled [g/mL].

    Raises UnfitValue for a mass or volume not above 0.  Source: USP <616> (mass over volume).
    """
    return above_zero(mass_g, "mass_g") / above_zero(volume_ml, "volume_ml")


def hausner_ratio(bulk, tapped):
    """Tapped over bulk density, 1 or above. Raises UnfitValue where tapped is below bulk.  Source: USP <1174>.

    >>> float(hausner_ratio(0.45, 0.55).round(4))
    1.2222
    """
    bulk, tapped = above_zero(bulk, "bulk"), above_zero(tapped, "tapped")
    looser = tapped < bulk * (1 - 1e-9)
    if np.any(looser):
        at = int(np.flatnonzero(looser)[0])
        msg = (f"Sample {at + 1}: the tapped density lies below the bulk density; allowed is at or above it. Tapping "
               "cannot loosen seed: read both volumes again.")
        raise UnfitValue(msg)
    return tapped / bulk


def carr_index(bulk, tapped):
    """100 (tapped - bulk) / tapped [%], 0 or above: 100 (1 - 1 / Hausner ratio).  Source: USP <1174>.

    >>> float(carr_index(0.45, 0.55).round(4))
    18.1818
    """
    return 100 * (1 - 1 / hausner_ratio(bulk, tapped))


def flow_class(carr):
    """Word for a Carr index in %, rounded to whole per cent (halves up), because the classes are given in whole ones.

    10 or less excellent, 15 good, 20 fair, 25 passable, 31 poor, 37 very poor, more very, very poor; "" where missing.
    The published classes leave gaps (as 37 to 38); rounding closes them.  Source: USP <1174>.

    >>> flow_class([9.9, 15.4, 18.18, 37.5]).tolist()
    ['excellent', 'good', 'fair', 'very, very poor']
    """
    return _classed(not_below_zero(carr, "carr"), CARR_TOPS)


def angle_class(degrees):
    """Word for an angle of repose, rounded to whole degrees: 30 or less excellent, 35, 40, 45, 55, 65, more.

    Below 25 degrees, where the published list starts, counts as excellent too.  Source: USP <1174>.

    >>> angle_class(30.9638).tolist()
    'good'
    """
    return _classed(not_below_zero(degrees, "degrees"), ANGLE_TOPS)


def _classed(value, tops):
    whole = np.floor(np.asarray(value, float) + 0.5)
    return np.where(np.isnan(whole), "", np.asarray(CLASSES)[np.searchsorted(tops, whole)])


def angle_of_repose(height, radius):
    """Angle of a poured cone [degrees]: atan(height / radius), both in one unit, above 0.  Source: USP <1174>.

    >>> float(angle_of_repose(3, 5).round(4))
    30.9638
    """
    return np.degrees(np.arctan(above_zero(height, "height") / above_zero(radius, "radius")))


def funnel_flow(mass_g, seconds):
    """Mass that ran through a funnel over the time it took [g/s]; compare only at one opening and one fill.

    Raises UnfitValue for a mass or time not above 0.  Source: USP <1174> (flow through an orifice).
    """
    return above_zero(mass_g, "mass_g") / above_zero(seconds, "seconds")


def blockage_rate(blocked, tries, confidence=0.95):
    """Share of tries in which the flow stopped by itself: (share, lower, upper) in %, exact interval.

    Source: Clopper & Pearson 1934.

    >>> [float(x.round(1)) for x in blockage_rate(0, 10)]
    [0.0, 0.0, 30.8]
    """
    lower, upper = clopper_pearson(blocked, tries, confidence)
    return 100 * np.asarray(blocked, float) / np.asarray(tries, float), 100 * lower, 100 * upper


def flow(samples, asked, confidence=0.95):
    """How each material flows, and declared contrasts -> Effects, or Refusal where nothing was measured.

    samples : frame, one row a sample poured once: taxon, treatment, environment, batch, unit, mass_g, bulk_ml,
    tapped_ml, cone_height_mm, cone_radius_mm, funnel_g, funnel_s, blocked (1: the funnel blocked, 0: it did not); nan
    where not measured; and where the fall in air is wanted diameter_mm (of a ball of the same volume) and seed_g_ml
    (density of a seed itself). A blocked funnel has no flow.
    asked : declared contrasts as in germination.final, on any of the quantities here; margins as ratios above 1 for
    densities, Hausner ratio and funnel flow, else in % or degrees.
    Groups: mean (geometric for what is compared as a ratio) with its t interval, the class of the mean as the reason;
    blockages with the exact interval. Between batches where both arms have two or more, else between samples.
    Source: USP <1174>, <616>; means: Snedecor & Cochran 1989, ch. 12; Clopper & Pearson 1934 (blockages).
    """
    units = measured(samples)
    if units["value"].isna().all():
        return Refusal(quantity=CARR, missing="No sample has a volume, a cone or a funnel time.",
                       remedy="Pour at least two samples of each material and enter mass and volumes, or the cone.")
    ladder, estimates, contrasts = Ladder(str(Rung.DISH)), [], []
    for quantity in MEASURED:
        found = readings(units, quantity, ladder, logged=quantity in LOGGED)
        estimates += [_with_class(e) for e in groups(found, quantity, confidence)]
        contrasts += effects(found, asked, quantity, confidence)
    return Effects(
        units=units[units["value"].notna()].reset_index(drop=True), groups=(*estimates, *_blocked(units, confidence)),
        effects=tuple(contrasts), assumptions=ASSUMPTIONS, warnings=_single(estimates),
        method="Means of samples, one variance pooled over the materials of a species, t intervals; of batches where "
        "both sides have two or more. Densities, Hausner ratio and funnel flow on the log scale, so that effects are "
        "ratios. Classes after USP <1174>, the mean rounded to whole per cent or degrees. Blockages: exact binomial.",
    )


def measured(samples):
    """One row a sample and quantity: taxon, treatment, environment, batch, unit, quantity, value (nan: not measured)."""
    number = {name: samples[name].to_numpy(float, na_value=np.nan) for name in READ}
    bulk, tapped = (density(number["mass_g"], number[name]) for name in ("bulk_ml", "tapped_ml"))
    blocked = number["blocked"]
    ran = np.where(blocked == 1, np.nan, number["funnel_g"])
    value = {
        BULK: bulk, TAPPED: tapped, CARR: carr_index(bulk, tapped), HAUSNER: hausner_ratio(bulk, tapped),
        ANGLE: angle_of_repose(number["cone_height_mm"], number["cone_radius_mm"]),
        FUNNEL: funnel_flow(ran, number["funnel_s"]), BLOCKED: 100 * blocked, FALL: _fall(samples),
    }  # fmt: skip
    named = samples[[*KEYS, "batch", "unit"]]
    return pd.concat([named.assign(quantity=q, value=v) for q, v in value.items()], ignore_index=True)


def _fall(samples):
    """Terminal velocity of the seeds of a sample as balls; nan where size or density was not measured."""
    if not set(OF_A_SEED) <= set(samples):
        return np.full(len(samples), np.nan)
    size, density_of_seed = (1e-3 * samples["diameter_mm"].to_numpy(float, na_value=np.nan),
                             1e3 * samples["seed_g_ml"].to_numpy(float, na_value=np.nan))
    return np.where(np.isnan(size + density_of_seed), np.nan, terminal_velocity(size, density_of_seed))


def _with_class(estimate):
    classed = {CARR: flow_class, ANGLE: angle_class}.get(estimate.quantity)
    if classed is None:
        return estimate
    told = f"{estimate.quantity.capitalize()}: {classed(estimate.value)} flow."
    return replace(estimate, reason=" ".join(filter(None, (told, estimate.reason))))


def _blocked(units, confidence):
    mine = units[(units["quantity"] == BLOCKED) & units["value"].notna()]
    for key, part in mine.groupby(list(KEYS), sort=False, dropna=False):
        tries, blocked = len(part), float((part["value"] > 0).sum())
        value, lower, upper = map(float, blockage_rate(blocked, tries, confidence))
        yield Estimate(
            BLOCKED, dict(zip(KEYS, map(str, key), strict=True)), value, lower, upper,
            confidence=confidence, unit=UNITS[BLOCKED], rung=str(Rung.DISH), n_units=tries,
            n_batches=part["batch"].nunique(),
        )  # fmt: skip


def _single(estimates):
    alone = sorted({e.of["treatment"] for e in estimates if e.n_batches == 1})
    return (f"{ONE_BATCH} ({', '.join(alone)}.)",) if alone else ()
