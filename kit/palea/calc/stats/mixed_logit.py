"""Logit model of shares with random batches, and, where asked for, random dishes inside them.

logit p = design @ coefficients + sd_group u + sd_unit v, u one standard normal deviate a group (batch, plot), v one a
unit (dish). The deviates are integrated out by adaptive Gauss-Hermite quadrature round their joint mode, all groups and
all trial values of the parameters at once; one point is Laplace's approximation. The standard deviations may turn
negative on the way (the likelihood is even in them), so zero is no wall and needs no special case.
"""

from dataclasses import dataclass

import numpy as np
from scipy import optimize, special

from palea.calc.stats import quasi_binomial
from palea.calc.stats.proportions import checked_counts
from palea.errors import UnfitValue

MODE_STEPS = 50
TINY_SD = 1e-3
STEP = 1e-4  # of numerical derivatives: the likelihood is smooth, so central differences keep 7 digits


@dataclass(frozen=True)
class MixedLogit:
    """A fitted mixed logit model.

    coefficients : (p,) on the logit scale, of a typical group (u = v = 0), not marginal.  covariance : (p, p), from the
    observed information with the standard deviations estimated too.  sd_group, sd_unit : on the logit scale; sd_unit is
    0 where no random unit was asked for.  points : of the quadrature.
    """

    coefficients: np.ndarray
    covariance: np.ndarray
    sd_group: float
    sd_unit: float
    log_likelihood: float
    groups: int
    points: int
    warnings: tuple[str, ...] = ()

    @property
    def standard_errors(self):
        """Of the coefficients."""
        return np.sqrt(np.diag(self.covariance))


def fit(design, k, n, group, *, points=9, random_units=False):
    """Fit by maximum likelihood -> MixedLogit.

    design : (units, p), full rank.  k, n : (units,) seeds that did, of seeds.  group : (units,) label of the batch.
    points : quadrature points a dimension; 1 is Laplace.  random_units : every unit (dish) deviates on its own inside
    its group; needs groups with more than one unit, or the two deviations cannot be told apart (UnfitValue).
    A standard deviation of 0 is said in a warning. Tests on few groups should use t on group degrees of freedom, which
    this likelihood does not know: batch means (share_means.of_batches) do.
    Raises UnfitValue where a group of the design is all 0 or all 100 %.
    Source: Pinheiro & Bates 1995, J. Comput. Graph. Stat. 4:12; Breslow & Clayton 1993, J. Am. Stat. Assoc. 88:9.
    """
    design = np.asarray(design, float)
    k, n = checked_counts(k, n)
    labels, at = np.unique(np.asarray(group), return_inverse=True)
    if random_units and labels.size == k.size:
        msg = "Every group holds one unit, so groups and units cannot be told apart. Leave random_units out."
        raise UnfitValue(msg)
    order = np.argsort(at, kind="stable")
    starts = np.searchsorted(at[order], np.arange(labels.size))
    likelihood = _Likelihood(design[order], k[order], n[order], starts, at[order], points, random_units)
    parameters = _climb(likelihood, _first(design, k, n, random_units))
    return _summary(likelihood, parameters, labels.size, points, random_units)


def _first(design, k, n, random_units):
    start = quasi_binomial.fit(design, k, n)
    if start.penalised:
        msg = "A group of the design is all 0 or all 100 %, so its coefficient has no end. Leave it out of the model."
        raise UnfitValue(msg)
    size = np.sqrt(max(start.dispersion - 1, 0.1) / np.mean(n * start.fitted * (1 - start.fitted)))
    return np.concatenate([start.coefficients, np.full(1 + random_units, size / np.sqrt(1 + random_units))])


@dataclass(frozen=True)
class _Likelihood:
    """Log-likelihood of many parameter vectors at once; units are sorted by group."""

    design: np.ndarray
    k: np.ndarray
    n: np.ndarray
    starts: np.ndarray
    at: np.ndarray
    points: int
    random_units: bool

    def __call__(self, parameters):
        """Log-likelihoods (tries,) of parameters (tries, p + 1 or p + 2): coefficients, then standard deviations."""
        columns = self.design.shape[1]
        fixed = parameters[:, :columns] @ self.design.T
        sd_group = parameters[:, columns, None]
        sd_unit = parameters[:, columns + 1, None] if self.random_units else np.zeros_like(sd_group)
        u, v, weight = self._mode(fixed, sd_group, sd_unit)
        inner = weight / (1 + sd_unit**2 * weight)
        width = 1 / np.sqrt(1 + sd_group**2 * self._sum(inner))
        nodes, weights = special.roots_hermite(self.points)
        total = np.full(u.shape, -np.inf)
        for node, share in zip(nodes, weights, strict=True):
            z = u + np.sqrt(2) * width * node
            linear = fixed + sd_group * z[:, self.at]
            units = self._sum(self._unit(linear, sd_unit, v))
            total = np.logaddexp(total, np.log(share) + node**2 + units - z**2 / 2)
        choices = special.gammaln(self.n + 1) - special.gammaln(self.k + 1) - special.gammaln(self.n - self.k + 1)
        return np.sum(total + np.log(width) - np.log(np.pi) / 2, axis=1) + choices.sum()

    def _sum(self, values):
        return np.add.reduceat(values, self.starts, axis=1)

    def _mode(self, fixed, sd_group, sd_unit):
        """Joint mode of the deviates, by Newton on an arrow-shaped system, and the binomial weight there."""
        u, v = np.zeros((fixed.shape[0], self.starts.size)), np.zeros_like(fixed)
        for _ in range(MODE_STEPS):
            shares = special.expit(fixed + sd_group * u[:, self.at] + sd_unit * v)
            residual, weight = self.k - self.n * shares, self.n * shares * (1 - shares)
            own = 1 + sd_unit**2 * weight
            slope_v = sd_unit * residual - v
            slope_u = sd_group * self._sum(residual - sd_unit * weight * slope_v / own) - u
            step_u = slope_u / (1 + sd_group**2 * self._sum(weight / own))
            step_v = (slope_v - sd_group * sd_unit * weight * step_u[:, self.at]) / own
            u, v = u + np.clip(step_u, -3, 3), v + np.clip(step_v, -3, 3)
            if max(np.abs(step_u).max(), np.abs(step_v).max()) < 1e-11:
                break
        return u, v, weight

    def _unit(self, linear, sd_unit, v):
        """Log-likelihood of each unit given its group's deviate, its own integrated out from near v."""
        if not self.random_units:
            return self._binomial(linear)
        for _ in range(MODE_STEPS):
            shares = special.expit(linear + sd_unit * v)
            own = 1 + sd_unit**2 * self.n * shares * (1 - shares)
            step = (sd_unit * (self.k - self.n * shares) - v) / own
            v = v + np.clip(step, -3, 3)
            if np.abs(step).max() < 1e-11:
                break
        nodes, weights = special.roots_hermite(self.points)
        total = np.full(v.shape, -np.inf)
        for node, share in zip(nodes, weights, strict=True):
            z = v + np.sqrt(2 / own) * node
            total = np.logaddexp(total, np.log(share) + node**2 + self._binomial(linear + sd_unit * z) - z**2 / 2)
        return total - np.log(own) / 2 - np.log(np.pi) / 2

    def _binomial(self, linear):
        return self.k * linear - self.n * np.logaddexp(0, linear)

    def slope(self, parameters):
        """Central differences: (p,)."""
        moves = STEP * np.eye(parameters.size)
        both = self(np.concatenate([parameters + moves, parameters - moves]))
        return (both[: parameters.size] - both[parameters.size :]) / (2 * STEP)

    def bend(self, parameters):
        """Second differences: (p, p)."""
        size, moves = parameters.size, 10 * STEP * np.eye(parameters.size)
        rows, columns = np.triu_indices(size)
        signs = ((1, 1), (1, -1), (-1, 1), (-1, -1))
        tries = [parameters + a * moves[rows] + b * moves[columns] for a, b in signs]
        plus, up, down, minus = np.split(self(np.concatenate(tries)), 4)
        bend = np.empty((size, size))
        bend[rows, columns] = bend[columns, rows] = (plus - up - down + minus) / (4 * (10 * STEP) ** 2)
        return bend


def _climb(likelihood, parameters):
    """Quasi-Newton, then Newton steps with the full second derivatives to settle the last digits."""
    found = optimize.minimize(
        lambda p: -likelihood(p[None])[0], parameters, jac=lambda p: -likelihood.slope(p), method="BFGS",
        options={"gtol": 1e-4},
    ).x  # fmt: skip
    for _ in range(3):
        bend = likelihood.bend(found)
        if np.linalg.eigvalsh(bend).max() >= 0:
            break
        found = found - np.linalg.solve(bend, likelihood.slope(found))
    return found


def _summary(likelihood, parameters, groups, points, random_units):
    columns = likelihood.design.shape[1]
    sds = np.abs(parameters[columns:])
    free = np.concatenate([np.ones(columns, bool), sds > TINY_SD])  # at 0 a deviation bends nothing
    covariance = np.linalg.inv(-likelihood.bend(parameters)[np.ix_(free, free)])[:columns, :columns]
    names = ("Groups", "Units of a group")[: 1 + random_units]
    alike = (name for name, sd in zip(names, sds, strict=True) if sd <= TINY_SD)
    warnings = tuple(f"{name} differ by no more than chance." for name in alike)
    sds = np.where(sds > TINY_SD, sds, 0.0)
    height = float(likelihood(parameters[None])[0])
    sd_unit = float(sds[1]) if random_units else 0.0
    return MixedLogit(parameters[:columns], covariance, float(sds[0]), sd_unit, height, groups, points, warnings)
