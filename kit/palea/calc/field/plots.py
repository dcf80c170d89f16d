"""Counts of plots and rows laid out for judging: which plots, which blocks, which rung, and what came up unsown."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from palea.calc.field.combined import Net
from palea.calc.field.questions import Place
from palea.calc.field.tested import on_tests
from palea.calc.stats import share_means
from palea.calc.terms import Rung
from palea.errors import UnfitValue

KEYS = ["taxon", "environment", "quantity", "denominator"]
LABELS = ["taxon", "treatment", "environment", "batch", "unit", "quantity", "denominator"]
PLACED = ["block", "main_plot", "level"]  # where a plot lies; columns that a frame may lack
SEPARATOR = "\x1f"  # the unit separator of ASCII: in no name


def labelled(frame, labels, numbers):
    """A frame with these labels as plain text (missing: ""), PLACED added where absent, and these numbers as floats.

    tested, tested_error : of the test that a number of seeds is known from (see field.tested); "" and 0 where absent.
    """
    text = {name: np.asarray(frame[name].astype("string").fillna(""), dtype=str) for name in labels}
    placed = {
        name: np.asarray(frame[name].astype("string").fillna(""), dtype=str) if name in frame else np.full(len(frame), "")
        for name in [*PLACED, "tested"]
    }
    values = {name: frame[name].to_numpy(float, na_value=np.nan) for name in numbers}
    values["tested_error"] = frame["tested_error"].fillna(0.0).to_numpy(float) if "tested_error" in frame else np.zeros(len(frame))
    return pd.DataFrame(text | placed | values)


def counted_plots(shares):
    """Plots that can be used, and a warning for those that cannot.

    shares : one row a plot, quantity and denominator: LABELS, k, n; block, main_plot, level, tested,
    tested_error where there are such.
    Left out: k or n missing (lost plot, blank), n 0. Raises UnfitValue where k is below 0 or above n.
    """
    plots = labelled(shares, LABELS, ["k", "n"])
    impossible = (plots["k"] < 0) | (plots["k"] > plots["n"] + 1e-9)
    if impossible.any():
        bad = plots[impossible].iloc[0]
        msg = (
            f"k of {bad['unit']} is {bad['k']:g} and n is {bad['n']:g} ({bad['quantity']} of {bad['denominator']}); "
            "k may be 0 to n. Correct the counts of this plot, or the number of seeds sown in it."
        )
        raise UnfitValue(msg)
    usable = plots["k"].notna() & (plots["n"] > 0)
    return plots[usable].reset_index(drop=True), _left_out(plots[~usable])


def _left_out(plots):
    units = plots["unit"].unique()
    if not units.size:
        return ()
    named = ", ".join(units[:5]) + (" and others" if units.size > 5 else "")
    return (f"{units.size} plots have no count or nothing to count for a quantity and were left out of it: {named}.",)


def units_of(plots):
    """The `units` frame of a result, from plots with k and n: their own shares in %."""
    return plots[LABELS].assign(value=100 * plots["k"] / plots["n"])


@dataclass(frozen=True)
class Background:
    """What came up in unsown plots of one environment.  total : seedlings.  plots : how many.  dispersion : >= 1."""

    total: float
    plots: int
    dispersion: float


def backgrounds(unsown):
    """{(taxon, environment, quantity): Background} from one row an unsown plot, species and quantity.

    unsown : taxon, environment, unit, k and, where several quantities were counted, quantity; without that column what is
    there stands for all quantities, under "". A plot in which the species was not looked for has k missing and is left
    out; 0: looked, none.
    The dispersion is Pearson's X2 over its degrees of freedom, not below 1. Source: McCullagh & Nelder 1989, ch. 6.2.
    """
    if unsown is None or not len(unsown):
        return {}
    several = unsown if "quantity" in unsown else unsown.assign(quantity="")
    keys = ["taxon", "environment", "quantity"]
    rows = labelled(several, [*keys, "unit"], ["k"]).dropna(subset="k")
    return {key: _background(part["k"].to_numpy()) for key, part in rows.groupby(keys, sort=False)}


def _background(counts):
    mean, df = counts.mean(), counts.size - 1
    spread = np.sum((counts - mean) ** 2) / mean / df if mean > 0 and df > 0 else 1.0
    return Background(float(counts.sum()), counts.size, float(max(spread, 1.0)))


def places(plots, unsown=None, means=share_means):
    """{key: Place} from `counted_plots` and, where there are unsown plots, net of their level.

    Batches judge where treatments have two or more; plots elsewhere, within blocks or main plots; and levels of the main
    plots are compared between main plots, their plots added up.
    means : the calculation of means of shares, of_batches and of_counts; earlier versions have another.
    """
    wild = backgrounds(unsown)
    return {
        key: _place(key, part.reset_index(drop=True), wild.get(key[:3], wild.get((*key[:2], ""))), means)
        for key, part in plots.groupby(KEYS, sort=False)
    }


def _place(key, plots, wild, models):
    behind = behind_treatments(plots, plots["n"])
    rungs = [(Rung.BATCH, _on_batches(plots, behind, models)), (Rung.PLOT, _on_plots(plots, behind, models))]
    split = main_plots(plots)
    if split is not None:
        rungs.append((Rung.MAIN_PLOT, models.of_counts(*(split[c] for c in ("level", "k", "n")), _block(split))))
        by_level = split.groupby("level")
        behind = behind | {level: (0, len(part), float(part["n"].sum())) for level, part in by_level}
    return Place(
        key,
        tuple((rung, _net(on_tests(means, plots), plots, wild)) for rung, means in rungs),
        behind,
        {level: _net(on_tests(means, plots), plots, wild) for level, means in _levels(plots, models).items()},
    )


def behind_treatments(plots, seeds):
    """{treatment: (batches, plots, seeds)} of plots with treatment, batch and unit.  seeds : (plots,) series."""
    by = plots.assign(seeds=seeds).groupby("treatment")
    counts = by.agg(batches=("batch", "nunique"), units=("unit", "nunique"), seeds=("seeds", "sum"))
    return {str(row.Index): (row.batches, row.units, row.seeds) for row in counts.itertuples()}


def _replicated(plots, behind, at):
    """Plots of the treatments that have two batches (at 0) or two plots (at 1)."""
    return plots[plots["treatment"].isin([name for name, counts in behind.items() if counts[at] >= 2])]


def _on_batches(plots, behind, models):
    plots = _replicated(plots, behind, 0)
    if plots.empty:
        return None
    pooled = plots.groupby(["treatment", "batch"], sort=False)[["k", "n"]].sum().reset_index()
    return models.of_batches(*(pooled[name].to_numpy() for name in ("treatment", "k", "n")))


def _on_plots(plots, behind, models):
    plots = _replicated(plots, behind, 1)
    return _of_counts(plots, models) if len(plots) else None


def _of_counts(plots, models):
    columns = (plots[name].to_numpy() for name in ("treatment", "k", "n"))
    return models.of_counts(*columns, _block(plots), beta=True)


def stratum(frame):
    """The column that says which plots lie together: main plots where there are such, else blocks; "" without a place."""
    for name in ("main_plot", "block"):
        if name in frame and frame[name].ne("").all() and len(frame[name].unique()) > 1:
            return name
    return ""


def _block(plots):
    return plots[stratum(plots)].to_numpy() if stratum(plots) else None


def of_several_batches(frame):
    """Rows of the treatments that come from two batches or more; None where there is none."""
    named = frame[frame["batch"].ne("")]
    several = named.groupby("treatment")["batch"].nunique()
    kept = named[named["treatment"].isin(several.index[several > 1])]
    return kept.reset_index(drop=True) if len(kept) else None


def in_all_main_plots(frame):
    """Rows of the treatments that every main plot holds; None without two main plots of each of two levels or more.

    A treatment that is missing from a main plot would be taken for an effect of its level, so it is left out of all.
    """
    if not all(frame[name].ne("").all() for name in ("main_plot", "level")):
        return None
    of_level = frame.groupby("level")["main_plot"].nunique()
    if len(of_level) < 2 or of_level.min() < 2:
        return None
    held = frame.groupby("treatment")["main_plot"].nunique()
    kept = frame[frame["treatment"].isin(held.index[held == of_level.sum()])]
    return kept if len(kept) else None


def main_plots(plots):
    """Main plots as units: level, block, k and n added up; None without any, see `in_all_main_plots`."""
    kept = in_all_main_plots(plots)
    if kept is None:
        return None
    by = kept.groupby("main_plot", sort=False)
    return by.agg(level=("level", "first"), block=("block", "first"), k=("k", "sum"), n=("n", "sum")).reset_index(drop=True)


def _levels(plots, models):
    """{level: means of the treatments in main plots of that level alone}, two plots of each at least."""
    if plots["level"].nunique() < 2:
        return {}
    found = {}
    for level, part in plots.groupby("level"):
        kept = _replicated(part, behind_treatments(part, part["n"]), 1)
        means = _of_counts(kept, models) if len(kept) else None
        if means is not None:
            found[str(level)] = means
    return found


def _net(means, plots, wild):
    """Means less the background; as they are without one."""
    if means is None or wild is None:
        return means
    seeds = plots.groupby("treatment")["n"].mean() if set(means.names) <= set(plots["treatment"]) else None
    seeds = plots.groupby("level")["n"].mean() if seeds is None else seeds
    return Net(means, wild.total, wild.plots, wild.dispersion, {name: float(1 / seeds[name]) for name in means.names})
