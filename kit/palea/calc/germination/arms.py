"""Dishes of one arm laid out for counting and drawing: which intervals, how many seeds of each dish in each."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from palea.calc.grouped import together
from palea.calc.stats.chance import stream
from palea.calc.stats.proportions import intraclass_correlation, score_interval
from palea.calc.stats.resampling import dish_weights, strata
from palea.calc.stats.time_to_event import Cells, cells

KEYS = ("taxon", "environment", "treatment")
ONE_BATCH = "These dishes come from one batch: the answer holds for that batch, not yet for the recipe."


@dataclass(frozen=True)
class Arm:
    """One group of dishes.

    key : its taxon, environment and treatment.  left, right : (n,) distinct intervals (left, right].
    counts : (dishes, n) seeds of each dish in each interval.  units, batches : (dishes,) names, in a fixed order.
    sown : (dishes,) seed units sown, where it was handed over (nan: not recorded); else the seeds counted.
    """

    key: dict
    left: np.ndarray
    right: np.ndarray
    counts: np.ndarray
    units: np.ndarray
    batches: np.ndarray
    sown: np.ndarray

    @cached_property
    def where(self) -> Cells:
        """The innermost intervals."""
        return cells(self.left, self.right)

    @cached_property
    def germinated(self):
        """(dishes,) seeds seen to germinate."""
        return self.counts[:, np.isfinite(self.right)].sum(axis=1)

    @cached_property
    def behind(self):
        """How many stand behind it, as fields of an Estimate."""
        return self.behind_batches(np.unique(self.batches))

    def behind_batches(self, names):
        """The same, of these batches only."""
        used = np.isin(self.batches, names)
        return {"n_batches": len(names), "n_units": int(used.sum()), "n_seeds": round(float(self.counts[used].sum()))}

    @cached_property
    def df(self):
        """Degrees of freedom of the spread between dishes: dishes less the strata that they are drawn in."""
        return len(self.units) - len(np.unique(strata(self.batches)))

    def by_batch(self):
        """Names of the batches, and each one's dishes together: (batches, n) counts, (batches,) sown."""
        names, code = np.unique(self.batches, return_inverse=True)
        member = np.eye(names.size)[code].T
        return names, member @ self.counts, np.bincount(code, self.sown)

    def draws(self, purpose, replicates, seed):
        """(replicates, dishes) weights of dishes drawn within batches, from a stream of this arm's own."""
        return dish_weights(self.batches, replicates, stream(seed, purpose, *self.key.values()))

    def careful(self, share, critical):
        """Wilson interval of shares (of seeds counted) where the dishes do not differ and nothing can be drawn.

        n / DE seeds, DE = 1 + (m - 1) rho with rho from the final germination of these dishes, 0 where they agree.
        """
        n = self.counts.sum(axis=1)
        rho = intraclass_correlation(self.germinated, n)
        effect = 1 + (n.mean() - 1) * (0.0 if np.isnan(rho) else rho)
        return score_interval(share, n.sum() / effect, critical)


def arms(intervals):
    """{(taxon, environment, treatment): Arm} in the order of the keys; dishes without a counted seed are left out.

    intervals : frame with taxon, treatment, environment, batch, unit, left, right, count and, if known, sown.
    The order of rows does not matter.
    """
    frame = intervals[intervals["count"] > 0]
    group = frame.groupby(list(KEYS), sort=False, dropna=False).ngroup().to_numpy()
    parts = together(group)
    keys = [tuple(map(str, key)) for key in frame.iloc[[lines[0] for lines in parts]][list(KEYS)].to_numpy(dtype=object)]
    ends, count = frame[["left", "right"]].to_numpy(float), frame["count"].to_numpy(float)
    unit, batch = frame["unit"].astype(str).to_numpy(), frame["batch"].fillna("").astype(str).to_numpy()
    sown = frame["sown"].to_numpy(float, na_value=np.nan) if "sown" in frame else None
    return {key: _arm(key, unit[at], batch[at], ends[at], count[at], None if sown is None else sown[at])
            for key, at in zip(keys, parts, strict=True)}


def _arm(key, unit, batch, ends, count, sown):
    """Of rows a dish and interval; sown None: the seeds counted."""
    unit, units = pd.factorize(unit, sort=True)
    ends, place = np.unique(ends, axis=0, return_inverse=True)
    counts = np.zeros((len(units), len(ends)))
    np.add.at(counts, (unit, place.ravel()), count)
    first = np.zeros(len(units), int)
    first[unit] = np.arange(len(unit))
    sown = counts.sum(axis=1) if sown is None else sown[first]
    return Arm(dict(zip(KEYS, key, strict=True)), ends[:, 0], ends[:, 1], counts, units, batch[first], sown)


def one_batch(found):
    """The warning for arms whose dishes all come from one batch, naming them; nothing where there is none."""
    alone = sorted(arm.key["treatment"] for arm in found if arm.behind["n_batches"] == 1)
    return (f"{ONE_BATCH} ({', '.join(dict.fromkeys(alone))}.)",) if alone else ()
