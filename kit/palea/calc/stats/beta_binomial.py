"""Beta-binomial model of shares: dishes of one group differ by more than chance, by a correlation rho shared by all.

k of n seeds with mean n p and variance n p (1 - p) (1 + (n - 1) rho); logit p = design @ coefficients. Fitted by
maximum likelihood with exact first and second derivatives (Newton), so the standard errors are those of the observed
information.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import special

from palea.calc.stats import quasi_binomial
from palea.calc.stats.proportions import checked_counts
from palea.errors import UnfitValue

LEAST_RHO = 1e-7  # below it the likelihood is the binomial one to all digits that matter
NO_SPREAD = "Dishes differ by no more than chance: rho is 0 and the fit is binomial."


@dataclass(frozen=True)
class BetaBinomial:
    """A fitted beta-binomial model.

    coefficients : (p,) on the logit scale.  rho : correlation of two seeds of one dish.  covariance : (p, p) of the
    coefficients, from the observed information with rho estimated too.  rho_standard_error : of logit rho; nan at 0.
    fitted : (units,) shares.  pearson : sum of squared residuals over their beta-binomial variance.
    """

    coefficients: np.ndarray
    covariance: np.ndarray
    rho: float
    rho_standard_error: float
    log_likelihood: float
    pearson: float
    df_residual: int
    fitted: np.ndarray = field(repr=False)
    warnings: tuple[str, ...] = ()

    @property
    def standard_errors(self):
        """Of the coefficients."""
        return np.sqrt(np.diag(self.covariance))


def fit(design, k, n):
    """Fit by maximum likelihood -> BetaBinomial.

    design : (units, p), full rank.  k, n : (units,) seeds that did, of seeds; a group of units that is all 0 or all n
    has no finite coefficient: UnfitValue says so. Where dishes differ by no more than chance rho is exactly 0.
    Source: Williams 1975, Biometrics 31:949; Crowder 1978, Appl. Statist. 27:34.

    >>> model = fit(np.ones((4, 1)), [1, 9, 5, 2], [10, 10, 10, 10])
    >>> round(model.rho, 3)
    0.28
    """
    design = np.asarray(design, float)
    k, n = checked_counts(k, n)
    start = quasi_binomial.fit(design, k, n)
    if start.penalised:
        msg = "A group is all 0 or all 100 %: leave it out of the fit and give it an interval of its own (Wilson)."
        raise UnfitValue(msg)
    if _gain_from_spread(k, n, start.fitted) <= 0:  # the climb would end at rho 0 as well, after a longer way
        return _without_spread(start)
    parameters = _newton(design, k, n, np.append(start.coefficients, special.logit(_first_rho(k, n, start))))
    if special.expit(parameters[-1]) < LEAST_RHO:
        return _without_spread(start)
    return _summary(design, k, n, parameters)


def _gain_from_spread(k, n, shares):
    """Twice the slope of the log-likelihood in rho at 0 (Tarone 1979): positive where spread fits better than none."""
    with np.errstate(divide="ignore", invalid="ignore"):
        did, did_not = k * (k - 1) / shares, (n - k) * (n - k - 1) / (1 - shares)
    return float(np.sum(did + did_not - n * (n - 1)))


def _first_rho(k, n, start):
    """From Pearson's dispersion and the mean dish."""
    return np.clip((start.pearson / max(k.size, 1) - 1) / max(n.mean() - 1, 1), 1e-3, 0.9)


def _newton(design, k, n, parameters):
    """Climb; a step that does not climb is shortened, a bent surface is made round (Levenberg and Marquardt)."""
    damping, here = 1e-3, _derivatives(design, k, n, parameters)
    for _ in range(200):
        height, slope, bend = here
        if np.abs(slope).max() < 1e-9 * max(1.0, n.sum()) and damping < 1e-2:
            break
        scale = np.maximum(np.abs(np.diag(bend)), 1e-8)
        step = np.clip(np.linalg.solve(bend + damping * np.diag(scale), slope), -2, 2)
        there = _derivatives(design, k, n, parameters + step)
        if there[0] >= height - 1e-12 * abs(height) and np.isfinite(there[0]):
            parameters, here, damping = parameters + step, there, damping / 10
            if np.abs(step).max() < 1e-11 or special.expit(parameters[-1]) < LEAST_RHO:
                break
        else:
            damping = min(max(damping, 1e-3) * 10, 1e8)
    return parameters


def _derivatives(design, k, n, parameters):
    """Log-likelihood, its slope, and minus its second derivatives, in coefficients and logit rho.

    With a + b = s = (1 - rho) / rho and a = p s:
    l = lnG(k + a) - lnG(a) + lnG(n - k + b) - lnG(b) + lnG(s) - lnG(n + s) + ln choose(n, k).
    """
    shares = special.expit(design @ parameters[:-1])
    total = np.exp(-np.clip(parameters[-1], -25, 25))
    a, b = shares * total, (1 - shares) * total
    choices = special.gammaln(n + 1) - special.gammaln(k + 1) - special.gammaln(n - k + 1)
    height = np.sum(special.betaln(k + a, n - k + b) - special.betaln(a, b) + choices)
    in_a, in_b, in_s = (special.digamma(x + m) - special.digamma(x) for x, m in ((a, k), (b, n - k), (total, n)))
    aa, bb, ss = (
        special.polygamma(1, x + m) - special.polygamma(1, x) for x, m in ((a, k), (b, n - k), (total, n))
    )
    width = shares * (1 - shares)
    by_share = total * (in_a - in_b)
    by_total = shares * in_a + (1 - shares) * in_b - in_s
    share_share = total**2 * (aa + bb)
    total_total = shares**2 * aa + (1 - shares) ** 2 * bb - ss
    share_total = in_a - in_b + total * (shares * aa - (1 - shares) * bb)
    slope = np.append(design.T @ (by_share * width), -total * by_total.sum())
    corner = design.T @ (share_total * width * -total)
    bend = np.empty((parameters.size, parameters.size))
    bend[:-1, :-1] = design.T @ (design * (share_share * width**2 + by_share * width * (1 - 2 * shares))[:, None])
    bend[:-1, -1] = bend[-1, :-1] = corner
    bend[-1, -1] = np.sum(total_total * total**2 + by_total * total)
    return float(height), slope, -bend


def _summary(design, k, n, parameters):
    height, _, bend = _derivatives(design, k, n, parameters)
    covariance = np.linalg.inv(bend)
    shares, rho = special.expit(design @ parameters[:-1]), float(special.expit(parameters[-1]))
    variance = n * shares * (1 - shares) * (1 + (n - 1) * rho)
    return BetaBinomial(
        parameters[:-1], covariance[:-1, :-1], rho, _root(covariance[-1, -1]), height,
        float(np.sum((k - n * shares) ** 2 / variance)), design.shape[0] - design.shape[1], shares,
    )  # fmt: skip


def _root(variance):
    """Standard error; nan where the likelihood does not bend at the top, as it may beside rho 0."""
    return float(np.sqrt(variance)) if variance > 0 else np.nan


def _without_spread(start):
    """The binomial fit, its standard errors without dispersion."""
    covariance = start.covariance / start.dispersion
    return BetaBinomial(
        start.coefficients, covariance, 0.0, np.nan, start.log_likelihood, start.pearson, start.df_residual,
        start.fitted, (NO_SPREAD,),
    )  # fmt: skip
