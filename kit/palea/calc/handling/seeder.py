"""What a seeder makes of a material: how even the row is, how often it stops, how the gaps lie. Runs are the units.

The metres of one run share its fill, its opening and its speed: they are one replicate however many there are.
"""

import numpy as np
import pandas as pd

from palea.calc import simulated
from palea.calc.germination.arms import KEYS
from palea.calc.handling.means import Ladder, effects, groups, readings
from palea.calc.handling.rates import bare_rate, calibrated_rate, coat_share, live_seeds_per_m2
from palea.calc.handling.spacing import dispersion_index, spacing, variation
from palea.calc.handling.terms import (
    BARE_RATE,
    DISPERSION,
    FEED,
    LIVE,
    MISSES,
    MULTIPLES,
    ONE_BATCH,
    PER_METRE,
    PRECISION,
    RATE,
    ROW_CV,
    SEEDER_RUN,
    STOPS,
    UNITS,
)
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats import declared
from palea.calc.stats.exact_rates import rate_interval, rate_ratio

FEWEST_RUNS = 3
SAME_SPEED = 1.10  # ratio of mean speeds up to which two materials count as run alike; our own convention
LOGGED = (ROW_CV, PER_METRE, DISPERSION, RATE, BARE_RATE, LIVE)
SOWN = ("delivered_g", "width_m", "tsw_g", "build_up_pct", "live_pct")
OF_GAPS = {FEED: "feed", MULTIPLES: "multiples", MISSES: "misses", PRECISION: "precision"}
NO_RUN = "No run has counts metre by metre, gaps between seeds or a count of stops."
ASSUMPTIONS = (
    "Runs of the materials were made in random order, each with a fill of its own.",
    "Logs of the row variation vary alike between runs of all materials.",
    "Stops come singly and independently of each other.",
)


def seeder(metres, runs, gaps, asked, confidence=0.95):
    """Evenness of the row and stops of each material, and declared contrasts -> Effects, or Refusal without a run.

    metres : frame, one row a run and metre: run, metre, count (units that fell there; 0 where none did).
    runs : one row a run: taxon, treatment, environment, batch, run, length_m, stops (nan: not watched), speed_km_h; and
    where the rate is wanted delivered_g, width_m (sown at once; of a row its distance), tsw_g (of bare seed),
    build_up_pct (0: bare) and live_pct (of seed units).
    gaps : one row a gap between neighbouring seeds: run, gap_mm, wanted_mm; no rows where positions were not read.
    asked : declared contrasts as in germination.final; margins of ratios above 1, of shares in points.
    A value a run: CV and dispersion index of the counts, mean per metre, rates of product and of bare seed [kg/ha] and
    live seeds per m2 (compared as ratios of a to b on the log scale), and quality of feed, multiples, misses and
    precision (SD of singles over the wanted gap; compared in points).
    Fewer than three runs of a material: described only. Stops: pooled over its runs, per 100 m, exact Poisson interval;
    the ratio of two rates by the exact conditional test. True coverage of nominal 95 % (tests/coverage, stops): 95 to 98 %,
    of ratios 97 to 100 %, the more the fewer stops.
    Warnings: one batch, and materials that were run at different speeds.
    Source: ISO 7256-1:1984, ISO 7256-2:1984 (measures); Kachman & Smith 1995, Trans. ASAE 38:379-387; means of runs:
    Snedecor & Cochran 1989, Statistical Methods, ch. 12; Garwood 1936, Biometrika 28:437-442 (stops).
    """
    units = by_run(metres, runs, gaps)
    stopped = _stops(runs, confidence)
    if units.empty and not stopped:
        return Refusal(quantity=ROW_CV, missing=NO_RUN,
                       remedy="Run each material three times or more and count what falls, metre by metre.")
    ladder, estimates, contrasts = Ladder(SEEDER_RUN, FEWEST_RUNS), [], []
    for quantity in (*LOGGED, *OF_GAPS):
        found = readings(units, quantity, ladder, logged=quantity in LOGGED)
        estimates += groups(found, quantity, confidence)
        contrasts += effects(found, asked, quantity, confidence)
    contrasts += _ratios_of_stops(runs, asked, confidence)
    return Effects(
        units=units, groups=(*estimates, *stopped), effects=tuple(contrasts), assumptions=ASSUMPTIONS,
        warnings=(*_single(runs), *_speeds(runs), *_coats(runs)),
        method="Unit of replication: the run of the seeder, or where both materials have two batches or more the batch. "
        "Row variation is 100 s / mean of the counts of a run, metre by metre (divisor n - 1). Means of logs of runs, one "
        "variance pooled over materials, t intervals; effects are ratios of a to b. Precision is the standard deviation "
        "of the singles over the wanted gap. Stops per 100 m with exact Poisson intervals."
        + (f" {simulated.CAREFUL_STOPS}" if stopped else ""),
    )


def by_run(metres, runs, gaps):
    """One row a run and quantity: taxon, treatment, environment, batch, unit (the run), quantity, value."""
    counted = metres[metres["count"].notna()]
    rows = [(run, quantity, value) for run, part in counted.groupby("run", sort=False)
            for quantity, value in _of_counts(part["count"].to_numpy(float)).items()]
    for run, part in gaps.groupby("run", sort=False):
        found = spacing(part["gap_mm"].to_numpy(float), float(part["wanted_mm"].iloc[0]))
        rows += [(run, quantity, getattr(found, name)) for quantity, name in OF_GAPS.items()]
    rows += _of_rates(runs)
    long = pd.DataFrame(rows, columns=["run", "quantity", "value"])
    named = runs[[*KEYS, "batch", "run"]].merge(long.astype({"run": runs["run"].dtype}), on="run", how="inner")
    named = named[named["value"].notna()]
    return named.rename(columns={"run": "unit"}).reset_index(drop=True)


def _of_counts(counts):
    return {ROW_CV: float(variation(counts)), PER_METRE: counts.mean(), DISPERSION: float(dispersion_index(counts))}


def _of_rates(runs):
    """(run, quantity, value) of what was delivered; nothing where it was not weighed."""
    if not set(SOWN) <= set(runs):
        return []
    delivered, width, tsw, build_up, live = (runs[name].to_numpy(float, na_value=np.nan) for name in SOWN)
    rate = calibrated_rate(delivered, width, runs["length_m"].to_numpy(float, na_value=np.nan))
    found = {RATE: rate, BARE_RATE: bare_rate(rate, build_up),
             LIVE: live_seeds_per_m2(rate, tsw, live / 100, build_up)}
    return [(run, quantity, value) for quantity, values in found.items() for run, value in zip(runs["run"], values, strict=True)]


def _coats(runs):
    """That a rate of coated product is not a rate of seed, a sentence a material."""
    if not set(SOWN) <= set(runs):
        return
    coated = runs[runs["delivered_g"].notna() & (runs["build_up_pct"] > 0)]
    for name, part in coated.groupby("treatment", sort=True):
        rate = calibrated_rate(*(part[c].to_numpy(float) for c in ("delivered_g", "width_m", "length_m"))).mean()
        build_up = float(part["build_up_pct"].mean())
        yield (f"{name}: kg/ha of coated product: {100 * coat_share(build_up):.3g} % of it is coat; the bare-seed rate is "
               f"{bare_rate(rate, build_up):.3g}, not {rate:.3g} kg/ha.")


def _watched(runs):
    """Stops and metres of each material: a frame by taxon, environment and treatment."""
    mine = runs[runs["stops"].notna() & runs["length_m"].notna()]
    by = mine.groupby(list(KEYS), sort=False, dropna=False)
    return by.agg(stops=("stops", "sum"), metres=("length_m", "sum"), runs=("run", "nunique"),
                  batches=("batch", "nunique")).reset_index()


def _stops(runs, confidence):
    """An Estimate a material: stops per 100 m."""
    found = []
    for row in _watched(runs).to_dict("records"):
        stops, hundreds = float(row["stops"]), float(row["metres"]) / 100
        lower, upper = map(float, rate_interval(stops, hundreds, confidence))
        found.append(Estimate(
            STOPS, {name: str(row[name]) for name in KEYS}, stops / hundreds, lower, upper, confidence=confidence,
            unit=UNITS[STOPS], rung=SEEDER_RUN, n_units=int(row["runs"]), n_batches=int(row["batches"]),
            reason=f"{stops:.0f} stops in {100 * hundreds:g} m.",
        ))  # fmt: skip
    return found


def _ratios_of_stops(runs, asked, confidence):
    watched = _watched(runs)
    held = {tuple(str(row[name]) for name in KEYS): row for row in watched.to_dict("records")}
    for row in declared.about(asked, (STOPS,)):
        places = dict.fromkeys(key[1] for key in held if key[0] == row.taxon)
        for environment in [row.environment] if row.environment else places or [""]:
            yield _ratio_of_stops(row, held.get((row.taxon, environment, row.a)),
                                  held.get((row.taxon, environment, row.b)), confidence)


def _ratio_of_stops(row, a, b, confidence):
    if row.refused or a is None or b is None or min(a["runs"], b["runs"]) < FEWEST_RUNS:
        why = f"Stops were watched in fewer than {FEWEST_RUNS} runs of one side, so they are described only."
        return declared.not_judged(row, why, confidence, UNITS[STOPS], ratio=True)
    counts = (float(a["stops"]), float(a["metres"]), float(b["stops"]), float(b["metres"]))
    if counts[0] + counts[2] == 0:
        return declared.not_judged(row, "Neither side stopped once.", confidence, UNITS[STOPS], ratio=True)
    behind = {"rung": SEEDER_RUN, "n_units": int(a["runs"] + b["runs"]), "n_batches": int(a["batches"] + b["batches"])}
    return declared.by_intervals(
        row, rate_ratio(*counts)[0], lambda level: rate_ratio(*counts, level)[1:], confidence, UNITS[STOPS], behind,
        ratio=True,
    )


def _single(runs):
    by = runs.groupby("treatment", sort=True)["batch"].nunique()
    alone = ", ".join(by.index[by == 1])
    return (f"{ONE_BATCH} ({alone}.)",) if alone else ()


def _speeds(runs):
    """Materials of one species that were run at speeds too far apart for their rows to be compared."""
    speed = runs[runs["speed_km_h"].notna()].groupby(["taxon", "environment", "treatment"], sort=False)["speed_km_h"].mean()
    for key, part in speed.groupby(level=["taxon", "environment"], sort=False):
        slow, fast = part.idxmin(), part.idxmax()
        if part[fast] > SAME_SPEED * part[slow]:
            yield (f"{fast[2]} ran at {part[fast]:g} km/h, {slow[2]} at {part[slow]:g} ({key[0]}): part of what differs "
                   "may be the speed.")
