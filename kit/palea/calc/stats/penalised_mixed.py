"""Logit model with random batches by penalised quasi-likelihood: a chain of weighted linear mixed models.

Quicker to a standard deviation that is not shrunk by the fixed effects (REML) than quadrature, and biased towards zero
where batches hold few seeds; `mixed_logit` is the one to rest on. Kept as a second opinion on the same data.
"""

from dataclasses import dataclass

import numpy as np
from scipy import optimize, special

from palea.calc.stats.proportions import checked_counts
from palea.errors import UnfitValue

ROUNDS = 200
SETTLED = 1e-10
LIGHTEST = 1e-8  # a unit whose share has run to 0 or 1 has no weight left
WIDEST = 20.0  # standard deviation on the logit scale beyond which no seed lot lies


@dataclass(frozen=True)
class PenalisedMixed:
    """coefficients : (p,) on the logit scale, of a typical batch.  covariance : (p, p).  sd_group : of batches."""

    coefficients: np.ndarray
    covariance: np.ndarray
    sd_group: float

    @property
    def standard_errors(self):
        """Of the coefficients."""
        return np.sqrt(np.diag(self.covariance))


def fit(design, k, n, group):
    """Fit with dispersion 1 and the standard deviation by REML at each round -> PenalisedMixed.

    design : (units, p), full rank.  k, n : (units,).  group : (units,) label of the batch.
    Raises UnfitValue where it does not settle, as with a group of the design that is all 0 or all 100 %.
    Source: Breslow & Clayton 1993, J. Am. Stat. Assoc. 88:9.
    """
    design = np.asarray(design, float)
    k, n = checked_counts(k, n)
    belongs = (np.asarray(group)[:, None] == np.unique(np.asarray(group))).astype(float)
    linear = special.logit((k + 0.5) / (n + 1))
    for _ in range(ROUNDS):
        shares = special.expit(linear)
        weight = n * shares * (1 - shares)
        if weight.min() < LIGHTEST:
            break
        working = linear + (k - n * shares) / weight
        sd = _deviation(design, working, weight, belongs)
        coefficients, covariance, fitted = _linear(design, working, weight, belongs, sd)
        if np.abs(fitted - linear).max() < SETTLED:
            return PenalisedMixed(coefficients, covariance, sd)
        linear = fitted
    msg = "Penalised quasi-likelihood does not settle on these counts. Use mixed_logit, or look for a group all 0 or all 100 %."
    raise UnfitValue(msg)


def _variance(weight, belongs, sd):
    return np.diag(1 / weight) + sd**2 * belongs @ belongs.T


def _linear(design, working, weight, belongs, sd):
    """Generalised least squares, and fitted values with the batches' own deviations."""
    inverse = np.linalg.inv(_variance(weight, belongs, sd))
    covariance = np.linalg.inv(design.T @ inverse @ design)
    coefficients = covariance @ design.T @ inverse @ working
    deviations = sd**2 * belongs.T @ inverse @ (working - design @ coefficients)
    return coefficients, covariance, design @ coefficients + belongs @ deviations


def _deviation(design, working, weight, belongs):
    """The standard deviation of batches that maximises the restricted likelihood of the working response."""

    def loss(sd):
        whole = _variance(weight, belongs, sd)
        inverse = np.linalg.inv(whole)
        information = design.T @ inverse @ design
        rest = working - design @ np.linalg.solve(information, design.T @ inverse @ working)
        return np.linalg.slogdet(whole)[1] + np.linalg.slogdet(information)[1] + rest @ inverse @ rest

    return float(optimize.minimize_scalar(loss, bounds=(0, WIDEST), method="bounded", options={"xatol": 1e-12}).x)
