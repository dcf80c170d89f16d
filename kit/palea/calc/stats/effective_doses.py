"""Doses read off a fitted curve: where a share of the effect is reached, where the response peaks; with intervals."""

from dataclasses import dataclass

import numpy as np
from scipy import optimize, special

from palea.calc.stats.dose_response import HORMESIS, NAMES, mean
from palea.calc.stats.proportions import t_quantile
from palea.errors import UnfitValue

_REACH = 60.0  # logs of e beyond which no dose is looked for


@dataclass(frozen=True)
class Dose:
    """A dose or response with its interval: value, standard error (delta method), lower and upper, unit of the dose."""

    value: float
    standard_error: float
    lower: float
    upper: float


def effective_dose(fitted, share, confidence=0.95, *, logged=False):
    """Dose at which `share` of the effect is reached -> Dose.

    fitted : DoseFit.  share : 0 to 1 of the way from the response without the active to that at a very high dose; with
    hormesis past the peak, where the response has fallen by that share of the response without the active.
    logged : interval symmetric on the log scale, whose lower end stays above 0; else symmetric as published tables are.
    Delta method with t on the residual degrees of freedom. nan where the curve never falls so far.
    Raises UnfitValue for a share outside (0, 1).
    Source: Seefeldt, Jensen & Fuerst 1995, Weed Technol. 9:218-227; delta method: van Ewijk & Hoekstra 1993, Ecotoxicol.
    Environ. Saf. 25:25-32 (hormesis).
    """
    if not 0 < share < 1:
        msg = f"share is {share:g}; allowed is above 0 and below 1, as in 0.5."
        raise UnfitValue(msg)
    return _with_interval(fitted, lambda values: _dose_of(fitted.model, values, share), confidence, logged=logged)


def peak_dose(fitted, confidence=0.95, *, logged=False):
    """Dose of the highest response of a curve with hormesis -> Dose; nan where it only falls."""
    return _with_interval(fitted, _peak_of, confidence, logged=logged)


def peak_response(fitted, confidence=0.95):
    """Highest response of a curve with hormesis -> Dose, in the unit of the response."""

    def highest(values):
        dose = _peak_of(values)
        return mean(HORMESIS, values, np.array(dose)) if np.isfinite(dose) else np.nan

    return _with_interval(fitted, highest, confidence, logged=False)


def limit_dose(fitted, confidence=0.95, *, logged=False):
    """Dose past the peak at which the response is back at that without the active -> Dose; nan without hormesis."""
    return _with_interval(fitted, lambda values: _past_peak(values, 1.0), confidence, logged=logged)


def _dose_of(model, values, share):
    if model == HORMESIS:
        return _past_peak(values, 1 - share)
    named = dict(zip(NAMES[model], values, strict=True))
    return named["e"] * (share / (1 - share)) ** (1 / named["b"])


def _peak_of(values):
    """Where the slope is 0: f (1 + (x / e)^b) = (d + f x) (b / x) (x / e)^b."""
    b, d, e, f = values
    if not f > 0:
        return np.nan

    def slope(log_x):
        x = np.exp(log_x)
        z = b * (log_x - np.log(e))
        return f * special.expit(-z) - (d + f * x) * b / x * special.expit(z) * special.expit(-z)

    grid = np.log(e) + np.linspace(-25, 8, 400)
    rising = slope(grid) > 0
    turns = np.flatnonzero(rising[:-1] & ~rising[1:])
    return float(np.exp(optimize.brentq(slope, grid[turns[-1]], grid[turns[-1] + 1], xtol=1e-13))) if turns.size else np.nan


def _past_peak(values, level):
    """Dose past the peak at which the response is `level` x d; nan where it never is, or there is no peak to pass."""
    b, d, e, f = values
    start = _peak_of(values)
    if np.isnan(start):
        if level >= 1:
            return np.nan
        start = 1e-12 * e

    def above(log_x):
        return float(mean(HORMESIS, np.array([b, d, e, f]), np.exp(log_x))) - level * d

    low, high = np.log(start), np.log(start) + 1.0
    while above(high) > 0:
        high += 2.0
        if high > np.log(e) + _REACH:
            return np.nan
    return float(np.exp(optimize.brentq(above, low, high, xtol=1e-13))) if above(low) >= 0 else np.nan


def _with_interval(fitted, function, confidence, *, logged):
    values = np.array(list(fitted.parameters.values()))
    value = float(function(values))
    if not np.isfinite(value) or fitted.df < 1:
        return Dose(value, np.nan, np.nan, np.nan)
    steps = 1e-5 * np.maximum(np.abs(values), 1e-3)
    gradient = np.array([(function(values + step) - function(values - step)) / (2 * step.sum()) for step in np.diag(steps)])
    error = float(np.sqrt(gradient @ fitted.covariance @ gradient))
    half = t_quantile(confidence, fitted.df) * error
    if logged:
        with np.errstate(over="ignore"):
            lower, upper = value * np.exp(-half / value), value * np.exp(half / value)
        return Dose(value, error, lower, upper if np.isfinite(upper) else np.nan)  # nan: no end
    return Dose(value, error, value - half, value + half)
