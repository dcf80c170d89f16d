"""The times of one arm: from its dishes together, from each of its batches, and from dishes drawn within batches."""

from functools import cached_property

import numpy as np
import pandas as pd

from palea.calc.germination.arms import KEYS, ONE_BATCH
from palea.calc.results import Estimate
from palea.calc.stats.plateau import fit
from palea.calc.stats.proportions import normal_quantile
from palea.calc.stats.resampling import percentile_interval
from palea.calc.stats.time_to_event import cells, masses, quantiles
from palea.calc.terms import Rung

T50 = "t50"
T10 = "t10"
T90 = "t90"
SPREAD = "spread t10 to t90"
FIXED = "time to a share of sown"
TIMES = (T50, T10, T90, SPREAD, FIXED)
NEVER, SHAPE = "never-germinating share", "shape of time to germination"
FEWEST_INTERVALS = 3
FEWEST_BATCHES = 2
ON_DISHES = "Judged on dishes: the answer holds for these batches, not yet for the recipe."


class Timed:
    """All times of one arm.

    reason : why it has none, "" where it has.  value : {quantity: of its dishes together}.
    batches : names of those that a curve could be fitted to, in a fixed order.  left_out : names of the others.
    of_batches : {quantity: (batches,) values}, the share that never germinates as a share, 0 to 1.
    sampling : {quantity: (batches,) squared standard errors of its log, from the fit}; for all but the shape that of
    t50, which is in proportion to theirs.
    """

    on_logs = True  # whether few draws get a t interval on logs

    def __init__(self, arm, replicates, seed, share_of_sown):
        self.arm, self.share_of_sown, self._chance = arm, share_of_sown, (replicates, seed)
        self.final = float(arm.germinated.sum() / arm.counts.sum())
        filled = _intervals_filled(arm)
        self.reason = "" if filled >= FEWEST_INTERVALS else (
            f"Germinants were seen in {filled} inspection interval{'' if filled == 1 else 's'}; "
            f"{FEWEST_INTERVALS} are needed to fit a time."
        )
        self.value, self.batches, self.left_out = {}, (), ()
        self.of_batches, self.sampling = {}, {}
        if not self.reason:
            self._fit()

    def _fit(self):
        names, counts, sown = self.arm.by_batch()
        every, fitted = self._all_of(np.vstack([counts.sum(axis=0), counts]), np.append(sown.sum(), sown))
        self.value = {name: float(v[0]) for name, v in every.items()}
        good = np.isfinite(fitted.half_time[1:]) & (fitted.se_log_half_time[1:] > 0) & fitted.settled[1:]
        self.batches, self.left_out = tuple(names[good].tolist()), tuple(names[~good].tolist())
        self.of_batches = {name: v[1:][good] for name, v in every.items()}
        self.of_batches[NEVER] = self.of_batches[NEVER] / 100
        of_time, of_shape = (se[1:][good] ** 2 for se in (fitted.se_log_half_time, fitted.se_log_shape))
        self.sampling = dict.fromkeys(TIMES, of_time) | {SHAPE: of_shape}

    @cached_property
    def seeds(self):
        """(batches,) seeds counted in each of `batches`."""
        return np.array([self.arm.counts[self.arm.batches == name].sum() for name in self.batches])

    @cached_property
    def drawn(self):
        """{quantity: (replicates,)} from dishes drawn within batches; drawn once it is asked for."""
        if self.reason:
            return {}
        weights = self.arm.draws("germination times", *self._chance)
        _, first, of = np.unique(weights, axis=0, return_index=True, return_inverse=True)  # four dishes have twenty draws
        found, _ = self._all_of((weights @ self.arm.counts)[first], (weights @ self.arm.sown)[first])
        return {name: values[of.ravel()] for name, values in found.items()}

    def _all_of(self, counts, sown):
        """{quantity: (r,) values} of r count vectors with r numbers sown, and their fits."""
        fitted = fit(self.arm.left, self.arm.right, counts)
        where = self.arm.where
        mass = masses(where, counts)
        final = np.where(np.isinf(where.upper), 0, mass).sum(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):
            shares = np.column_stack([0.1 * final, 0.9 * final, self.share_of_sown * sown / counts.sum(axis=1)])
        t10, t90, fixed = quantiles(where, mass, np.where(shares > 1, np.nan, shares)).T
        fixed = np.where(shares[:, 2] > 1, np.inf, np.where(np.isnan(shares[:, 2]), np.nan, fixed))
        with np.errstate(invalid="ignore"):  # nothing germinated: none is reached
            spread = t90 - t10
        values = (fitted.half_time, t10, t90, spread, fixed)
        return dict(zip(TIMES, values, strict=True)) | {NEVER: 100 * (1 - fitted.share), SHAPE: fitted.shape}, fitted

    def logs(self, quantity):
        """(batches,) logs of its values in batches; None where there are too few or one has no such time."""
        with np.errstate(divide="ignore", invalid="ignore"):
            logs = np.log(self.of_batches.get(quantity, np.zeros(0)))
        return logs if len(logs) >= FEWEST_BATCHES and np.isfinite(logs).all() else None

    def on_dishes(self, quantity, confidence, denominator):
        """An Estimate from its dishes together, interval by draws of them."""
        common = self._common(quantity, confidence, denominator) | {"rung": str(Rung.DISH)} | self.arm.behind
        missing = self.reason or ("" if np.isfinite(self.value[quantity]) else self.why_not(quantity))
        if missing:
            return Estimate(value=np.nan, reason=missing, **common)
        drawn, value = self.drawn[quantity], self.value[quantity]
        lower, upper = percentile_interval(drawn, confidence, self.arm.df, logged=self.on_logs and quantity != NEVER)
        if quantity == NEVER and np.isnan(lower) and len(self.arm.units) > 1:
            lower, upper = (100 * float(end) for end in self.arm.careful(value / 100, normal_quantile(confidence)))
        return Estimate(value=value, lower=lower, upper=upper, reason=self.holds_for, **common)

    def on_batches(self, quantity, confidence, denominator, interval, df):
        """An Estimate from (value, lower, upper) between its batches."""
        behind = {"rung": str(Rung.BATCH), "df": float(df)} | self.behind
        return Estimate(**dict(zip(("value", "lower", "upper"), map(float, interval), strict=True)),
                        **self._common(quantity, confidence, denominator), **behind)

    def _common(self, quantity, confidence, denominator):
        return {"quantity": quantity, "of": self.arm.key, "confidence": confidence,
                "unit": {NEVER: "%", SHAPE: "1"}.get(quantity, "d"),
                "denominator": denominator if quantity == NEVER else ""}

    @property
    def behind(self):
        """How many stand behind an answer on batches."""
        return self.arm.behind_batches(self.batches)

    @property
    def holds_for(self):
        """What an answer on its dishes holds for."""
        return ONE_BATCH if self.arm.behind["n_batches"] == 1 else ON_DISHES

    def why_not(self, quantity):
        """Why its dishes together have no such time."""
        if quantity != FIXED:
            return "Germination was too sudden between two visits for the curve to have this."
        if np.isnan(self.arm.sown).any():
            return "How many seed units were sown is not recorded for every dish."
        return f"Fewer than {100 * self.share_of_sown:g} % had germinated by the end."

    def dishes(self):
        """{column: of each dish} with its own t50; nan where its germinants lie in one interval."""
        own = fit(self.arm.left, self.arm.right, self.arm.counts).half_time
        return {"unit": self.arm.units, "batch": self.arm.batches, "value": own}


def of_dishes(arms, columns):
    """One frame of arms: KEYS, unit, batch and the further columns that go with each.

    columns : {column: (n,) values} an arm, as `Timed.dishes` gives them.
    """
    many = [len(each["unit"]) for each in columns]
    keys = {name: np.repeat(np.array([arm.key[name] for arm in arms], dtype=object), many) for name in KEYS}
    return pd.DataFrame(keys | {name: np.concatenate([each[name] for each in columns]) for name in columns[0]})


def _intervals_filled(arm):
    seen = np.isfinite(arm.right)
    return np.unique(cells(arm.left[seen], arm.right[seen]).first).size if seen.any() else 0
