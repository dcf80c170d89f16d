"""Shares of seeds: final germination on dishes and on batches, single groups, differences, verdicts."""

import numpy as np
from study import Limit, Study, alike, grid, inside, printed

from palea.calc import simulated
from palea.calc.stats import share_means
from palea.calc.stats.contrasts import Question, answer
from palea.calc.stats.proportions import t_quantile

MARGIN = 0.15
SEEDS = 25


def _answers(means, truth, levels=("a", "b")):
    """Whether group and difference hold what is true, at a difference `truth` of shares `levels`."""
    if means is None:
        return dict.fromkeys(("covers: group", "covers: difference"))
    told = {}
    _, lower, upper = means.told("a", t_quantile(0.95, means.df))
    told["covers: group"] = inside(levels[0], lower, upper)
    (found,) = answer([Question(means, "a", "b", ("x",), "x", "superiority")])
    told["covers: difference"] = inside(truth, *found.outer)
    if truth == 0:
        told["errs"] = found.p_value < 0.05
    return told


def _dishes(stream, cell):
    p, q = cell["p"], cell["p"] + cell.get("difference", 0.0)
    k = [alike(stream, share, cell["rho"], SEEDS, cell["dishes"]) for share in (q, p)]
    means = share_means.of_counts(["a"] * cell["dishes"] + ["b"] * cell["dishes"], np.concatenate(k),
                                  np.full(2 * cell["dishes"], SEEDS), beta=True)
    return _answers(means, q - p, (q, p))


def _equivalence(stream, cell):
    """Truth at the margin: a claim of equivalence is then an error."""
    p = cell["p"]
    if cell["on"] == "dishes":
        k = [alike(stream, share, cell["rho"], SEEDS, cell["units"]) for share in (p + MARGIN, p)]
        n = np.full(2 * cell["units"], SEEDS)
        means = share_means.of_counts(["a"] * cell["units"] + ["b"] * cell["units"], np.concatenate(k), n, beta=True)
    else:
        means = _batch_means(stream, (p + MARGIN, p), cell["units"], cell["rho"], 0.1)
    (found,) = answer([Question(means, "a", "b", ("x",), "x", "equivalence", MARGIN)])
    return {"claims": found.verdict in ("equivalent within m", "differs by less than matters")}


def _batch_means(stream, shares, batches, rho, batch_sd, arms=None):
    """Batches of four dishes; the batch moves the log odds. shares : of typical batches."""
    k, labels = [], []
    for name, share in zip(arms or "ab", shares, strict=True):
        for _ in range(batches):
            own = 1 / (1 + np.exp(-(np.log(share / (1 - share)) + stream.normal(0, batch_sd))))
            k.append(alike(stream, own, rho, SEEDS, 4).sum())
            labels.append(name)
    return share_means.of_batches(labels, np.array(k), np.full(len(k), 4 * SEEDS))


def _batches(stream, cell):
    p, sd = cell["p"], cell["batch_sd"]
    arms = ["a", "b", *(f"c{i}" for i in range(cell["arms"] - 2))]
    others = [p] * (cell["arms"] - 2)
    q = min(max(p + cell["difference"], 0.02), 0.98)
    means = _batch_means(stream, [q, p, *others], cell["batches"], cell["rho"], sd, arms)
    first, second = (_over_batches(share, sd) for share in (q, p))
    return _answers(means, first - second, (first, second))


_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(40)


def _over_batches(share, sd):
    """Mean share of all batches that could be made."""
    return float(_WEIGHTS @ (1 / (1 + np.exp(-(np.log(share / (1 - share)) + sd * _NODES)))) / _WEIGHTS.sum())


def _unequal(stream, cell):
    return _dishes(stream, cell)


DISHES = Study(
    "final-dishes", "Final germination, two treatments of one batch each, judged on dishes of 25 seeds",
    "Both treatments germinate alike (share p), seeds of a dish are correlated by rho (beta-binomial). Calculated as "
    "germination.final does: beta-binomial counts from six dishes on, quasi-binomial below; Wilson and Newcombe "
    "intervals with effective numbers of seeds.",
    grid(rho=(0.0, 0.05, 0.2), dishes=(4, 6, 10), p=(0.02, 0.1, 0.3, 0.5, 0.9, 0.98)), _dishes,
    careful=share_means.CAREFUL,
)
APART = Study(
    "final-dishes-apart", "The same where the treatments differ",
    "The first treatment germinates more by the difference given.",
    grid(rho=(0.0, 0.05, 0.2), dishes=(4, 10), p=(0.02, 0.3, 0.6), difference=(0.15, 0.35)), _unequal,
    careful=share_means.CAREFUL,
)
BATCHES = Study(
    "final-batches", "Final germination judged on treatment batches of four dishes",
    "Batches move the log odds by a normal deviation of batch_sd; the truth is the mean over all batches that could be "
    "made. arms: how many treatments share the variance. Means with one pooled variance and t, or near 0 and 100 % "
    "counts with one dispersion.",
    (
        *grid(rho=(0.02, 0.1), batch_sd=(0.1, 0.4), batches=(4,), arms=(2, 6), p=(0.05, 0.3, 0.6), difference=(0.0, 0.2)),
        *grid(rho=(0.02,), batch_sd=(0.1, 0.4), batches=(2, 3), arms=(2, 6), p=(0.6,), difference=(0.0,)),
    ), _batches, limits=(
        Limit("A treatment far above others that lie near 0, with batches that differ widely (SD 0.4 on the log odds, a factor "
              "of 1.5 either way): one dispersion for all is then too small for it. Judge such a treatment beside those of "
              "its own level.",
              lambda row: (row["cell"]["p"], row["cell"]["difference"], row["cell"]["batch_sd"]) == (0.05, 0.2, 0.4),
              printed(simulated.FAR_BATCHES)),
    ),
)  # fmt: skip
EQUIVALENCE = Study(
    "equivalence", "Equivalence within 15 points where the treatments differ by 15 points",
    "Two one-sided tests; the larger of the two errors, as the truth lies on the margin.",
    grid(on=("dishes", "batches"), units=(4, 10), rho=(0.0, 0.05, 0.2), p=(0.05, 0.3, 0.6, 0.8)), _equivalence, 2000,
)
STUDIES = (DISHES, APART, BATCHES, EQUIVALENCE)
