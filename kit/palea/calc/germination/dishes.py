"""Dishes of one species, environment, quantity and denominator, and the treatment means that can be had from them."""

from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np
import pandas as pd

from palea.calc import simulated
from palea.calc.stats import odds_ratios, share_means
from palea.calc.stats.share_means import QUASI, ShareMeans
from palea.calc.terms import Rung
from palea.errors import UnfitValue

SEPARATOR = "\x1f"  # the unit separator of ASCII: in no name
KEYS = ["taxon", "environment", "quantity", "denominator"]
ONE_DISH = "One dish of {} cannot show how much dishes differ. Sow at least two of each."
LABELS = ["taxon", "treatment", "environment", "batch", "unit", "quantity", "denominator"]


def counted_dishes(shares):
    """Dishes that can be used, labels as plain text (missing: ""), and a warning for those that cannot.

    shares : one row a dish, quantity and denominator: LABELS, k, n, and block where there are blocks. A row is left out
    where k or n is missing, or n is 0 (an empty denominator). Raises UnfitValue where k is below 0 or above n.
    """
    columns = [*LABELS, *(["block"] if "block" in shares else [])]
    text = {name: np.asarray(shares[name].astype("string").fillna(""), dtype=str) for name in columns}
    numbers = {name: shares[name].to_numpy(float, na_value=np.nan) for name in ("k", "n")}
    dishes = pd.DataFrame(text | numbers)
    impossible = (dishes["k"] < 0) | (dishes["k"] > dishes["n"] + 1e-9)
    if impossible.any():
        bad = dishes[impossible].iloc[0]
        msg = (
            f"k of {bad['unit']} is {bad['k']:g} and n is {bad['n']:g} ({bad['quantity']} of {bad['denominator']}); "
            "k may be 0 to n. Correct the counts of this dish."
        )
        raise UnfitValue(msg)
    usable = dishes["k"].notna() & (dishes["n"] > 0)
    return dishes[usable].reset_index(drop=True), _left_out(dishes[~usable])


def _left_out(dishes):
    units = dishes["unit"].unique()
    if not units.size:
        return ()
    named = ", ".join(units[:5]) + (" and others" if units.size > 5 else "")
    return (f"{units.size} dishes have no count or nothing to count for a quantity and were left out of it: {named}.",)


class Stand(NamedTuple):
    """How many batches, dishes and seeds stand behind a treatment, and its share of all those seeds."""

    batches: int
    units: int
    seeds: float
    share: float


class Pooled(NamedTuple):
    """Counts by batch or dish: arrays of one length; block None where there is none to allow for."""

    treatment: np.ndarray
    k: np.ndarray
    n: np.ndarray
    block: np.ndarray | None

    def of(self, treatments):
        """Only these treatments."""
        kept = np.isin(self.treatment, treatments)
        return Pooled(*(None if column is None else column[kept] for column in self))


@dataclass(frozen=True)
class Cell:
    """What there is for one quantity and denominator of one species in one environment.

    dishes : rows of `counted_dishes`, all of one key.  key : (taxon, environment, quantity, denominator).
    """

    key: tuple[str, str, str, str]
    dishes: pd.DataFrame = field(repr=False)

    @cached_property
    def stands(self):
        """What stands behind each treatment: {treatment: Stand}, sorted."""
        names, at = np.unique(self.labels("treatment"), return_inverse=True)
        k, n = np.bincount(at, self.dishes["k"]), np.bincount(at, self.dishes["n"])
        batches = np.bincount(names.searchsorted(self._batches.treatment), minlength=names.size)
        counts = zip(batches.tolist(), np.bincount(at).tolist(), n.tolist(), (k / n).tolist(), strict=True)
        return {str(name): Stand(*each) for name, each in zip(names, counts, strict=True)}

    def labels(self, column):
        """A text column as an array."""
        return self.dishes[column].to_numpy(str)

    @cached_property
    def _batches(self):
        return _pooled(self.labels("treatment"), self.labels("batch"), self.dishes)

    @cached_property
    def on_batches(self) -> ShareMeans | None:
        """Means of the treatments with at least two batches, dishes pooled within the batch."""
        rows = self.counts(Rung.BATCH)
        return share_means.of_batches(rows.treatment, rows.k, rows.n, rows.block) if rows.k.size else None

    @cached_property
    def on_dishes(self) -> ShareMeans | None:
        """Means of the treatments with at least two dishes, whatever their batches."""
        rows = self.counts(Rung.DISH)
        return share_means.of_counts(rows.treatment, rows.k, rows.n, rows.block, beta=True) if rows.k.size else None

    def counts(self, rung):
        """Counts by batch, or by dish, of the treatments that are replicated on that rung."""
        by_batch = rung == Rung.BATCH
        rows = self._batches if by_batch else _pooled(self.labels("treatment"), self.labels("unit"), self.dishes)
        return rows.of([name for name, s in self.stands.items() if (s.batches if by_batch else s.units) >= 2])

    @cached_property
    def _odds(self):
        return {}

    def odds(self, rung):
        """Odds model of the treatments on that rung -> OddsModel, fitted once."""
        if rung not in self._odds:
            self._odds[rung] = odds_ratios.of_counts(*self.counts(rung))
        return self._odds[rung]

    @property
    def leans_on_dishes(self):
        """Whether a treatment has a single batch, so that its dishes have to do."""
        return any(stand.batches < 2 for stand in self.stands.values())

    @cached_property
    def far(self):
        """Treatments that lie far from the others and are judged on batches by one dispersion for all: see simulated."""
        means = self.on_batches
        return simulated.far_above(means.names, means.shares) if means is not None and means.model == QUASI else set()

    def caution(self, rung, *treatments):
        """The Caution for an estimate of these on that rung, or None."""
        return simulated.FAR_BATCHES if rung == Rung.BATCH and not self.far.isdisjoint(treatments) else None

    def rung(self, *treatments):
        """The highest rung on which all of these treatments are replicated, and their means on it.

        Returns (rung, ShareMeans), or ("", a sentence that says what is missing).
        """
        missing = [name for name in treatments if name not in self.stands]
        if missing:
            return "", f"Nothing was counted for {' and '.join(missing)}."
        if all(self.stands[name].batches >= 2 for name in treatments):
            return str(Rung.BATCH), self.on_batches
        single = [name for name in treatments if self.stands[name].units < 2]
        if single:
            return "", ONE_DISH.format(" and ".join(single))
        return str(Rung.DISH), self.on_dishes


def _pooled(treatment, part, dishes):
    """Counts pooled over the dishes of each part (batch, or dish) of each treatment."""
    both = np.char.add(np.char.add(treatment, SEPARATOR), part)
    _, first, at = np.unique(both, return_index=True, return_inverse=True)
    return Pooled(
        treatment[first], np.bincount(at, dishes["k"]), np.bincount(at, dishes["n"]), _blocks(dishes, first, at)
    )  # fmt: skip


def _blocks(dishes, first, at):
    """The block of each part; None where one is missing, or a part lies in several: then its mean is over them."""
    if "block" not in dishes or not dishes["block"].ne("").all():
        return None
    block = dishes["block"].to_numpy(str)
    return block[first] if (block[first][at] == block).all() else None


def cells(dishes):
    """Cells by key, in the order in which the dishes name them."""
    return {key: Cell(key, rows) for key, rows in dishes.groupby(KEYS, sort=False)}
