"""Log-linear model of counts whose spread may exceed that of independent plants (rows that stand, seedlings a plot).

Variance of a count: dispersion x its mean, the dispersion taken from Pearson's X2 over its degrees of freedom and never
below 1; tests use t on those degrees of freedom.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import special

from palea.errors import UnfitValue

STEPS = 60
LEAST = 1e-8  # an expected count this small is a coefficient on its way to minus infinity


@dataclass(frozen=True)
class QuasiPoisson:
    """coefficients : (p,) logs.  covariance : (p, p), dispersion included.  fitted : (n,) expected counts.

    dispersion : Pearson / df_residual, not below 1; raw_dispersion : as it came; nan without degrees of freedom.
    """

    coefficients: np.ndarray
    covariance: np.ndarray
    fitted: np.ndarray = field(repr=False)
    pearson: float
    deviance: float
    df_residual: int
    dispersion: float
    raw_dispersion: float

    @property
    def standard_errors(self):
        """Square roots of the diagonal of the covariance."""
        return np.sqrt(np.diag(self.covariance))


def fit(design, count, exposure=None):
    """Fit log(count / exposure) = design @ coefficients -> QuasiPoisson.

    design : (n, p), full rank.  count : (n,) >= 0.  exposure : (n,) > 0, such as live seeds sown; 1 where None.
    Raises UnfitValue for counts or exposures that cannot be, columns that repeat each other, and a group whose counts
    are all 0: its logarithm has no end.
    Source: McCullagh & Nelder 1989, Generalized Linear Models, ch. 6.2.

    >>> fit(np.ones((2, 1)), [3, 5]).fitted.round(6).tolist()
    [4.0, 4.0]
    """
    design, count = np.asarray(design, float), np.asarray(count, float)
    exposure = np.ones(count.size) if exposure is None else np.asarray(exposure, float)
    _check(count, exposure)
    mean = count + 0.5
    working = np.log(mean / exposure)
    for _ in range(STEPS):
        coefficients, information = _least_squares(design, mean, working)
        linear = design @ coefficients
        new = exposure * np.exp(np.clip(linear, -40, 40))
        if new.min() < LEAST:
            msg = "A group has counts of 0 only, so its logarithm has no end. Compare shares instead, or leave it out."
            raise UnfitValue(msg)
        settled = np.abs(new - mean).max() < 1e-11 * max(new.max(), 1.0)
        mean, working = new, linear + (count - new) / new
        if settled:
            break
    return _summary(design, count, mean, coefficients, information)


def _check(count, exposure):
    bad = np.flatnonzero(~((count >= 0) & (exposure > 0)))
    if bad.size:
        at = bad[0]
        msg = f"Row {at + 1}: count {count[at]:g}, exposure {exposure[at]:g}; count is 0 or more, exposure above 0."
        raise UnfitValue(msg)


def _least_squares(design, weights, working):
    weighted = design * weights[:, None]
    information = design.T @ weighted
    if np.linalg.matrix_rank(design) < design.shape[1]:
        msg = "Columns of the design repeat each other. Leave out the column that follows from the others."
        raise UnfitValue(msg)
    return np.linalg.solve(information, weighted.T @ working), information


def _summary(design, count, mean, coefficients, information):
    df = design.shape[0] - design.shape[1]
    pearson = float(np.sum((count - mean) ** 2 / mean))
    deviance = 2 * float(np.sum(special.xlogy(count, count / mean) - (count - mean)))
    raw = pearson / df if df else np.nan
    dispersion = max(raw, 1.0) if df else np.nan
    covariance = dispersion * np.linalg.inv(information)
    return QuasiPoisson(coefficients, covariance, mean, pearson, deviance, df, dispersion, raw)


def mean_interval(total, units, critical, dispersion=1.0):
    """(lower, upper) of a mean count a unit, from the score: with a total of 0 the upper end is critical^2 / units.

    total : sum of the counts.  units : how many plots.  dispersion : how much more than independent they vary.
    Source: score interval of a Poisson mean, Barker 2002, Am. Stat. 56:85 (from memory).
    """
    squared = critical**2 * dispersion / units
    centre = total / units + squared / 2
    half = np.sqrt(squared * total / units + squared**2 / 4)
    return max(float(centre - half), 0.0), float(centre + half)
