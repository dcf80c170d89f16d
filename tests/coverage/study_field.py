"""The field: emergence, survival and growth on plots in blocks."""

import numpy as np
import pandas as pd
from study import Limit, Study, alike, grid, inside, printed

from palea.calc import simulated
from palea.calc.field import lifetimes, plots, survival
from palea.calc.stats import linear_means, share_means
from palea.calc.stats.proportions import t_quantile

LIVE, KEPT = 110, 8
VISITS = np.array([21.0, 63, 105, 147, 189])

def _logit(p):
    return np.log(p / (1 - p))


def _expit(x):
    return 1 / (1 + np.exp(-x))


def _told(means, truth, level, what="difference", null=0.0):
    """Whether group b and the difference a minus b hold what is true; both on the scale of the means."""
    if means is None:
        return dict.fromkeys(("covers: group", f"covers: {what}"))
    critical = t_quantile(0.95, means.df)
    told = {"covers: group": inside(level, *means.told("b", critical)[1:])} if np.isfinite(level) else {}
    found = means.difference("a", "b", critical)
    told[f"covers: {what}"] = inside(truth, *found[1:])
    if truth == null:
        told["errs"] = not found[1] <= null <= found[2]
    return told


def _emerged(stream, cell):
    """Truth of these blocks: what plots of each treatment would show on average in them."""
    of_block = stream.normal(0, 0.25, cell["blocks"])
    shares = {"a": cell["p"] + cell["difference"], "b": cell["p"]}
    rows, truth = [], {}
    for name, share in shares.items():
        typical = _expit(_logit(share) + of_block)
        truth[name] = typical.mean()
        k = [alike(stream, own, cell["rho"], LIVE, 1)[0] for own in typical]
        rows.append(pd.DataFrame({"treatment": name, "block": [f"B{i}" for i in range(cell["blocks"])], "k": k}))
    frame = pd.concat(rows, ignore_index=True)
    if cell["wild"]:
        frame["k"] += stream.poisson(cell["wild"], len(frame))
        frame["k"] = frame["k"].clip(upper=LIVE)
    frame = frame.assign(taxon="A", environment="S", batch=frame["treatment"] + "-1", quantity="emerged", n=float(LIVE),
                         denominator="viable", unit=frame["treatment"] + frame["block"])
    bare = pd.DataFrame({"taxon": "A", "environment": "S", "unit": [f"U{i}" for i in range(cell["blocks"])],
                         "k": stream.poisson(cell["wild"], cell["blocks"]).astype(float)}) if cell["wild"] else None
    if cell["wild"]:
        (place,) = plots.places(plots.counted_plots(frame)[0], bare).values()
        means = place.on("a", "b")[1]
    else:
        means = share_means.of_counts(*(frame[c].to_numpy() for c in ("treatment", "k", "n", "block")), beta=True)
    return _told(means, truth["a"] - truth["b"], truth["b"])


def _survived(stream, cell):
    """Kept plants of a plot share a beta chance to be alive on day 189; a steady hazard up to there."""
    shares = {"a": cell["p"] + cell["difference"], "b": cell["p"]}
    total, rows = (1 - cell["rho"]) / cell["rho"], []
    for name, share in shares.items():
        chances = stream.beta(share * total, (1 - share) * total, cell["blocks"])
        for block, chance in enumerate(chances):
            steps = np.diff(1 - np.maximum(chance, 1e-12) ** (VISITS / VISITS[-1]), prepend=0)
            counts = stream.multinomial(KEPT, [*steps, max(1 - steps.sum(), 0.0)])
            rows.append(pd.DataFrame({"treatment": name, "block": f"B{block}", "left": [0, *VISITS],
                                      "right": [*VISITS, np.inf], "count": counts.astype(float)}))
    frame = pd.concat(rows, ignore_index=True)
    frame = frame.assign(taxon="A", environment="S", batch=frame["treatment"] + "-1",
                         unit=frame["treatment"] + frame["block"])
    frame = lifetimes.followed(frame)
    told = _told(lifetimes.alive_means(frame, VISITS[-1]), cell["difference"], cell["p"])
    if cell["difference"] == 0:
        hazards, _ = lifetimes.hazard_means(frame)
        lived = lifetimes.pseudo_means(frame, survival.time_lived(VISITS[-1]).value)
        for what, means in (("log hazard ratio", hazards), ("time lived", lived)):
            told[f"covers: {what}"] = _told(means, 0.0, np.nan, what).get(f"covers: {what}")
    return told


def _grown(stream, cell):
    of_block = stream.normal(0, 0.15, cell["blocks"])
    rows = []
    for name, ratio in (("a", cell["ratio"]), ("b", 1.0)):
        for block in range(cell["blocks"]):
            plants = stream.integers(1, 6)
            middle = np.log(ratio) + of_block[block] + stream.normal(0, cell["plot_sd"])
            rows += [(name, f"B{block}", float(mass)) for mass in np.exp(middle + stream.normal(0, 0.45, plants))]
    treatment, block, value = (np.array(column) for column in zip(*rows, strict=True))
    unit = np.char.add(treatment, block)
    means = linear_means.of_plants(treatment, np.log(value), unit, block, np.ones(value.size))
    return _told(means, np.log(cell["ratio"]), 0.0, "ratio")


EMERGENCE = Study(
    "emergence", "Emergence in plots of blocks, 110 living seeds a plot",
    "Log odds of blocks with SD 0.25, seeds of a plot correlated by rho; wild: seedlings a plot that nobody sowed, as in "
    "as many unsown plots. Truth: the mean over the blocks that were sown.",
    (
        *grid(blocks=(4, 8, 16), rho=(0.01, 0.05), p=(0.02, 0.25), difference=(0.0, 0.1), wild=(0.0,)),
        *grid(blocks=(8,), rho=(0.2,), p=(0.02, 0.25), difference=(0.0,), wild=(0.0,)),
        *grid(blocks=(8, 16), rho=(0.03,), p=(0.1,), difference=(0.0, 0.1), wild=(0.6, 3.0)),
        *grid(blocks=(8,), rho=(0.05, 0.2), p=(0.05,), difference=(0.0, 0.1), wild=(0.0,)),
        *grid(blocks=(8, 12), rho=(0.2,), p=(0.02,), difference=(0.1,), wild=(0.0,)),
    ), _emerged, 600, limits=(
        Limit("A treatment that hardly emerges (2 %) in few plots, alone with one that emerges far better or with plots that "
              "differ widely (rho 0.2): one correlation for both is too small for one of them.",
              lambda row: row["cell"]["p"] == 0.02 and row["cell"]["blocks"] <= 8, printed(simulated.FEW_UP)),
    ), careful=share_means.CAREFUL,
)  # fmt: skip
SURVIVAL = Study(
    "survival", "Survival of eight kept plants a plot",
    "Plants of a plot share a beta chance to live to day 189 (correlation rho), five visits.",
    (
        *grid(blocks=(4, 8, 16), rho=(0.01, 0.05), p=(0.6,), difference=(0.0, 0.2)),
        *grid(blocks=(8,), rho=(0.2,), p=(0.1, 0.6, 0.9), difference=(0.0,)),
        *grid(blocks=(8,), rho=(0.05,), p=(0.1, 0.9, 0.97), difference=(0.0,)),
    ), _survived, 500, careful=simulated.CAREFUL_SURVIVAL,
)  # fmt: skip
GROWTH = Study(
    "growth", "Dry mass of one to five plants a plot, as a ratio",
    "Log mass: plants SD 0.45, plots SD plot_sd, blocks SD 0.15; by restricted maximum likelihood.",
    grid(blocks=(4, 8, 16), plot_sd=(0.0, 0.15, 0.4), ratio=(1.0, 1.4)), _grown, 500,
    careful=simulated.CAREFUL_GROWTH,
)
STUDIES = (EMERGENCE, SURVIVAL, GROWTH)
