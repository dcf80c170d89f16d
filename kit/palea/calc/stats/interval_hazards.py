"""Hazard ratios from visits: a complementary log-log model of who died between two looks, plots as clusters.

Hazards in proportion give log(-log(share that lives through an interval)) = log(baseline of the interval) + covariates,
whatever the hazard does inside it. A plot that missed a visit spans several intervals of the others: its baseline is the
sum of theirs. Plants of a plot die together, so errors are taken from how plots, not plants, differ.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import special

from palea.errors import UnfitValue

STEPS = 100
ENDS = (-20.0, 4.0)  # a log hazard beyond them is on its way to infinity
FULL = 1e-10  # of a cluster's own share of its fit: what is left of 1 when it alone decides a coefficient


@dataclass(frozen=True)
class IntervalHazards:
    """A fitted model.

    coefficients : (p,) log hazard ratios of the covariates.  covariance : (p, p), between clusters.
    model_covariance : (p, p), as if plants were independent.  baseline : (J,) log cumulative hazards of the intervals.
    log_likelihood : binomial, without the binomial coefficients.  df : clusters less what is estimated between them.
    fitted : (rows,) shares expected to die.
    """

    coefficients: np.ndarray
    covariance: np.ndarray
    model_covariance: np.ndarray = field(repr=False)
    baseline: np.ndarray
    log_likelihood: float
    clusters: int
    df: int
    fitted: np.ndarray = field(repr=False)

    @property
    def standard_errors(self):
        """Of the coefficients, between clusters."""
        return np.sqrt(np.diag(self.covariance))


def fit(spans, covariates, died, at_risk, cluster):
    """Fit by maximum likelihood, errors between clusters -> IntervalHazards.

    spans : (rows, J) true where the row's interval holds baseline interval j; each row holds at least one.
    covariates : (rows, p) without an intercept (the baseline is one).  died, at_risk : (rows,) plants.
    cluster : (rows,) plot of each row. df is clusters - p - 1: covariates belong to plots.
    The covariance is the sandwich with each cluster's residuals freed of its own pull (CR2); with one row a cluster and
    all of equal weight it is the variance of a linear model.
    Raises UnfitValue for counts that cannot be, columns that repeat each other, and a hazard without end: a group or an
    interval in which none or all died.
    Source: complementary log-log: Prentice & Gloeckler 1978, Biometrics 34:57; sandwich by clusters: Liang & Zeger 1986,
    Biometrika 73:13; CR2: Bell & McCaffrey 2002, Survey Methodology 28:169.
    """
    spans, covariates = np.asarray(spans, float), np.asarray(covariates, float)
    died, at_risk = np.asarray(died, float), np.asarray(at_risk, float)
    _check(died, at_risk)
    parameters = _climb(spans, covariates, died, at_risk)
    labels, where = np.unique(np.asarray(cluster, str), return_inverse=True)
    design, share, slope = _at(parameters, spans, covariates)
    weight = at_risk * slope**2 / (share * (1 - share))
    rows = design * np.sqrt(weight)[:, None]
    bread = np.linalg.inv(rows.T @ rows)
    residual = (died - at_risk * share) * slope / (share * (1 - share)) / np.sqrt(weight)
    meat = _meat(rows, residual, bread, where, labels.size)
    inner = slice(spans.shape[1], None)
    return IntervalHazards(
        parameters[inner], (bread @ meat @ bread)[inner, inner], bread[inner, inner], parameters[: spans.shape[1]],
        _log_likelihood(parameters, spans, covariates, died, at_risk), labels.size,
        labels.size - covariates.shape[1] - 1, share,
    )  # fmt: skip


def _check(died, at_risk):
    bad = np.flatnonzero(~((at_risk > 0) & (died >= 0) & (died <= at_risk)))
    if bad.size:
        at = bad[0]
        msg = f"Row {at + 1}: {died[at]:g} of {at_risk[at]:g} died; allowed is 0 to as many as were at risk, above 0."
        raise UnfitValue(msg)


def _linear(parameters, spans, covariates):
    """Log cumulative hazard of each row, and each baseline interval's part of it."""
    size = spans.shape[1]
    parts = spans * np.exp(np.clip(parameters[:size], -60, 60))
    total = parts.sum(axis=1)
    return np.log(total) + covariates @ parameters[size:], parts / total[:, None]


def _at(parameters, spans, covariates):
    """Design of a Fisher step, share expected to die, and its slope by the linear predictor."""
    linear, parts = _linear(parameters, spans, covariates)
    hazard = np.exp(np.clip(linear, -40, 5))
    share = np.clip(-np.expm1(-hazard), 1e-15, 1 - 1e-15)
    return np.hstack([parts, covariates]), share, hazard * np.exp(-hazard)


def _log_likelihood(parameters, spans, covariates, died, at_risk):
    hazard = np.exp(np.clip(_linear(parameters, spans, covariates)[0], -40, 5))
    return float(special.xlogy(died, -np.expm1(-hazard)).sum() - ((at_risk - died) * hazard).sum())


def _climb(spans, covariates, died, at_risk):
    """Fisher scoring, halved where a step lowers the likelihood."""
    start = np.log(-np.log1p(-np.clip(died.sum() / at_risk.sum(), 1e-6, 1 - 1e-6)))
    parameters = np.concatenate([np.full(spans.shape[1], start), np.zeros(covariates.shape[1])])
    data = (spans, covariates, died, at_risk)
    columns = _at(parameters, spans, covariates)[0]
    if np.linalg.matrix_rank(columns) < columns.shape[1]:
        msg = "Columns of the design repeat each other. Leave out the column that follows from the others."
        raise UnfitValue(msg)
    best = _log_likelihood(parameters, *data)
    for _ in range(STEPS):
        design, share, slope = _at(parameters, spans, covariates)
        pull = slope / (share * (1 - share))
        information = design.T @ (design * (at_risk * slope * pull)[:, None])
        step = np.linalg.solve(information, design.T @ ((died - at_risk * share) * pull))
        step *= 4.0 / max(np.abs(step).max(), 4.0)
        for size in 0.5 ** np.arange(30):
            ahead = _log_likelihood(parameters + size * step, *data)
            if ahead >= best - 1e-12 * abs(best):
                break
        parameters, best = parameters + size * step, ahead
        linear = _linear(parameters, spans, covariates)[0]
        if min(linear.min(), parameters[: spans.shape[1]].min()) < ENDS[0] or linear.max() > ENDS[1]:
            msg = "A hazard has no end: in a group or an interval none or all died. Compare the shares alive instead."
            raise UnfitValue(msg)
        if np.abs(step).max() < 1e-9:
            return parameters
    msg = f"The hazards did not settle in {STEPS} steps; is there a group in which hardly any plant died?"
    raise UnfitValue(msg)


def _meat(rows, residual, bread, where, clusters):
    """Sum over clusters of what their mended residuals pull."""
    meat = np.zeros_like(bread)
    for at in range(clusters):
        own = rows[where == at]
        values, vectors = np.linalg.eigh(np.eye(len(own)) - own @ bread @ own.T)
        mend = np.where(values > FULL, 1 / np.sqrt(np.maximum(values, FULL)), 0.0)
        pull = own.T @ (vectors @ (mend * (vectors.T @ residual[where == at])))
        meat += np.outer(pull, pull)
    return meat
