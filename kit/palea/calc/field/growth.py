"""Growth of plants in the field: dry mass and height as ratios among survivors, and relative growth rates."""

from dataclasses import replace

import numpy as np
import pandas as pd

from palea.calc import simulated
from palea.calc.field.answers import effects, groups
from palea.calc.field.plots import behind_treatments, in_all_main_plots, labelled, of_several_batches, stratum
from palea.calc.field.questions import RATIO, Place, plain, read
from palea.calc.results import Effects, Refusal
from palea.calc.stats import linear_means
from palea.calc.terms import Rung
from palea.errors import UnfitValue

LABELS = ["taxon", "treatment", "environment", "batch", "unit", "quantity"]
RATE = "relative growth rate"
UNEVEN = 1.5  # ratio of plants pooled a weighing between treatments above which logs of means mislead
AMONG = "Among survivors; survivors may differ in number, so part of this may be thinning by death."
ALIVE = "Alive when measured: {listed} ({taxon}, {place}). Heavier among fewer may be thinning by death."
UNKNOWN = "How many survived in each treatment was not handed over, so thinning by death cannot be told from growth."
POOLED = (
    "Plants were weighed together in different numbers ({listed}) and none was weighed alone in its plot beside others, so "
    "the logs of means are not quite alike: weigh equal numbers."
)
UNCOUNTED = "{n} weighings have no number of plants and were left out. Enter how many plants were pooled."
METHOD = (
    "Logs of values a plant, plants within plots within random blocks (in a split plot: main plots), by restricted maximum "
    "likelihood; groups are geometric means, effects ratios of a to b, t on the degrees of freedom between plots. Where both "
    "sides come from two treatment batches or more, batches are the units: means of the mean logs of their plots. "
    + simulated.CAREFUL_GROWTH
)
ASSUMPTIONS = (
    "Plants were chosen for measuring without regard to size.",
    "Logs of values vary alike in all treatments of a species and site.",
    "Plots were laid out at random within their blocks.",
)
NOTHING = ("No plant was measured.", "Enter what was measured, plant by plant or as a total with the number of plants.")


def relative_growth_rate(first, second, start, end):
    """(ln W2 - ln W1) / (t2 - t1), of the same plants or of means [g/g/d].

    first, second : mass or height at `start` and `end` [d], > 0, shapes broadcast. Of groups of plants it is biased where
    sizes vary between harvests differently: use `harvest_rate`. Raises UnfitValue for sizes <= 0 or no time between.
    Source: the classical formula, as in Hoffmann & Poorter 2002, Ann. Bot. 90:37.

    >>> round(float(relative_growth_rate(0.5, 2.0, 0, 14)), 8)
    0.09902103
    """
    first, second = (_logs(np.asarray(x, float)) for x in (first, second))
    return (second - first) / _between(start, end)


def harvest_rate(first, second, start, end):
    """(rate, standard error) from plants of two harvests: means of ln W, not ln of means [g/g/d].

    first, second : (n1,), (n2,) masses of single plants, two or more each.
    Error: sqrt(V1 / n1 + V2 / n2) / (t2 - t1), V the variances of ln W.
    Source: Hoffmann & Poorter 2002, Ann. Bot. 90:37, estimator 2.
    """
    first, second = (_logs(np.asarray(x, float)) for x in (first, second))
    days = _between(start, end)
    error = np.sqrt(first.var(ddof=1) / first.size + second.var(ddof=1) / second.size) / days
    return float((second.mean() - first.mean()) / days), float(error)


def _logs(values):
    if not (values > 0).all():
        at = int(np.flatnonzero(~(values > 0).ravel())[0])
        msg = f"Value {at + 1} is {values.ravel()[at]:g}; mass and height are above 0. A dead plant has none: leave it blank."
        raise UnfitValue(msg)
    return np.log(values)


def _between(start, end):
    days = np.asarray(end, float) - np.asarray(start, float)
    if not (days > 0).all():
        msg = "The second harvest does not come after the first. Correct the days."
        raise UnfitValue(msg)
    return days


def compare(measured, asked, survivors=None, confidence=0.95, units=None, *, pooled=False):
    """Ratios of plant dry mass, height or the like with verdicts, among survivors -> Effects, or Refusal.

    measured : one row a plant or pooled weighing: taxon, treatment, environment, batch, unit (the plot), quantity, value
    (the total of the plants weighed together), n_plants (missing: 1 for single plants must be written); and where there
    are such block, main_plot, level. Rows without a value are left out.
    asked : declared contrasts on these quantities; margins are ratios above 1. a and b may be levels of the main plots.
    survivors : one row a plot: taxon, environment, treatment, unit, alive, kept; shown beside in a warning.
    units : {quantity: UCUM code of its values}, for the label.  pooled : whether a mean over the sites was declared.
    A pooled weighing counts as the mean of its plants; where single plants show how plants of a plot vary, its log is
    brought to the level of their mean log (s2 / 2 (1 - 1 / n) lower). Plants of one plot are no replicates.
    True coverage of nominal 95 % (tests/coverage, growth): 94 to 100 %, most with four plots that differ by little.
    Raises UnfitValue for values <= 0.
    Source: nested_linear.fit; the log of a mean against the mean of logs: Hoffmann & Poorter 2002, Ann. Bot. 90:37.
    """
    plants, warnings = _plants(measured)
    if plants.empty:
        return Refusal(quantity=_named(measured), missing=NOTHING[0], remedy=NOTHING[1], warnings=warnings)
    plants, mended = _mended(plants)
    found = {key: _place(key, part) for key, part in _parts(plants)}
    units = {name: (units or {}).get(name, "1") for name in plants["quantity"].unique()}
    shown, answers = [], []
    for quantity in units:
        scale = RATIO._replace(group_unit=units[quantity])
        here = {key: place for key, place in found.items() if key[2] == quantity}
        shown += groups(here, scale, confidence)
        answers += effects(here, read(asked, here, {quantity}), scale, confidence, pooled=pooled)
    return Effects(
        units=_plots(plants), groups=tuple(shown),
        effects=tuple(replace(e, reason=f"{AMONG} {e.reason}".strip()) for e in answers), method=METHOD,
        assumptions=ASSUMPTIONS, warnings=(*warnings, *mended, *_alive(survivors), AMONG),
    )


def _named(measured):
    return str(measured["quantity"].iloc[0]) if len(measured) else "plant dry mass"


def _plants(measured):
    """Rows that can be used: log of the value a plant, and how many plants it stands for."""
    rows = labelled(measured, LABELS, ["value", "n_plants"]).dropna(subset="value")
    known = rows["n_plants"] > 0
    warnings = (UNCOUNTED.format(n=int((~known).sum())),) if (~known).any() else ()
    rows = rows[known].reset_index(drop=True)
    return rows.assign(log=_logs((rows["value"] / rows["n_plants"]).to_numpy())), warnings


def _parts(plants):
    for (taxon, place, quantity), part in plants.groupby(["taxon", "environment", "quantity"], sort=False):
        yield (taxon, place, quantity, ""), part.reset_index(drop=True)


def _mended(plants):
    """Logs of pooled weighings brought to the level of mean logs, and warnings where that cannot be done."""
    parts, warnings = [], []
    for key, part in _parts(plants):
        single = part[part["n_plants"] == 1]
        by = single.groupby("unit")["log"]
        df = len(single) - by.ngroups
        together = part["n_plants"] > 1
        if together.any() and df > 0:
            spread = float((by.var(ddof=0) * by.size()).sum()) / df
            part = part.assign(log=part["log"] - spread / 2 * (1 - 1 / part["n_plants"]))
        elif together.any():
            usual = part.groupby("treatment")["n_plants"].mean()
            if usual.max() > UNEVEN * usual.min():
                listed = ", ".join(f"{name} {n:.3g}" for name, n in usual.items())
                warnings.append(f"{POOLED.format(listed=listed)} ({key[0]}, {key[1]}).")
        parts.append(part)
    return pd.concat(parts, ignore_index=True), tuple(warnings)


def _block(rows):
    return rows[stratum(rows)].to_numpy() if stratum(rows) else None


def _of_plants(rows):
    several = rows.groupby("treatment")["unit"].nunique()
    rows = rows[rows["treatment"].isin(several.index[several > 1])]
    columns = (rows[name].to_numpy() for name in ("treatment", "log", "unit"))
    return linear_means.of_plants(*columns, _block(rows), rows["n_plants"].to_numpy()) if len(rows) else None


def _place(key, rows):
    behind = behind_treatments(rows, rows["n_plants"])
    rungs = [(Rung.BATCH, _of_batches(rows)), (Rung.PLOT, _of_plants(rows))]
    whole = _main_plots(rows)
    if whole is not None:
        blocks = [whole["block"]] if whole["block"].ne("").all() else []
        rungs.append((Rung.MAIN_PLOT, linear_means.of_plots(whole["level"], whole["log"], blocks)))
        behind = behind | {str(level): (0, len(part), len(part)) for level, part in whole.groupby("level")}
    levels = {str(level): _of_plants(part) for level, part in rows.groupby("level") if level}
    return Place(key, tuple(rungs), behind, {level: means for level, means in levels.items() if means is not None})


def _of_batches(rows):
    """Each batch the mean of the mean logs of its plots."""
    kept = of_several_batches(rows)
    if kept is None:
        return None
    plots = kept.groupby(["treatment", "batch", "unit"])["log"].mean()
    batches = plots.groupby(["treatment", "batch"]).mean().reset_index()
    return linear_means.of_plots(batches["treatment"], batches["log"])


def _main_plots(rows):
    """Main plots as units, each the mean of the mean logs of the treatments that all of them hold; None without any."""
    kept = in_all_main_plots(rows)
    if kept is None:
        return None
    values = {"level": ("level", "first"), "block": ("block", "first"), "log": ("log", "mean")}
    plots = kept.groupby(["main_plot", "treatment"]).agg(**values)
    return plots.groupby("main_plot", sort=False).agg(**values).reset_index(drop=True)


def _plots(plants):
    """Geometric mean of each plot: what a picture may show as a point."""
    by = plants.groupby(LABELS, sort=False)
    weighted = (plants["log"] * plants["n_plants"]).groupby([plants[name] for name in LABELS], sort=False).sum()
    mean = np.exp(weighted / by["n_plants"].sum())
    return mean.rename("value").reset_index().assign(denominator="")


def _alive(survivors):
    if survivors is None or not len(survivors):
        yield UNKNOWN
        return
    by = survivors.groupby(["taxon", "environment", "treatment"], sort=False)[["alive", "kept"]].sum().reset_index()
    for (taxon, place), part in by.groupby(["taxon", "environment"], sort=False):
        listed = ", ".join(f"{row.treatment} {row.alive:.0f} of {row.kept:.0f}" for row in part.itertuples())
        yield ALIVE.format(listed=listed, taxon=taxon, place=place)


RATES = (
    "Mean log size of each plot at its first and last visit; their difference a day is the plot's rate (Hoffmann & Poorter "
    "2002), one variance between plots of a species and site, blocks additive, t intervals; effects are a minus b."
)


def rates(measured, asked, confidence=0.95, unit="1"):
    """Relative growth rates of plots measured at two times or more, and their differences -> Effects, or Refusal.

    measured : as in `compare`, with time [d]; of one quantity a species and site (the first is taken).
    asked : declared contrasts on "relative growth rate"; margins in 1/d. Plots measured once are left out.
    unit : UCUM code of a rate a day, for the label.
    Source: Hoffmann & Poorter 2002, Ann. Bot. 90:37.
    """
    rows = labelled(measured, LABELS, ["value", "n_plants", "time"]).dropna(subset=["value", "time"])
    rows = rows[rows["n_plants"] > 0]
    rows = rows.assign(log=_logs((rows["value"] / rows["n_plants"]).to_numpy()))
    plots = _rates(rows)
    if plots.empty:
        return Refusal(
            quantity=RATE, missing="No plot was measured at two times.",
            remedy="Measure the same plots, or plants of them, at two visits or more.",
        )
    scale = plain(unit)
    found = {}
    for key, part in plots.groupby(["taxon", "environment"], sort=False):
        part = part.reset_index(drop=True)
        several = part.groupby("treatment")["unit"].transform("nunique") > 1
        kept = part[several]
        block = _block(kept)
        means = linear_means.of_plots(kept["treatment"], kept["value"], [] if block is None else [block]) if len(kept) else None
        found[(*key, RATE, "")] = Place((*key, RATE, ""), ((Rung.PLOT, means),), behind_treatments(part, part["plants"]))
    return Effects(
        units=plots[[*LABELS[:5], "value"]].assign(quantity=RATE, denominator=""), groups=groups(found, scale, confidence),
        effects=effects(found, read(asked, found, {RATE}), scale, confidence), method=RATES, assumptions=ASSUMPTIONS,
        warnings=(AMONG,),
    )


def _rates(rows):
    keys = [*LABELS, "block", "main_plot", "level"]
    by = rows.groupby([*keys, "time"], sort=False).agg(log=("log", "mean"), plants=("n_plants", "sum")).reset_index()
    by = by.sort_values("time", kind="stable")
    ends = by.groupby(keys, sort=False).agg(
        start=("time", "first"), end=("time", "last"), first=("log", "first"), last=("log", "last"), plants=("plants", "sum")
    ).reset_index()  # fmt: skip
    ends = ends[ends["end"] > ends["start"]]
    ends = ends.drop_duplicates("unit").reset_index(drop=True)
    return ends.assign(value=(ends["last"] - ends["first"]) / (ends["end"] - ends["start"]))
