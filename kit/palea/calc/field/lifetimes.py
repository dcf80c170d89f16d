"""Plants or seeds of plots followed from visit to visit: shares alive, times, and hazards, with plots as clusters.

Everything starts from one row a plot and interval (left, right]: an event seen at `right` and not yet at `left`; right =
inf: followed to `left` without it. A thinned, cut or lost plant is such a row: it was taken out, it did not die.
"""

import numpy as np
import pandas as pd

from palea.calc.field.plots import behind_treatments, in_all_main_plots, labelled, of_several_batches, stratum
from palea.calc.germination.arms import arms
from palea.calc.stats import frail_hazards, interval_hazards, linear_means
from palea.calc.stats.share_means import QUASI, ShareMeans
from palea.calc.stats.time_to_event import cells, masses
from palea.calc.terms import Rung
from palea.errors import UnfitValue

LABELS = ["taxon", "treatment", "environment", "batch", "unit"]
NO_DEATHS = "No plant of {} died, so its hazard has no end; see the shares alive."


def followed(intervals):
    """The frame with labels as text and numbers as floats; rows with a missing or zero count are left out."""
    frame = labelled(intervals, LABELS, ["left", "right", "count"])
    return frame[frame["count"] > 0].reset_index(drop=True)


def block_of(frame):
    """{unit: main plot where there are such, else block}; None where a plot has no place or all have one."""
    name = stratum(frame)
    return frame.drop_duplicates("unit").set_index("unit")[name] if name else None


def as_main_plots(frame):
    """The frame with main plots as units and their levels as treatments; None where they cannot be compared."""
    kept = in_all_main_plots(frame)
    if kept is None:
        return None
    return kept.assign(treatment=kept["level"], unit=kept["main_plot"], batch="", main_plot="", level="")


def as_batches(frame):
    """The frame with treatment batches as units, their plots together; None where no treatment has two."""
    kept = of_several_batches(frame)
    return None if kept is None else kept.assign(unit=kept["batch"], block="", main_plot="", level="")


def rungs(frame, means):
    """((rung, means), ...) from the top, `means` a function of a frame; and levels of the main plots: {level: means}."""
    frames = ((Rung.BATCH, as_batches(frame)), (Rung.PLOT, frame), (Rung.MAIN_PLOT, as_main_plots(frame)))
    found = tuple((rung, means(each)) for rung, each in frames if each is not None)
    parts = {str(level): means(part.reset_index(drop=True)) for level, part in frame.groupby("level") if level}
    return found, {level: each for level, each in parts.items() if each is not None}


def behind_all(frame):
    """{treatment or level: (batches, plots, plants)}."""
    whole = as_main_plots(frame)
    behind = behind_treatments(frame, frame["count"])
    return behind if whole is None else behind | behind_treatments(whole, whole["count"])


def last_look(frame):
    """The latest time up to which every plot was followed. A plot in which all have died is followed for good."""
    seen = np.isfinite(frame["right"])
    unit = frame["unit"]
    dead = frame["right"].where(seen).groupby(unit).max()
    left = frame["left"].where(~seen).groupby(unit).max()
    known = left.where(~(dead > left) & left.notna(), np.inf).min()
    return float(known) if np.isfinite(known) else float(dead.max())


def alive(arm, counts, at):
    """(r,) shares without the event by `at`, of r count vectors over the intervals of an arm; (r, k) at (k,) times."""
    mass = masses(arm.where, counts, tolerance=1e-9)
    return 1 - mass @ (arm.where.upper[:, None] <= np.asarray(at, float)[None]).reshape(-1, *np.shape(at))


def influences(arm, at):
    """How each plot, and one plant of each kind, moves the share alive at `at`: (plots,), (intervals,).

    By leaving it out, scaled to the infinitesimal: for shares of plots that is exactly (k - n p) / N.
    Source: Efron 1982, The Jackknife, the Bootstrap and Other Resampling Plans, ch. 6.
    """
    total, own = arm.counts.sum(axis=0), arm.counts.sum(axis=1)
    size = total.sum()
    here = alive(arm, total[None], at)[0]
    without_plot = alive(arm, total - arm.counts, at)
    kinds = np.maximum(total - np.eye(total.size), 0.0)
    without_plant = alive(arm, kinds, at)
    return (here - without_plot) * (size - own) / size, (here - without_plant) * (size - 1) / size


def alive_means(frame, at):
    """Shares alive at `at` of the treatments with two plots or more -> ShareMeans, or None.

    frame : `followed`, of one species and site. Plots are the clusters: their pulls on the share are held against those
    of single plants, one dispersion (never below 1) for all treatments, blocks allowed for; score intervals with
    effective numbers of plants. Without losses that is the quasi-binomial of plants that live, of plants.
    Source: Rao & Scott 1992, Biometrics 48:577 (effective numbers of clustered counts); Greenwood 1926.
    """
    found = [arm for arm in arms(frame).values() if len(arm.units) > 1]
    if not found:
        return None
    block = block_of(frame)
    rows = [_standardised(arm, at) for arm in found]
    names = tuple(arm.key["treatment"] for arm in found)
    shares, plants, single = (np.array([row[i] for row in rows]) for i in range(3))
    dispersion, df, blocked = _dispersion(found, rows, block)
    if df < 1:
        return None
    inside = single > 0
    seeds = np.where(inside, shares * (1 - shares) / np.where(inside, single, 1.0), plants) / dispersion
    covariance = np.diag(shares * (1 - shares) / seeds)
    return ShareMeans(names, shares, covariance, seeds, float(df), QUASI, dispersion, blocked)


def _standardised(arm, at):
    """(share alive, plants, variance if plants were independent, pulls of plots in units of its root, plants a plot)."""
    own = arm.counts.sum(axis=1)
    share = float(np.clip(alive(arm, arm.counts.sum(axis=0)[None], at)[0], 0.0, 1.0))
    if min(share, 1 - share) < 1e-9:
        return round(share), own.sum(), 0.0, None, own
    plots, plants = influences(arm, at)
    single = float(arm.counts.sum(axis=0) @ plants**2)
    return share, own.sum(), single, plots / np.sqrt(single * own / own.sum()), own


def _dispersion(found, rows, block):
    """(dispersion, df, blocked): squares of what plots pull beyond treatment and block, over degrees of freedom."""
    able = [i for i, row in enumerate(rows) if row[3] is not None]
    if not able:
        return 1.0, sum(len(arm.units) for arm in found) - len(found), False
    pulls = np.concatenate([rows[i][3] for i in able])
    root = np.sqrt(np.concatenate([rows[i][4] for i in able]))
    treatment = np.repeat(np.arange(len(able)), [len(found[i].units) for i in able])
    design, blocked = np.eye(len(able))[treatment], False
    if block is not None:
        where = pd.factorize(block.reindex(np.concatenate([found[i].units for i in able])))[0]
        wider = np.hstack([design, np.eye(where.max() + 1)[where][:, 1:]])
        if np.linalg.matrix_rank(wider) == wider.shape[1] < pulls.size:
            design, blocked = wider, True
    weighted = design * root[:, None]
    left = pulls - weighted @ np.linalg.lstsq(weighted, pulls, rcond=None)[0]
    df = pulls.size - design.shape[1]
    return (max(float(left @ left) / df, 1.0) if df > 0 else 1.0), df, blocked


def pseudo_values(frame, measure):
    """Plots' parts in a measure of their treatment, by leaving each out -> frame treatment, unit, batch, value.

    measure : function of an arm and (r, n) counts to (r,) values. A plot's part is m x all - (m - 1) x all but it. A
    treatment of one plot, or in which the measure fails without some plot, is left out.
    Source: Miller 1974, Biometrika 61:1 (jackknife); Andersen, Klein & Rosthøj 2003, Biometrika 90:15 (with censoring).
    """
    parts = []
    for arm in arms(frame).values():
        m = len(arm.units)
        if m < 2:
            continue
        total = arm.counts.sum(axis=0)
        values = measure(arm, np.vstack([total, total - arm.counts]))
        own = m * values[0] - (m - 1) * values[1:]
        if np.isfinite(own).all():
            parts.append(pd.DataFrame({"unit": arm.units, "batch": arm.batches, "value": own}).assign(**arm.key))
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=[*LABELS, "value"])


def pseudo_means(frame, measure):
    """Means of `pseudo_values` with one variance between plots, blocks allowed for -> LinearMeans, or None."""
    own, block = pseudo_values(frame, measure), block_of(frame)
    if own.empty:
        return None
    blocks = [] if block is None else [block.reindex(own["unit"]).to_numpy()]
    return linear_means.of_plots(own["treatment"].to_numpy(), own["value"].to_numpy(), blocks)


def hazard_means(frame, *, plot_effects=False):
    """Log hazards of the treatments against the first, by visits, plots as clusters -> (LinearMeans or None, reasons).

    frame : `followed`, of one species and site; block or main plot is allowed for where its hazards have an end.
    plot_effects : plots differ at random (ratios between plots alike) in place of a sandwich (between all plants).
    reasons : {treatment: why it has none}.
    Source: interval_hazards.fit, frail_hazards.fit.
    """
    died = frame[np.isfinite(frame["right"])].groupby("treatment")["count"].sum()
    names = [name for name in frame["treatment"].drop_duplicates() if died.get(name, 0) > 0]
    reasons = {name: NO_DEATHS.format(name) for name in frame["treatment"].drop_duplicates() if name not in names}
    if len(names) < 2:
        return None, reasons
    kept = frame[frame["treatment"].isin(names)]
    rows = risk_rows(kept)
    treatment = np.eye(len(names))[rows["treatment"].map(names.index)][:, 1:]
    sets = [treatment]
    if block_of(kept) is not None:
        where = pd.factorize(block_of(kept).reindex(rows["unit"]))[0]
        sets.insert(0, np.hstack([treatment, np.eye(where.max() + 1)[where][:, 1:]]))
    spans = np.stack(rows["spans"].to_numpy())
    told, model = "", frail_hazards if plot_effects else interval_hazards
    for covariates in sets:
        try:
            fitted = model.fit(spans, covariates, rows["died"], rows["at_risk"], rows["unit"])
        except (UnfitValue, np.linalg.LinAlgError) as failed:
            told = str(failed)
            continue
        if fitted.df > 0:
            inner = slice(len(names) - 1)
            means = linear_means.of_contrasts(
                names, fitted.coefficients[inner], fitted.covariance[inner, inner], fitted.df, "interval hazards"
            )
            return means, reasons
    return None, reasons | dict.fromkeys(names, told or "There are too few plots to see how hazards differ.")


def risk_rows(frame):
    """One row a plot and interval of the baseline: treatment, unit, spans, at_risk, died.

    Plants known to be past an interval were at risk in it and lived. Intervals in which nobody can have died are left
    out: they say nothing about ratios. A death that spans several intervals is a row of its own.
    """
    where = cells(frame["left"].to_numpy(), frame["right"].to_numpy())
    finite = np.isfinite(where.upper)
    number = int(finite.sum())
    count, unit = frame["count"].to_numpy(), frame["unit"].to_numpy()
    first, after = where.first, np.minimum(where.after, number)
    dead = np.isfinite(frame["right"].to_numpy())
    past = where.upper[finite][None, :] <= frame["left"].to_numpy()[:, None]  # (rows, cells) lived through
    single = dead & (after - first == 1)
    names, at = np.unique(unit, return_inverse=True)
    lived = np.zeros((names.size, number))
    np.add.at(lived, at, past * count[:, None])
    died = np.zeros((names.size, number))
    np.add.at(died, (at[single], first[single]), count[single])
    of_unit = frame.drop_duplicates("unit").set_index("unit")["treatment"]
    plot, cell = np.nonzero(lived + died)
    rows = pd.DataFrame({
        "unit": names[plot], "at_risk": (lived + died)[plot, cell], "died": died[plot, cell],
        "spans": list(np.eye(number)[cell]),
    })
    wide = np.flatnonzero(dead & ~single)
    inside = (np.arange(number) >= first[wide, None]) & (np.arange(number) < after[wide, None])
    more = pd.DataFrame({"unit": unit[wide], "at_risk": count[wide], "died": count[wide], "spans": list(inside.astype(float))})
    rows = pd.concat([rows, more], ignore_index=True) if len(more) else rows
    return rows.assign(treatment=rows["unit"].map(of_unit))


