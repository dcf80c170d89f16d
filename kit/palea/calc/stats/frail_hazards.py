"""Hazard ratios from visits with plots that differ at random: the model of interval_hazards with a plot effect.

log(-log(share that lives through an interval)) = log(baseline) + covariates + sd z, z one standard normal deviate a plot.
The deviates are integrated out by Gauss-Hermite quadrature. Ratios are between plots alike in their deviate, so they lie
further from 1 than those between all plants (interval_hazards); without deviates the two are the same.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import optimize, special

from palea.calc.stats import interval_hazards
from palea.errors import UnfitValue

POINTS = 24  # enough for plots of up to some tens of plants; checked against an integral on a fine grid
STEP = 1e-4
SMALLEST = 1e-3


@dataclass(frozen=True)
class FrailHazards:
    """A fitted model.

    coefficients : (p,) log hazard ratios between plots alike.  covariance : (p, p), observed information, sd estimated too.
    baseline : (J,) log cumulative hazards of a typical plot.  sd : between plots, on the log hazard scale.
    log_likelihood : without binomial coefficients.  df : clusters - p - 1.  warnings : sentences.
    """

    coefficients: np.ndarray
    covariance: np.ndarray = field(repr=False)
    baseline: np.ndarray
    sd: float
    log_likelihood: float
    df: int
    warnings: tuple[str, ...] = ()

    @property
    def standard_errors(self):
        """Of the coefficients."""
        return np.sqrt(np.diag(self.covariance))


def fit(spans, covariates, died, at_risk, cluster):
    """Fit by maximum likelihood -> FrailHazards. Arguments and errors as interval_hazards.fit.

    Raises UnfitValue also where it does not settle.
    Source: Prentice & Gloeckler 1978, Biometrics 34:57 (visits); normal plot effects: Breslow & Clayton 1993, J. Am. Stat.
    Assoc. 88:9 (the model), by quadrature.
    """
    plain = interval_hazards.fit(spans, covariates, died, at_risk, cluster)
    spans, covariates = np.asarray(spans, float), np.asarray(covariates, float)
    died, at_risk = np.asarray(died, float), np.asarray(at_risk, float)
    at = np.unique(np.asarray(cluster, str), return_inverse=True)[1]
    likelihood = _Likelihood(spans, covariates, died, at_risk, at)
    start = np.concatenate([plain.baseline, plain.coefficients])
    tries = [likelihood.climb(np.append(start, sd)) for sd in (0.3, 0.9)]
    found = min(tries, key=lambda each: each.fun)
    information = likelihood.information(found.x)
    if np.linalg.eigvalsh(information).min() <= 0 and abs(found.x[-1]) > SMALLEST:
        msg = "The plot effects did not settle: too few plants died. Take the ratio between all plants instead."
        raise UnfitValue(msg)
    return _summary(found, information, spans.shape[1], plain)


def _summary(found, information, baseline, plain):
    """With no deviates left, their direction says nothing and is left out of the information."""
    none = abs(found.x[-1]) <= SMALLEST
    kept = information[:-1, :-1] if none else information
    inner = slice(baseline, baseline + plain.coefficients.size)
    told = ("Plots did not differ more than chance allows: their effect is 0.",) if none else ()
    return FrailHazards(
        found.x[inner], np.linalg.inv(kept)[inner, inner], found.x[:baseline], float(abs(found.x[-1])), -float(found.fun),
        plain.df, told,
    )  # fmt: skip


@dataclass(frozen=True)
class _Likelihood:
    """Rows are visits of plots; `at` says which plot."""

    spans: np.ndarray
    covariates: np.ndarray
    died: np.ndarray
    at_risk: np.ndarray
    at: np.ndarray

    def __call__(self, parameters):
        """(minus log-likelihood, its slope) at baseline, covariates, sd."""
        size, sd = self.spans.shape[1], parameters[-1]
        parts = self.spans * np.exp(np.clip(parameters[:size], -60, 60))
        total = parts.sum(axis=1)
        linear = np.log(total) + self.covariates @ parameters[size:-1]
        nodes, weights = special.roots_hermite(POINTS)
        nodes = np.sqrt(2) * nodes
        hazard = np.exp(np.clip(linear[:, None] + sd * nodes, -40, 6))  # (rows, points)
        lives = (self.at_risk - self.died)[:, None]
        logs = special.xlogy(self.died[:, None], -np.expm1(-hazard)) - lives * hazard
        pulls = self.died[:, None] * hazard / np.expm1(hazard) - lives * hazard
        of_plot = self._sum(logs) + np.log(weights / np.sqrt(np.pi))
        value = special.logsumexp(of_plot, axis=1)
        share = np.exp(of_plot - value[:, None])[self.at]  # of each deviate, given what was seen in the plot
        pull = (share * pulls).sum(axis=1)
        design = np.hstack([parts / total[:, None], self.covariates])
        slope = np.append(design.T @ pull, (share * pulls * nodes).sum())
        return -float(value.sum()), -slope

    def _sum(self, values):
        found = np.zeros((self.at.max() + 1, values.shape[1]))
        np.add.at(found, self.at, values)
        return found

    def climb(self, start):
        """The likelihood is even in the sd, so 0 is no wall."""
        return optimize.minimize(self, start, jac=True, method="BFGS", options={"gtol": 1e-6})

    def information(self, at):
        """Second derivatives by central differences of the slope."""
        moves = STEP * np.eye(at.size)
        rows = [(self(at + move)[1] - self(at - move)[1]) / (2 * STEP) for move in moves]
        return (np.array(rows) + np.array(rows).T) / 2
