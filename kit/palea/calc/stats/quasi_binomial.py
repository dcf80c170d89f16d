"""Logit model of shares of dishes or plots whose spread may exceed that of independent seeds.

Variance of k of n seeds: dispersion n p (1 - p), the dispersion taken from Pearson's X2 over its degrees of freedom and
never below 1. Tests use t and F on those degrees of freedom, because the dispersion is estimated.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import special

from palea.calc.stats.proportions import checked_counts
from palea.errors import UnfitValue

STEPS = 25
EXTREME = 1e-6  # a fitted share this near 0 or 1 is a coefficient on its way to infinity
INFLATED = 1e9  # a variance so much above that of the column alone is rounding: the column follows from the others
REPEATED = "Columns of the design repeat each other. Leave out the column that follows from the others."
PENALISED = (
    "A group is all 0 or all 100 %: fitted by penalised (Firth) likelihood, which shrinks it a little from the end. "
    "Nothing was added to the counts."
)


@dataclass(frozen=True)
class QuasiBinomial:
    """A fitted logit model of shares.

    coefficients, standard_errors : (p,) on the logit scale.  covariance : (p, p), dispersion included.
    fitted : (units,) shares.  pearson, deviance : goodness of fit.  log_likelihood : binomial, of the coefficients.
    dispersion : Pearson / df_residual, not below 1; raw_dispersion : as it came; nan without degrees of freedom.
    penalised : whether Firth's likelihood was used.  warnings : sentences.
    """

    coefficients: np.ndarray
    covariance: np.ndarray
    fitted: np.ndarray = field(repr=False)
    pearson: float
    deviance: float
    log_likelihood: float
    df_residual: int
    dispersion: float
    raw_dispersion: float
    penalised: bool = False
    warnings: tuple[str, ...] = ()

    @property
    def standard_errors(self):
        """Square roots of the diagonal of the covariance."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def p_values(self):
        """Two-sided p of each coefficient, t on the residual degrees of freedom."""
        return 2 * special.stdtr(self.df_residual, -np.abs(self.coefficients / self.standard_errors))


def fit(design, k, n, *, penalised=None):
    """Fit logit p = design @ coefficients to k of n seeds a unit -> QuasiBinomial.

    design : (units, p), full rank.  k, n : (units,) seeds that did, of seeds.
    penalised : True for Firth's likelihood, False for the plain one, None: Firth where a group is all 0 or all 100 %.
    With as many coefficients as units the dispersion is nan, and so are covariance and tests.
    Raises UnfitValue for counts that cannot be, and for a design in which columns repeat each other.
    Source: McCullagh & Nelder 1989, Generalized Linear Models, ch. 4.5; Firth 1993, Biometrika 80:27.

    >>> fit(np.ones((3, 1)), [3, 5, 4], [10, 10, 10]).fitted.round(3)
    array([0.4, 0.4, 0.4])
    """
    design = np.asarray(design, float)
    k, n = checked_counts(k, n)
    try:
        coefficients, information = _solve(design, k, n, firth=bool(penalised))
        inverse = np.linalg.inv(information)
    except np.linalg.LinAlgError:
        raise UnfitValue(REPEATED) from None
    shares = special.expit(design @ coefficients)
    if penalised is None and (shares.min() < EXTREME or shares.max() > 1 - EXTREME):
        return fit(design, k, n, penalised=True)
    if np.any(np.abs(np.diag(inverse) * np.diag(information)) > INFLATED):
        raise UnfitValue(REPEATED)
    return _summary(design, k, n, coefficients, shares, inverse, bool(penalised))


def _solve(design, k, n, *, firth):
    """Fisher scoring, halved where a step lowers the likelihood; returns coefficients and information."""
    did = k + 0.5
    working = np.log(did / (n - k + 0.5))
    weights = did * (n - k + 0.5) / (n + 1)
    coefficients = _least_squares(design, weights, working)
    for _ in range(STEPS * (8 if firth else 1)):
        shares = special.expit(design @ coefficients)
        weights = n * shares * (1 - shares)
        weighted = design * weights[:, None]
        information = design.T @ weighted
        residual = k - n * shares
        if firth:
            leverage = np.einsum("ij,ji->i", weighted, np.linalg.solve(information, design.T))
            residual = residual + leverage * (0.5 - shares)
        step = np.linalg.solve(information, design.T @ residual)
        size = np.abs(step).max()
        if size < 1e-10:
            break
        if not firth and shares.min() < EXTREME / 10 and size > 0.5:
            break  # on its way to infinity, one unit a step
        coefficients = coefficients + step * min(1.0, 5.0 / size)
    return coefficients, information


def _least_squares(design, weights, working):
    weighted = design * weights[:, None]
    return np.linalg.solve(design.T @ weighted, weighted.T @ working)


def _summary(design, k, n, coefficients, shares, inverse, penalised):
    df = design.shape[0] - design.shape[1]
    expected = n * shares
    with np.errstate(divide="ignore", invalid="ignore"):
        pearson = float(np.nansum((k - expected) ** 2 / (expected * (1 - shares))))
    raw = pearson / df if df else np.nan
    dispersion = max(raw, 1.0) if df else np.nan
    deviance = 2 * float(np.sum(_likelihood(k, n, k / n) - _likelihood(k, n, shares)))
    choices = special.gammaln(n + 1) - special.gammaln(k + 1) - special.gammaln(n - k + 1)
    return QuasiBinomial(
        coefficients, dispersion * inverse, shares, pearson, deviance,
        float(np.sum(choices + _likelihood(k, n, shares))), df, dispersion, raw, penalised,
        (PENALISED,) if penalised else (),
    )  # fmt: skip


def _likelihood(k, n, shares):
    return special.xlogy(k, shares) + special.xlogy(n - k, 1 - shares)


@dataclass(frozen=True)
class SequentialF:
    """One row a term, in the order given: F with its degrees of freedom and p."""

    f: np.ndarray
    df: np.ndarray
    df_residual: int
    p_value: np.ndarray


def sequential_f(columns_of_terms, k, n):
    """F of each term added after those before it; the dispersion is that of the full model, not below 1.

    columns_of_terms : designs (units, columns), the first one the intercept, which is not tested.
    Source: McCullagh & Nelder 1989, Generalized Linear Models, ch. 4.5.
    """
    terms = [np.asarray(term, float).reshape(len(np.atleast_1d(k)), -1) for term in columns_of_terms]
    fits = [fit(np.hstack(terms[: i + 1]), k, n, penalised=False) for i in range(len(terms))]
    full = fits[-1]
    df = -np.diff([each.df_residual for each in fits])
    f = -np.diff([each.deviance for each in fits]) / df / full.dispersion
    return SequentialF(f, df, full.df_residual, special.fdtrc(df, full.df_residual, f))
