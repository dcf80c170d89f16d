"""Accelerated time to an event: log time = design @ coefficients + scale x error, from inspection intervals.

Everybody has the event sooner or later here; for seed of which part never germinates see `plateau`. An event seen at an
inspection lies in (left, right]; right = infinity: not seen by the end.
"""

from dataclasses import dataclass

import numpy as np
from scipy import optimize, special

from palea.errors import UnfitValue

# Distribution function of the error, by what it makes of time.
ERRORS = {
    "weibull": lambda z: -np.expm1(-np.exp(np.minimum(z, 700.0))),
    "log-logistic": special.expit,
    "log-normal": special.ndtr,
}
SURVIVAL = {
    "weibull": lambda z: np.exp(-np.exp(np.minimum(z, 700.0))),
    "log-logistic": lambda z: special.expit(-z),
    "log-normal": lambda z: special.ndtr(-z),
}
LEAST = 1e-300  # a probability that a likelihood can still take the logarithm of
STEP = 1e-4


@dataclass(frozen=True)
class Accelerated:
    """A fitted model. coefficients : (p,) of log time.  covariance : (p + 1, p + 1), log scale last.  scale > 0."""

    coefficients: np.ndarray
    scale: float
    covariance: np.ndarray
    log_likelihood: float
    family: str

    @property
    def standard_errors(self):
        """Of the coefficients."""
        return np.sqrt(np.diag(self.covariance))[:-1]


def fit(left, right, count, design=None, family="log-logistic"):
    """Fit by maximum likelihood -> Accelerated.

    left, right : (n,) ends of intervals, 0 <= left < right, right may be infinity.  count : (n,) events in each.
    design : (n, p), full rank; a column of ones where None.  family : a key of ERRORS.
    Standard errors come from the observed information.
    Raises UnfitValue for an interval that is none, an unknown family, or when no event was ever seen.
    Source: Kalbfleisch & Prentice 2002, The Statistical Analysis of Failure Time Data, ch. 3 (from memory).
    """
    left, right, count = (np.asarray(x, float) for x in (left, right, count))
    _check(left, right, count, family)
    design = np.ones((left.size, 1)) if design is None else np.asarray(design, float)
    with np.errstate(divide="ignore"):
        ends = np.log(left), np.log(right)

    def loss(parameters):
        return -_log_likelihood(parameters, ends, count, design, family)

    found = optimize.minimize(loss, _first(ends, design), method="BFGS", options={"gtol": 1e-8})
    polished = optimize.minimize(loss, found.x, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-12})
    best = polished if polished.fun < found.fun else found
    covariance = np.linalg.inv(_hessian(loss, best.x))
    return Accelerated(best.x[:-1], float(np.exp(best.x[-1])), covariance, -float(best.fun), family)


def _check(left, right, count, family):
    if family not in ERRORS:
        msg = f"There is no family “{family}”. There are: {', '.join(ERRORS)}."
        raise UnfitValue(msg)
    bad = np.flatnonzero(~((left >= 0) & (right > left)))
    if bad.size:
        msg = f"left and right at position {bad[0]} are no interval: ({left[bad[0]]:g}, {right[bad[0]]:g}]. Left lies below right."
        raise UnfitValue(msg)
    if not count[np.isfinite(right)].sum() > 0:
        msg = "No event was seen, so there is no time to fit. Look longer."
        raise UnfitValue(msg)


def _log_likelihood(parameters, ends, count, design, family):
    place, scale = design @ parameters[:-1], np.exp(parameters[-1])
    before, after = ((end - place) / scale for end in ends)
    # Far out, a difference of survivals keeps the digits that a difference of distribution functions loses.
    late = before > 0
    early = ERRORS[family](after) - ERRORS[family](before)
    inside = np.where(late, SURVIVAL[family](before) - SURVIVAL[family](after), early)
    return float(count @ np.log(np.maximum(inside, LEAST)))


def _first(ends, design):
    """Start from a regression of the logarithm of the intervals' middles."""
    lower, upper = ends
    middle = np.where(np.isfinite(upper), upper, lower)
    middle = np.where(np.isfinite(lower), (lower + middle) / 2, middle - 0.7)
    coefficients = np.linalg.lstsq(design, middle, rcond=None)[0]
    spread = np.std(middle - design @ coefficients)
    return np.append(coefficients, np.log(max(spread, 0.1)))


def _hessian(function, at):
    """Second derivatives by central differences."""
    size = at.size
    steps = STEP * np.maximum(1.0, np.abs(at)) * np.eye(size)
    second = np.empty((size, size))
    for i in range(size):
        for j in range(i, size):
            a, b = steps[i], steps[j]
            second[i, j] = second[j, i] = (
                function(at + a + b) - function(at + a - b) - function(at - a + b) + function(at - a - b)
            ) / (4 * a[i] * b[j])
    return second
