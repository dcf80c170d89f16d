"""Linear mixed model of plants within plots within blocks, by restricted maximum likelihood (REML).

Treatments belong to plots, so a plot's mean and its number of plants say all that there is to say about treatments, and
the spread inside plots says all about plants: the likelihood is the product of the two, exactly.
"""

from dataclasses import dataclass

import numpy as np
from scipy import optimize

from palea.errors import UnfitValue

TINY = 1e-12


@dataclass(frozen=True)
class NestedLinear:
    """A fitted model.

    coefficients : (p,).  covariance : (p, p).  block, plot, plant : variances; plant is nan where each plot has one
    value (it is then inside `plot`).  log_likelihood : restricted, constants included.
    df : plots less columns of the design, less blocks beside them: the degrees of freedom of the plot stratum.
    """

    coefficients: np.ndarray
    covariance: np.ndarray
    block: float
    plot: float
    plant: float
    log_likelihood: float
    df: int
    plots: int

    @property
    def standard_errors(self):
        """Of the coefficients."""
        return np.sqrt(np.diag(self.covariance))


def fit(design, value, plot, block=None, plants=None):
    """Fit value = design @ coefficients + block + plot + plant -> NestedLinear.

    design : (n, p), full rank, the same for all rows of a plot.  value : (n,).  plot, block : (n,) labels; block may be
    left out.  plants : (n,) how many plants a value is the mean of (a pooled weighing); 1 each where None.
    With equal numbers of plants in complete blocks, effects and their F are those of an analysis of variance of plot
    means, unless a variance would be below 0: it is then 0.
    Raises UnfitValue for rows of a plot that differ in design or block, columns that repeat each other, and where no
    degrees of freedom are left between plots or nothing varies.
    Source: Patterson & Thompson 1971, Biometrika 58:545 (REML); Searle, Casella & McCulloch 1992, Variance Components.
    """
    data = _Plots(np.asarray(design, float), np.asarray(value, float), plot, block, plants)
    scale = max(data.spread, TINY)
    starts = [np.sqrt(scale * np.array(parts)) for parts in data.starts()]
    found = _settle(data, starts, scale)
    block_variance, plot_variance, plant_variance = data.variances(found.x)
    _, coefficients, information = data.between(block_variance, plot_variance, plant_variance)
    return NestedLinear(
        coefficients, np.linalg.inv(information), float(block_variance), float(plot_variance),
        float(plant_variance) if data.many else np.nan, -float(found.fun), data.df, data.mean.size,
    )  # fmt: skip


def _settle(data, starts, scale):
    """Standard deviations may turn negative on the way: the likelihood is even in them, so 0 is no wall."""
    tried = [optimize.minimize(data.loss, start, method="BFGS", options={"gtol": 1e-5}) for start in starts]
    found = min(tried, key=lambda each: each.fun)
    options = {"xatol": 1e-9 * np.sqrt(scale), "fatol": 1e-12, "maxiter": 2000}
    polished = optimize.minimize(data.loss, found.x, method="Nelder-Mead", options=options)
    return polished if polished.fun < found.fun else found


class _Plots:
    """Plot means, numbers, and the squares inside plots."""

    def __init__(self, design, value, plot, block, plants):
        names, first, at = np.unique(np.asarray(plot, str), return_index=True, return_inverse=True)
        weight = np.ones(value.size) if plants is None else np.asarray(plants, float)
        self.design = design[first]
        blocks = np.zeros(value.size, int) if block is None else np.unique(np.asarray(block, str), return_inverse=True)[1]
        if not (np.isclose(design, self.design[at]).all() and (blocks == blocks[first][at]).all()):
            msg = "Rows of one plot differ in treatment or block. A treatment is given to whole plots; correct the rows."
            raise UnfitValue(msg)
        self.plants = np.bincount(at, weight)
        self.mean = np.bincount(at, weight * value) / self.plants
        self.inside, self.inside_df = float(np.sum(weight * (value - self.mean[at]) ** 2)), value.size - names.size
        self.constant = float(np.log(weight).sum() - np.log(self.plants).sum()) / 2
        self.member = np.eye(blocks.max() + 1)[blocks[first]]
        self.together = self.member @ self.member.T
        self.sides = np.column_stack([self.design, self.mean])
        self.blocked = 1 < self.member.shape[1] < names.size
        self.many = self.inside_df > 0 and self.inside > 0
        both = np.hstack([self.design, self.member]) if self.blocked else self.design
        self.df = int(names.size - np.linalg.matrix_rank(both))
        if np.linalg.matrix_rank(self.design) < self.design.shape[1]:
            msg = "Columns of the design repeat each other. Leave out the column that follows from the others."
            raise UnfitValue(msg)
        residual = self.mean - self.design @ np.linalg.lstsq(self.design, self.mean, rcond=None)[0]
        self.spread = float(residual @ residual) / max(names.size - design.shape[1], 1)
        if self.df < 1 or self.spread < TINY:
            msg = "Plots of a treatment do not vary, or there is one plot of each. Two plots that differ are needed."
            raise UnfitValue(msg)

    def starts(self):
        """Shares of the spread to begin from: block (where there are), plot, plant (where there are several)."""
        for block, plot in ((0.3, 0.5), (0.6, 0.1)):
            yield [*([block] if self.blocked else []), plot, *([1.0] if self.many else [])]

    def variances(self, parameters):
        """(block, plot, plant) variances from standard deviations."""
        squares = list(parameters**2)
        block = squares.pop(0) if self.blocked else 0.0
        return block, squares[0], squares[1] if self.many else 0.0

    def between(self, block, plot, plant):
        """-2 restricted log-likelihood of the plot means, coefficients and their information."""
        variance = block * self.together + np.diag(plot + plant / self.plants)
        factor = np.linalg.cholesky(variance)
        rows = np.linalg.solve(factor, self.sides)
        columns, mean = rows[:, :-1], rows[:, -1]
        information = columns.T @ columns
        coefficients = np.linalg.solve(information, columns.T @ mean)
        left = mean - columns @ coefficients
        size = self.mean.size - self.design.shape[1]
        loss = left @ left + 2 * np.log(np.diag(factor)).sum() + np.linalg.slogdet(information)[1]
        return loss + size * np.log(2 * np.pi), coefficients, information

    def loss(self, parameters):
        """Minus the restricted log-likelihood."""
        block, plot, plant = self.variances(parameters)
        try:
            between = self.between(block, plot, plant)[0]
        except np.linalg.LinAlgError:  # all variances at 0 together
            return 1e300
        if not self.many:
            return between / 2
        if plant <= 0:
            return 1e300
        inside = self.inside / plant + self.inside_df * np.log(2 * np.pi * plant)
        return (between + inside) / 2 - self.constant
