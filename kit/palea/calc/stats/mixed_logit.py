"""Logit model of shares with random batches, and, where asked for, random dishes inside them.

logit p = design @ coefficients + sd_group u + sd_unit v, u one standard normal deviate a group (batch, plot), v one a
unit (dish). The deviates are integrated out by adaptive Gauss-Hermite quadrature round their joint mode, all groups at
once; one point is Laplace's approximation. The slope of that approximation is exact: the places of the nodes move with
the parameters, and their moves are in it. Its second derivatives are central differences of the slope. The standard
deviations may turn negative on the way (the likelihood is even in them), so zero is no wall and needs no special case.
"""

from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np
from scipy import special

from palea.calc.stats import quasi_binomial
from palea.calc.stats.proportions import checked_counts
from palea.errors import UnfitValue

MODE_STEPS = 50
SETTLED_MODE = 1e-7  # Newton doubles the digits: the step after one so small is rounding
FARTHEST = 2.0  # move of a logit in one step: a larger one can leap across the mode and back for ever
CLIMB_STEPS = 50
SETTLED = 1e-7  # the same, of the parameters
TINY_SD = 1e-3
LEVEL = 1e-9  # of the likelihood: less is rounding
STEP = 1e-4  # of differences of the slope: what they leave out is some 1e-9 of a second derivative
AT_ONCE = 200000
NO_TOP = "The likelihood has no clear top: these counts do not tell how much deviates. Do not rest on this fit."


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
    return _summary(*_climb(likelihood, _first(design, k, n, random_units)), design.shape[1], labels.size, points)


def _first(design, k, n, random_units):
    start = quasi_binomial.fit(design, k, n)
    if start.penalised:
        msg = "A group of the design is all 0 or all 100 %, so its coefficient has no end. Leave it out of the model."
        raise UnfitValue(msg)
    size = np.sqrt(max(start.dispersion - 1, 0.1) / np.mean(n * start.fitted * (1 - start.fitted)))
    return np.concatenate([start.coefficients, np.full(1 + random_units, size / np.sqrt(1 + random_units))])


@dataclass(frozen=True)
class _Place:
    """Where tried parameters stand: linear predictors (tries, units), standard deviations (tries, 1 or 2), the
    log-likelihood (tries,), what it rises by each of both, and the joint mode of the deviates there.
    """

    linear: np.ndarray
    sds: np.ndarray
    height: np.ndarray
    rise: np.ndarray
    by_sds: np.ndarray
    mode: tuple[np.ndarray, np.ndarray]


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

    def place(self, parameters, near=(0.0, 0.0)):
        """_Place of parameters (tries, p + 1 or p + 2): coefficients, then standard deviations.

        near : the mode at parameters that lie near.
        """
        columns = self.design.shape[1]
        return self._place(parameters[:, :columns] @ self.design.T, parameters[:, columns:], near)

    def slope(self, place):
        """First derivatives (tries, p + 1 or p + 2)."""
        return np.hstack([place.rise @ self.design, place.by_sds])

    def bend(self, place):
        """Second derivatives (q, q) at one place: central differences of the slope.

        Groups know nothing of each other, so where they are small one unit of each is moved at once, and not one
        coefficient after the other. Source: Curtis, Powell & Reid 1974, J. Inst. Math. Appl. 13:117.
        """
        nth = np.arange(self.at.size) - self.starts[self.at] == np.arange(np.bincount(self.at).max())[:, None]
        small = len(nth) < self.design.shape[1]
        moves = nth.astype(float) if small else self.design.T
        rise, by_sds = self._answers(place, moves)
        own, crossed = rise[: len(moves)], rise[len(moves) :] @ self.design
        if small:  # the unit that was moved in the group of each unit; where its group has none, there is no answer
            moved = np.minimum(self.starts[self.at] + np.arange(len(nth))[:, None], self.at.size - 1)
            own = np.einsum("mu,mup->pu", own, self.design[moved])
        bend = np.block([[own @ self.design, crossed.T], [crossed, by_sds[len(moves) :]]])
        return (bend + bend.T) / 2

    def _answers(self, place, moves):
        """What `rise` and `by_sds` of a place answer to moves (m, units) of the units, then to a move of each deviation."""
        rows, sds = len(moves), place.sds.size
        moves = np.vstack([moves, np.zeros((sds, self.at.size))])
        sd_moves = np.vstack([np.zeros((rows, sds)), np.eye(sds)])
        parts = np.array_split(np.arange(rows + sds), -(-moves.size * self.points**sds // AT_ONCE))
        rise, by_sds = zip(*(self._differences(place, moves[p], sd_moves[p]) for p in parts if p.size), strict=True)
        return np.concatenate(rise), np.concatenate(by_sds)

    def _differences(self, place, moves, sd_moves):
        ahead, behind = (
            self._place(place.linear + way * moves, place.sds + way * sd_moves, place.mode) for way in (STEP, -STEP)
        )
        return (ahead.rise - behind.rise) / (2 * STEP), (ahead.by_sds - behind.by_sds) / (2 * STEP)

    def _place(self, linear, sds, near):
        sd_group, sd_unit = sds[:, :1], (sds[:, 1:] if self.random_units else np.zeros_like(sds))
        u, v, shares = self._mode(linear, sd_group, sd_unit, near)
        profile = _profile(self.k, self.n, shares, sd_unit)
        inside = partial(self._unit, sd=sd_unit, v=v) if self.random_units else self._binomial
        whole = _integral(inside, linear, sd_group, u, profile, self._groups, self._rule)
        # The nodes move with v, and with the width that the units leave the group.
        by_unit = whole.by_inner + 2 * v * whole.moved + 2 * sd_unit * profile[1] ** 2 * self._groups.spread(whole.half)
        by_sds = np.stack([whole.by_sd.sum(axis=1), by_unit.sum(axis=1)], axis=1)[:, : sds.shape[1]]
        return _Place(linear, sds, whole.height.sum(axis=1) + self._ways, whole.rise, by_sds, (u, v))

    @cached_property
    def _groups(self):
        return _Groups(self.starts, self.at)

    @cached_property
    def _rule(self):
        return special.roots_hermite(self.points)

    @cached_property
    def _ways(self):
        return np.sum(special.gammaln(self.n + 1) - special.gammaln(self.k + 1) - special.gammaln(self.n - self.k + 1))

    def _mode(self, linear, sd_group, sd_unit, near):
        """Joint mode of the deviates, by Newton on an arrow-shaped system, and the shares there."""
        u = np.zeros((len(linear), self.starts.size)) + near[0]
        v = np.zeros_like(linear) + near[1]
        for _ in range(MODE_STEPS):
            shares = special.expit(linear + self._groups.spread(sd_group * u) + sd_unit * v)
            residual, weight = self.k - self.n * shares, self.n * shares * (1 - shares)
            own = 1 + sd_unit**2 * weight
            slope_v = sd_unit * residual - v
            slope_u = sd_group * self._groups.sum(residual - sd_unit * weight * slope_v / own) - u
            step_u = slope_u / (1 + sd_group**2 * self._groups.sum(weight / own))
            step_v = (slope_v - sd_unit * weight * self._groups.spread(sd_group * step_u)) / own
            size = self._groups.most(np.abs(self._groups.spread(sd_group * step_u) + sd_unit * step_v))
            part = FARTHEST / np.maximum(size, FARTHEST)
            u, v = u + part * step_u, v + self._groups.spread(part) * step_v
            if max(np.abs(step_u).max(), np.abs(step_v).max()) < SETTLED_MODE:
                break
        return u, v, special.expit(linear + self._groups.spread(sd_group * u) + sd_unit * v)

    def _unit(self, linear, sd, v):
        """_Integral of each unit given its group's deviate, over its own deviate, whose mode lies near v."""
        for _ in range(MODE_STEPS):
            shares = special.expit(linear + sd * v)
            step = (sd * (self.k - self.n * shares) - v) / (1 + sd**2 * self.n * shares * (1 - shares))
            v = v + step * FARTHEST / np.maximum(np.abs(sd * step), FARTHEST)
            if np.abs(step).max() < SETTLED_MODE:
                break
        profile = _profile(self.k, self.n, special.expit(linear + sd * v), 0.0)
        alone = np.arange(self.k.size)
        return _integral(self._binomial, linear, sd, v, profile, _Groups(alone, alone), self._rule)

    def _binomial(self, linear):
        above = np.maximum(linear, 0) + np.log1p(np.exp(-np.abs(linear)))  # log(1 + exp(linear))
        return _Integral(self.k * linear - self.n * above, self.k - self.n * np.exp(linear - above))


@dataclass(frozen=True)
class _Groups:
    """Sum and most of the units of each group, and a group's number at each of its units, along the last axis."""

    starts: np.ndarray
    at: np.ndarray

    def sum(self, values):
        return values if self.starts.size == self.at.size else np.add.reduceat(values, self.starts, axis=-1)

    def most(self, values):
        return values if self.starts.size == self.at.size else np.maximum.reduceat(values, self.starts, axis=-1)

    def spread(self, values):
        return values if self.starts.size == self.at.size else values[..., self.at]


@dataclass(frozen=True)
class _Integral:
    """Log-integrals, and what they rise by, through everything that the parameters move.

    height : (..., groups).  rise : (..., units) by each unit's linear predictor; the part that comes of moving nodes is
    `moved`.  by_sd : (..., groups) by the standard deviation that was integrated over; by_inner : (..., units) by that
    of the units inside, nodes held.  half : (..., groups), what half a unit of curvature does through the width.
    """

    height: np.ndarray
    rise: np.ndarray
    by_sd: np.ndarray | float = 0.0
    by_inner: np.ndarray | float = 0.0
    moved: np.ndarray | float = 0.0
    half: np.ndarray | float = 0.0


def _profile(k, n, shares, sd):
    """First, second and third derivative, by its linear predictor, of a unit's height at the mode of its own deviate."""
    weight = n * shares * (1 - shares)
    own = 1 + sd**2 * weight
    return k - n * shares, -weight / own, -weight * (1 - 2 * shares) / own**3


def _integral(inside, linear, sd, mode, profile, groups, rule):
    """Integrate exp(sum of inside(linear + sd z)) over the standard normal deviate z of each group -> _Integral.

    inside : linear predictors (points, ..., units) -> _Integral.  mode : (..., groups), and profile : the derivatives of
    each unit there, which together place and space the nodes.  rule : nodes and weights of Gauss-Hermite quadrature.
    """
    slope, bend, twist = profile
    nodes, weights = (part.reshape(-1, *(1,) * linear.ndim) for part in rule)
    width2 = 1 / (1 - sd**2 * groups.sum(bend))
    reach = np.sqrt(2 * width2) * nodes
    z = mode + reach
    under = inside(linear + groups.spread(sd * z))
    exponent = np.log(weights) + nodes**2 + groups.sum(under.height) - z**2 / 2
    top = exponent.max(axis=0)
    share = np.exp(exponent - top)
    total = share.sum(axis=0)
    share = share / total
    rise = groups.sum(under.rise)
    pull = share * (sd * rise - z)
    by_width = 1 + np.sum(pull * reach, axis=0)
    half = width2 * sd**2 * by_width / 2
    by_mode = width2 * (pull.sum(axis=0) + half * sd * groups.sum(twist))
    moved = groups.spread(half) * twist + groups.spread(by_mode * sd) * bend
    by_sd = (
        np.sum(share * z * rise, axis=0) + width2 * sd * by_width * groups.sum(bend)
        + half * mode * groups.sum(twist) + by_mode * groups.sum(slope + groups.spread(sd * mode) * bend)
    )  # fmt: skip
    spread = groups.spread(share)
    return _Integral(
        top + np.log(total) + np.log(width2 / np.pi) / 2,
        np.sum(spread * under.rise, axis=0) + moved,
        by_sd, np.sum(spread * under.by_sd, axis=0), moved, half,
    )  # fmt: skip


def _climb(likelihood, parameters):
    """Newton's steps to the top -> (parameters, log-likelihood and second derivatives there, warnings).

    Where the likelihood bends the wrong way the step goes uphill all the same; one that falls is halved.
    """
    here = likelihood.place(parameters[None])
    for _ in range(CLIMB_STEPS):
        bend = likelihood.bend(here)
        sizes, ways = np.linalg.eigh(bend)
        step = ways @ (ways.T @ likelihood.slope(here)[0] / np.maximum(np.abs(sizes), 1e-8))
        step = step / max(1.0, np.abs(step).max())
        there = likelihood.place(parameters[None] + step, here.mode)
        while there.height < here.height - LEVEL:
            step = step / 2
            there = likelihood.place(parameters[None] + step, here.mode)
        parameters, here = parameters + step, there
        if np.abs(step).max() < SETTLED:
            return parameters, float(here.height[0]), bend, ()
    return parameters, float(here.height[0]), bend, (NO_TOP,)


def _summary(parameters, height, bend, warnings, columns, groups, points):
    sds = np.abs(parameters[columns:])
    free = np.concatenate([np.ones(columns, bool), sds > TINY_SD])  # at 0 a deviation bends nothing
    covariance = np.linalg.inv(-bend[np.ix_(free, free)])[:columns, :columns]
    alike = (name for name, sd in zip(("Groups", "Units of a group"), sds, strict=False) if sd <= TINY_SD)
    warnings = (*(f"{name} differ by no more than chance." for name in alike), *warnings)
    sd_group, sd_unit = (float(sd) for sd in np.append(np.where(sds > TINY_SD, sds, 0.0), 0.0)[:2])
    return MixedLogit(parameters[:columns], covariance, sd_group, sd_unit, height, groups, points, warnings)
