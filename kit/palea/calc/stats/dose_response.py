"""Response to a dose: log-logistic curves of three or four parameters, and one with a rise at low doses (hormesis).

y = c + (d - c) / (1 + (x / e)^b), b > 0: d without the active, c at a very high dose, e the dose half way between.
With hormesis y = (d + f x) / (1 + (x / e)^b). Responses are measured values (least squares) or seeds of seeds (maximum
likelihood: least squares of deviance residuals, so one solver serves both).
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import optimize, special

from palea.calc.stats.proportions import checked_counts
from palea.errors import UnfitValue

FOUR, THREE, HORMESIS = "log-logistic with four parameters", "log-logistic with three parameters", "hormesis"
NAMES = {FOUR: ("b", "c", "d", "e"), THREE: ("b", "d", "e"), HORMESIS: ("b", "d", "e", "f")}
STEEPNESS = (0.3, 0.7, 1.0, 1.5, 2.5, 4.0, 7.0)  # first guesses of b
AT_END = 1e-5  # a share this near 0 or 1 has run to it
_EDGE = 1e-9
STARTS = 3


@dataclass(frozen=True)
class DoseFit:
    """A fitted curve.

    model : FOUR, THREE or HORMESIS.  parameters : {name: number}.  covariance : (p, p) in the order of NAMES[model], from
    the observed curvature, residual variance or dispersion included.  expected_covariance : the same from first
    derivatives alone (Gauss and Newton), as nonlinear least squares programs print it.
    loss : residual sum of squares, or deviance of counts.  df : residual degrees of freedom.
    variance : loss / df of measured values; of counts Pearson's X2 / df, not below 1.
    """

    model: str
    parameters: dict
    covariance: np.ndarray = field(repr=False)
    expected_covariance: np.ndarray = field(repr=False)
    loss: float
    df: int
    variance: float

    @property
    def standard_errors(self):
        """{name: number}."""
        return dict(zip(self.parameters, np.sqrt(np.diag(self.covariance)), strict=True))

    def at(self, dose):
        """Fitted response at doses, any shape."""
        return mean(self.model, np.array(list(self.parameters.values())), np.asarray(dose, float))

    @property
    def ends(self):
        """Response without the active and at a very high dose: (d, c)."""
        return self.parameters["d"], self.parameters.get("c", 0.0)


def mean(model, values, dose):
    """Fitted response: values in the order of NAMES[model], dose >= 0."""
    named = dict(zip(NAMES[model], values, strict=True))
    with np.errstate(over="ignore", divide="ignore"):
        fall = special.expit(-named["b"] * (np.log(dose) - np.log(named["e"])))
    low = named.get("c", 0.0)
    return low + (named["d"] + named.get("f", 0.0) * dose - low) * fall


def fit(dose, response, n=None, model=FOUR):
    """Fit one curve -> DoseFit.

    dose : (units,) 0 or above.  response : (units,) measured values, or seeds that did where `n` (units,) is given.
    model : FOUR (c free), THREE (c = 0) or HORMESIS (c = 0). Ends of counts stay within 0 to 1.
    Best of several starts: for each guess of steepness and half dose the ends are a linear least squares away.
    Raises UnfitValue for negative doses, or fewer different doses than parameters.
    Source: Seefeldt, Jensen & Fuerst 1995, Weed Technol. 9:218-227 (log-logistic); Brain & Cousens 1989, Weed Res.
    29:93-96 (hormesis); counts: McCullagh & Nelder 1989.
    """
    dose, response = np.asarray(dose, float), np.asarray(response, float)
    if n is not None:
        response, n = checked_counts(response, n)
    if not (dose >= 0).all() or np.unique(dose).size < len(NAMES[model]):
        msg = (f"There are {np.unique(dose).size} different doses from {dose.min():g}; allowed are 0 or above, and "
               f"{len(NAMES[model])} or more for this curve. Add doses.")
        raise UnfitValue(msg)
    problem = _Problem(model, dose, response, n)
    found = [problem.solve(start) for start in problem.starts()]
    return problem.summary(min(found, key=lambda each: each.cost).x)


@dataclass(frozen=True)
class _Problem:
    """Parameters as solved for: log b, log e, the others as they are."""

    model: str
    dose: np.ndarray
    response: np.ndarray
    n: np.ndarray | None

    @property
    def logged(self):
        """(p,) which parameters are solved for as logs."""
        return np.isin(NAMES[self.model], ("b", "e"))

    def residuals(self, theta):
        """(units,) whose sum of squares is the loss."""
        return self._residuals(np.where(self.logged, np.exp(np.clip(theta, -50, 50)), theta))

    def _residuals(self, values):
        expected = mean(self.model, values, self.dose)
        if self.n is None:
            return self.response - expected
        expected = np.clip(expected, _EDGE, 1 - _EDGE)
        k, n = self.response, self.n
        deviance = special.xlogy(k, k / n / expected) + special.xlogy(n - k, (1 - k / n) / (1 - expected))
        return np.sign(k / n - expected) * np.sqrt(2 * np.maximum(deviance, 0))

    @property
    def share(self):
        """What is fitted, per unit."""
        return self.response if self.n is None else self.response / self.n

    def starts(self):
        """The best few of a grid of steepness and half dose."""
        used = np.unique(self.dose[self.dose > 0])
        grid = np.geomspace(used[0] / 2, used[-1] * 2, 3 * used.size + 4)
        tried = [self._start(b, e) for b in STEEPNESS for e in grid]
        tried.sort(key=lambda theta: np.sum(self.residuals(theta) ** 2))
        return tried[:STARTS]

    def _start(self, b, e):
        names = NAMES[self.model]
        fall = special.expit(-b * (np.log(np.maximum(self.dose, 1e-300)) - np.log(e)))
        columns = {"c": 1 - fall, "d": fall, "f": self.dose * fall}
        free = [name for name in names if name in columns]
        design = np.column_stack([columns[name] for name in free])
        weight = np.ones(self.dose.size) if self.n is None else np.sqrt(self.n)
        found = np.linalg.lstsq(design * weight[:, None], self.share * weight, rcond=None)[0]
        low, high = self._bounds()
        values = {"b": np.log(b), "e": np.log(e)} | dict(zip(free, found, strict=True))
        return np.clip([values[name] for name in names], low + 1e-6, high - 1e-6)

    def _bounds(self):
        """Ends of shares lie in 0 to 1; steepness and half dose stay where the data could show them."""
        used = self.dose[self.dose > 0]
        reach = {"b": (np.log(0.05), np.log(60)), "e": (np.log(used.min()) - 7, np.log(used.max()) + 7)}
        free = (-np.inf, np.inf) if self.n is None else (0.0, 1.0)
        pairs = [reach.get(name, (-np.inf, np.inf) if name == "f" else free) for name in NAMES[self.model]]
        return np.array(pairs).T

    def solve(self, start):
        return optimize.least_squares(
            self.residuals, start, bounds=self._bounds(), jac="3-point", xtol=1e-12, ftol=1e-12, gtol=1e-12,
            max_nfev=400, x_scale="jac",
        )  # fmt: skip

    def summary(self, theta):
        values = np.where(self.logged, np.exp(theta), theta)
        loss = float(np.sum(self._residuals(values) ** 2))
        df = self.dose.size - values.size
        first, observed = self._curvature(values)
        variance = self._variance(values, loss, df)
        free = ~self._at_end(values)
        named = dict(zip(NAMES[self.model], values.tolist(), strict=True))
        return DoseFit(self.model, named, variance * _inverse(observed, free), variance * _inverse(first, free),
                       loss, df, variance)

    def _at_end(self, values):
        """(p,) shares that ended at 0 or 1: they are taken as known, for no curvature tells their error."""
        ends = np.isin(NAMES[self.model], ("c", "d")) if self.n is not None else np.zeros(values.size, bool)
        return ends & ((values < AT_END) | (values > 1 - AT_END))

    def _variance(self, values, loss, df):
        if df < 1:
            return np.nan
        if self.n is None:
            return loss / df
        expected = np.clip(mean(self.model, values, self.dose), _EDGE, 1 - _EDGE)
        pearson = np.sum((self.response - self.n * expected) ** 2 / (self.n * expected * (1 - expected)))
        return max(float(pearson) / df, 1.0)

    def _curvature(self, values):
        """Half the second derivative of the loss: from first derivatives of the curve, and as observed."""
        steps = 1e-4 * np.maximum(np.abs(values), 1e-3)
        jacobian = np.column_stack([_central(lambda v: mean(self.model, v, self.dose), values, i, steps)
                                    for i in range(values.size)])
        expected = np.clip(mean(self.model, values, self.dose), _EDGE, 1 - _EDGE)
        weight = np.ones(self.dose.size) if self.n is None else self.n / (expected * (1 - expected))
        first = jacobian.T @ (weight[:, None] * jacobian)
        bend = np.array([_central(lambda v, i=i: self._slope(v, i, steps), values, j, steps)
                         for i in range(values.size) for j in range(values.size)]).reshape(first.shape)
        return first, (bend + bend.T) / 2

    def _slope(self, values, i, steps):
        return _central(lambda v: np.sum(self._residuals(v) ** 2) / 2, values, i, steps)


def _central(function, values, at, steps):
    step = np.zeros_like(values)
    step[at] = steps[at]
    return (function(values + step) - function(values - step)) / (2 * steps[at])


def _inverse(matrix, free):
    """Inverse over the free parameters, 0 for the others; nan where it is not positive."""
    at = np.ix_(free, free)
    found = np.zeros(matrix.shape)
    try:
        found[at] = np.linalg.inv(matrix[at])
    except np.linalg.LinAlgError:
        return np.full(matrix.shape, np.nan)
    return found if (np.diag(found)[free] > 0).all() else np.full(matrix.shape, np.nan)
