"""Shares against a straight line on the logit, probit or complementary log-log scale, and the level that gives a share.

For a dose that kills half, or the time after which half is viable: the level is a ratio of two coefficients, so its
interval is Fieller's, which says so when the line does not fall for sure.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import special

from palea.calc.stats.proportions import checked_counts, normal_quantile
from palea.errors import UnfitValue

STEPS = 100
_ROOT = np.sqrt(2 * np.pi)
_FAR = 30.0  # a linear predictor beyond it is a share of 0 or 1


def _logit(eta):
    share = special.expit(eta)
    return share, share * (1 - share)


def _probit(eta):
    return special.ndtr(eta), np.exp(-(eta**2) / 2) / _ROOT


def _cloglog(eta):
    return -special.expm1(-np.exp(eta)), np.exp(eta - np.exp(eta))


LINKS = {"logit": (_logit, special.logit), "probit": (_probit, special.ndtri),
         "cloglog": (_cloglog, lambda share: np.log(-np.log1p(-np.asarray(share, float))))}


@dataclass(frozen=True)
class LinkFit:
    """A fitted line.

    coefficients : (p,).  covariance : (p, p) for independent seeds; times `dispersion` where dishes differ by more.
    deviance, pearson, aic, df : goodness of fit and residual degrees of freedom.  fitted : (units,) shares.
    link : its name.
    """

    coefficients: np.ndarray
    covariance: np.ndarray
    deviance: float
    pearson: float
    aic: float
    df: int
    fitted: np.ndarray = field(repr=False)
    link: str

    @property
    def standard_errors(self):
        """Of the coefficients, for independent seeds."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def dispersion(self):
        """Pearson's X2 over its degrees of freedom, not below 1; 1 where there are none."""
        return max(self.pearson / self.df, 1.0) if self.df else 1.0


def fit(design, k, n, link="probit"):
    """Fit by maximum likelihood (iteratively reweighted least squares) -> LinkFit.

    design : (units, p), full rank, the intercept's column included.  k, n : (units,) seeds that did, of seeds.
    link : "logit", "probit" or "cloglog".
    Raises UnfitValue for another link, columns that repeat each other, or shares that the line separates wholly (all 0
    on one side and all 100 % on the other), where no coefficient is best.
    Source: Finney 1971, Probit Analysis, 3rd ed.; McCullagh & Nelder 1989, ch. 4.

    >>> model = fit(np.column_stack([np.ones(3), [0, 1, 2]]), [9, 5, 2], [10, 10, 10])
    >>> model.coefficients.round(3).tolist()
    [1.171, -1.047]
    """
    if link not in LINKS:
        msg = f"link is {link!r}; allowed are {', '.join(LINKS)}."
        raise UnfitValue(msg)
    design = np.asarray(design, float)
    k, n = checked_counts(k, n)
    if np.linalg.matrix_rank(design) < design.shape[1]:
        msg = "Columns of the design repeat each other. Leave out the column that follows from the others."
        raise UnfitValue(msg)
    turn, back = LINKS[link]
    eta = back((k + 0.5) / (n + 1))
    coefficients, before = np.zeros(design.shape[1]), np.inf
    for _ in range(STEPS):
        share, slope = _inner(*turn(eta))
        weight = n * slope**2 / (share * (1 - share))
        information = design.T @ (weight[:, None] * design)
        working = eta + (k / n - share) / slope
        coefficients = np.linalg.solve(information, design.T @ (weight * working))
        eta = np.clip(design @ coefficients, -_FAR, _FAR)
        now = _deviance(k, n, _inner(*turn(eta))[0])
        if abs(now - before) <= 1e-12 * (1 + now):
            break
        before = now
    return _summary(design, k, n, link, coefficients)


def _inner(share, slope):
    return np.clip(share, 1e-12, 1 - 1e-12), np.maximum(slope, 1e-12)


def _deviance(k, n, share):
    return 2 * float(np.sum(special.xlogy(k, k / n / share) + special.xlogy(n - k, (1 - k / n) / (1 - share))))


def _summary(design, k, n, link, coefficients):
    eta = design @ coefficients
    share, slope = _inner(*LINKS[link][0](np.clip(eta, -_FAR, _FAR)))
    weight = n * slope**2 / (share * (1 - share))
    information = design.T @ (weight[:, None] * design)
    if not np.isfinite(coefficients).all() or (weight < 1e-6 * n).all():
        msg = "The shares fall from all to none in one step, so no line fits best. Add levels in between."
        raise UnfitValue(msg)
    choices = special.gammaln(n + 1) - special.gammaln(k + 1) - special.gammaln(n - k + 1)
    likelihood = float(np.sum(choices + special.xlogy(k, share) + special.xlogy(n - k, 1 - share)))
    return LinkFit(
        coefficients, np.linalg.inv(information), _deviance(k, n, share),
        float(np.sum((k - n * share) ** 2 / (n * share * (1 - share)))),
        2 * design.shape[1] - 2 * likelihood, design.shape[0] - design.shape[1], share, link,
    )  # fmt: skip


@dataclass(frozen=True)
class Level:
    """Where the line gives a share: value, its standard error (delta method), and Fieller's interval."""

    value: float
    standard_error: float
    lower: float
    upper: float


def level(model, share, confidence=0.95, at=(0, 1), critical=None, dispersion=1.0):
    """The x at which intercept + slope x gives `share` -> Level.

    model : LinkFit.  at : places of intercept and slope among its coefficients.  critical : quantile in place of the
    normal one (t, where the dispersion was estimated).  dispersion : multiplies the covariance.
    Source: Finney 1971, ch. 4; Fieller 1954, J. R. Stat. Soc. B 16:175-185.
    """
    critical = normal_quantile(confidence) if critical is None else critical
    first, second = at
    aim = float(LINKS[model.link][1](share))
    top, slope = aim - model.coefficients[first], model.coefficients[second]
    covariance = dispersion * model.covariance[np.ix_([first, second], [first, second])]
    value = top / slope
    gradient = np.array([-1.0, -value]) / slope
    lower, upper = fieller(top, slope, covariance[0, 0], covariance[1, 1], -covariance[0, 1], critical)
    return Level(float(value), float(np.sqrt(gradient @ covariance @ gradient)), lower, upper)


def fieller(top, bottom, top_variance, bottom_variance, covariance, critical):
    """Limits of a ratio of two normal estimates: (lower, upper).

    Where the bottom is not shown to differ from 0 the limits are open: the part that holds the ratio is returned, with
    inf at its open end, or (-inf, inf) where nothing can be left out.
    Source: Fieller 1954, J. R. Stat. Soc. B 16:175-185.

    >>> [round(end, 4) for end in fieller(1.0, 2.0, 0.01, 0.01, 0.0, 1.96)]
    [0.3946, 0.6151]
    """
    squared, ratio = critical**2, top / bottom
    a = bottom**2 - squared * bottom_variance
    b = top * bottom - squared * covariance
    c = top**2 - squared * top_variance
    inside = b**2 - a * c
    if inside < 0 or a == 0:
        return -np.inf, np.inf
    ends = sorted(((b - np.sqrt(inside)) / a, (b + np.sqrt(inside)) / a))
    if a > 0:
        return float(ends[0]), float(ends[1])
    return (float(ends[1]), np.inf) if ratio >= ends[1] else (-np.inf, float(ends[0]))
