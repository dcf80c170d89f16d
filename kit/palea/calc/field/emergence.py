"""Emergence in the field: how much came up of the seed that could, and how long it took."""

import numpy as np

from palea.calc.field import plot_times
from palea.calc.field.answers import companions, effects, groups
from palea.calc.field.cautions import gross, with_cautions
from palea.calc.field.plots import backgrounds, counted_plots, places, units_of
from palea.calc.field.questions import ONE_BATCH, POINTS, read
from palea.calc.field.tested import assumed
from palea.calc.results import Effects, Refusal
from palea.calc.stats import share_means as models
from palea.calc.terms import Denominator, Rung

EMERGED = "emerged"
ASSUMPTIONS = (
    "Plots were laid out at random within their blocks, and treatments of a block stood under the same conditions.",
    "Plots vary alike in all treatments of a species and site, given the level of the share.",
    "One received lot a species: the answer is for that lot.",
)
WILD = (
    "Seedlings that come up unsown are as many in sown plots as in the unsown ones: {mean:.2g} a plot of {taxon} at "
    "{place}, {quantity} ({plots} unsown plots)."
)
NO_UNSOWN = "No unsown plot of {taxon} at {place} was counted: wild seedlings, if there were any, stand in the shares."
SITES = (
    "Several sites: each is judged by itself, and how a difference changes between them is shown beside. A mean over "
    "sites is shown only where it was declared."
)


def final(
    shares, asked, unsown=None, quantity=None, denominator=None, confidence=0.95, *, pooled=False, means=models
):
    """Shares of plots and their differences with verdicts -> Effects, or Refusal where no plot was counted.

    shares : one row a plot, quantity and denominator: taxon, treatment, environment (the site), batch, unit, quantity,
    denominator, k, n; and where there are such block, main_plot, level (what was given to the main plot, as "fenced").
    tested (which tests n is known from), tested_error (relative; 0 or missing: n was counted): intervals of shares allow
    for it, and so do differences, where both sides rest on one test by one factor for both. See field.tested.
    k of n seeds at the planned visit, sown or viable; lost and blank plots have k missing. Shares come back in %.
    asked : declared contrasts, see questions.read; a and b may also be two levels of the main plots.
    unsown : one row an unsown plot and species: taxon, environment, unit, k, and quantity where there are several; None or
    empty: none was counted.
    quantity, denominator : only this quantity; this denominator in place of the declared one (a what-if).
    pooled : whether a mean over the sites was declared.  confidence : of the outer intervals.
    means : the calculation of means of shares; earlier versions have another.

    Plots judge: beta-binomial counts (6 plots a treatment or more) or quasi-binomial, one spread for all treatments of a
    species and site, blocks additive; batches where both sides have two or more. In a split plot, treatments are judged
    within main plots, and levels of the main plots between them. Superiority contrasts that ask the same of several
    treatments against one control: Dunnett; several primaries of a species: Holm. The level of the unsown plots is taken
    off with its own uncertainty. Every difference at two sites is followed by how it changes between them.
    True coverage of nominal 95 %, simulated (tests/coverage, emergence): 92 to 100 %, but from 89 % up for a
    treatment that hardly comes up (2 % of 110 seeds) in 8 plots, beside one that does far better or where plots differ
    widely (rho 0.2); such estimates carry a `caution`.
    Raises UnfitValue where k is below 0 or above n.
    Source: McCullagh & Nelder 1989, ch. 4.5; Newcombe 1998; Zou & Donner 2008, Stat. Med. 27:1693 (limits of sums); two
    error strata: Cochran & Cox 1957, ch. 7; Schuirmann 1987; Dunnett 1955; Holm 1979; Hurlbert 1984.
    """
    plots, warnings = counted_plots(shares)
    if quantity is not None:
        plots = plots[plots["quantity"] == quantity].reset_index(drop=True)
    if plots.empty:
        return Refusal(
            warnings=warnings, quantity=quantity or EMERGED, missing="No plot has a count at the planned visit.",
            remedy="Enter what stood in each plot; write 0 where nothing did, and mark plots that were lost.",
        )
    found = places(plots, unsown, means)
    questions = read(asked, found, set(plots["quantity"]), denominator)
    sown = str(Denominator.SOWN)
    judged = (
        *effects(found, questions, POINTS, confidence, pooled=pooled),
        *companions(found, questions, POINTS, confidence, sown),
    )
    return Effects(
        units=units_of(plots), groups=with_cautions(groups(found, POINTS, confidence), found, plots),
        effects=with_cautions(judged, found, plots),
        method=_method(found, confidence), assumptions=(*ASSUMPTIONS, *dict.fromkeys(_wild(found, unsown)), *assumed(plots)),
        warnings=(*warnings, *_doubts(found, plots)),
    )


def _method(found, confidence):
    used = [(rung, gross(means)) for place in found.values() for rung, means in place.rungs if means is not None]
    kinds = {(str(rung), means.model) for rung, means in used}
    sentences = [SENTENCES[kind] for kind in SENTENCES if kind in kinds]
    if any(means.model != models.POOLED for _, means in used):
        sentences.append(models.CAREFUL)
    if any(means.blocked for _, means in used):
        sentences.append("Blocks (in a split plot: main plots) are allowed for as additive effects.")
    sentences.append(
        f"Differences are a minus b, in points, with {confidence:.0%} and {2 * confidence - 1:.0%} interval (two "
        "one-sided tests)."
    )
    sites = {key[1] for key in found}
    return " ".join([*sentences, *([SITES] if len(sites) > 1 else [])])


_SCORES = "score intervals (Wilson; Newcombe for differences) with effective numbers of seeds, t quantiles."
_SPREAD = {
    models.QUASI: f"quasi-binomial counts, one dispersion for all treatments of a species and site; {_SCORES}",
    models.BETA: f"beta-binomial counts, one correlation of seeds of a plot for all treatments of a species and site; "
    f"{_SCORES}",
    models.POOLED: "means of their shares, one pooled variance, t intervals.",
}
_RUNGS = {Rung.BATCH: "treatment batch, its plots pooled", Rung.PLOT: "plot (or row)", Rung.MAIN_PLOT: "main plot"}
SENTENCES = {
    (str(rung), model): f"Unit of replication: the {called}; {spread}"
    for rung, called in _RUNGS.items()
    for model, spread in _SPREAD.items()
}


def _wild(found, unsown):
    """What is taken for granted about seedlings that nobody sowed."""
    wild = backgrounds(unsown)
    for taxon, place, quantity in dict.fromkeys(key[:3] for key in found):
        here = wild.get((taxon, place, quantity), wild.get((taxon, place, "")))
        if here:
            yield WILD.format(mean=here.total / here.plots, taxon=taxon, place=place, plots=here.plots, quantity=quantity)
        elif unsown is not None and len(unsown):
            yield NO_UNSOWN.format(taxon=taxon, place=place)


def _doubts(found, plots):
    """One batch only, blocks that lack a treatment, and what the models had to say."""
    single = sorted({
        f"{name} ({key[0]})" for key, place in found.items() for name, (batches, *_) in place.behind.items() if batches == 1
    })
    if single:
        listed = ", ".join(single[:5]) + (f" and {len(single) - 5} more" if len(single) > 5 else "")
        yield f"{ONE_BATCH} This concerns {listed}."
    yield from _gaps(plots)
    told = (said for place in found.values() for _, means in place.rungs if means is not None for said in means.warnings)
    yield from dict.fromkeys(told)


def _gaps(plots):
    """Blocks that lack a treatment which others have: their effects are still allowed for, less exactly."""
    for (taxon, place), part in plots[plots["block"].ne("")].groupby(["taxon", "environment"], sort=False):
        table = part.groupby(["block", "treatment"])["unit"].nunique().unstack(fill_value=0)
        lacking = table.eq(0) & table.gt(0).sum(axis=0).gt(1)
        for treatment in table.columns[lacking.any()]:
            blocks = table.index[lacking[treatment]].tolist()
            several = len(blocks) > 1
            yield (
                f"{'Blocks' if several else 'Block'} {', '.join(blocks[:8])} at {place} "
                f"{'lack' if several else 'lacks'} treatment {treatment} ({taxon})."
            )


def time(intervals, asked, confidence=0.95):
    """Time to emergence: half times of the groups and ratios of them with verdicts -> Effects, or Refusal.

    intervals : one row a plot and interval (left, right] between visits [d]: taxon, treatment, environment, batch, unit,
    left, right (inf: not seen to emerge by `left`), count; and where there are such block and main_plot.
    asked : declared contrasts; those on "t50" are judged, margins are ratios above 1.
    t50 is the half time of a log-logistic curve with a share that never emerges, by maximum likelihood on intervals. Each
    plot's part in it is taken by leaving that plot out (jackknife); logs of these, blocks allowed for, one variance
    between plots of a species and site, t intervals. A group seen to emerge in fewer than three intervals has none.
    Raises UnfitValue for intervals that run backwards.
    Source: Farewell 1982, Biometrics 38:1041 (curve); Miller 1974, Biometrika 61:1 (jackknife); plots as clusters.
    """
    return plot_times.judged(intervals, asked, plot_times.HALF_TIME, confidence)


def unsown_share(k, n, total, unsown_plots):
    """Share that came up, less the unsown level: (sum k - plots x total / unsown_plots) / sum n; not below 0.

    k, n : (plots,) seedlings and seeds of the sown plots.  total : seedlings in all unsown plots together.

    >>> float(unsown_share([12, 8], [100, 100], 4, 4))
    0.09
    """
    k, n = np.asarray(k, float), np.asarray(n, float)
    return np.maximum((k.sum() - k.size * total / unsown_plots) / n.sum(), 0.0)
