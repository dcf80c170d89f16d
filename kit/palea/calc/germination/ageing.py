"""Ageing of one treatment: a probit line of viability against months, one slope a store, one start for all stores."""

from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr

from palea.calc.germination.stress_terms import AGEING, HALF_LIFE, INITIAL
from palea.calc.stats import binomial_links
from palea.calc.stats.proportions import normal_quantile, t_quantile
from palea.errors import UnfitValue


def viable_share(months, initial_probit, months_per_probit):
    """Share viable after a time in one store, 0 to 1: Phi(Ki - months / s).

    initial_probit : Ki, probit of the viability before storage.  months_per_probit : s, time to lose one probit.
    Source: Ellis & Roberts 1980, Ann. Bot. 45:13-30.

    >>> float(viable_share(23.04, 1.28, 18.0).round(6))
    0.5
    """
    return ndtr(initial_probit - np.asarray(months, float) / months_per_probit)


def half_life(initial_probit, months_per_probit):
    """Months until half is viable: Ki s. Not until half of what was viable is: that is earlier.

    Source: Ellis & Roberts 1980, Ann. Bot. 45:13-30 (p50).

    >>> round(half_life(1.28, 11.0), 2)
    14.08
    """
    return initial_probit * months_per_probit


@dataclass(frozen=True)
class Ageing:
    """The fitted lines of one treatment.

    stores : names, in the order of the slopes.  model : LinkFit with columns: start, then - months in each store.
    dispersion : Pearson's X2 / df, not below 1.  df : of it; tests use t on it.
    """

    stores: tuple[str, ...]
    model: binomial_links.LinkFit = field(repr=False)

    @property
    def dispersion(self):
        """Not below 1."""
        return self.model.dispersion

    @property
    def df(self):
        """Dishes less parameters."""
        return self.model.df

    @property
    def start(self):
        """Probit of the viability before storage; at or below 0 half or fewer were viable."""
        return float(self.model.coefficients[0])

    @property
    def covariance(self):
        """Of the coefficients, dispersion included."""
        return self.dispersion * self.model.covariance

    def critical(self, confidence):
        """The t quantile; the normal one where no degrees of freedom are left."""
        return t_quantile(confidence, self.df) if self.df > 0 else normal_quantile(confidence)

    def falls(self, store, confidence=0.95):
        """Whether viability is shown to fall in this store."""
        at = 1 + self.stores.index(store)
        slope, error = self.model.coefficients[at], np.sqrt(self.covariance[at, at])
        return slope - self.critical(confidence) * error > 0

    def values(self, store, confidence):
        """{quantity: (value, lower, upper)}: viability before storage [%], months to lose a probit, months to half.

        Half-life by Fieller; an end without limit is inf, and the value too where the line does not fall.
        """
        start, slope = self.model.coefficients[0], self.model.coefficients[1 + self.stores.index(store)]
        critical, covariance, at = self.critical(confidence), self.covariance, 1 + self.stores.index(store)
        ends = 100 * ndtr(start + critical * np.sqrt(covariance[0, 0]) * np.array([-1.0, 1.0]))
        steep = slope + critical * np.sqrt(covariance[at, at]) * np.array([1.0, -1.0])
        # of its inverse, which is near 0 where nothing is lost: there the half-life itself runs through infinity
        rate = binomial_links.fieller(slope, start, covariance[at, at], covariance[0, 0], covariance[0, at], critical)
        return {
            INITIAL: (100 * float(ndtr(start)), *map(float, ends)),
            AGEING: (_over(1.0, slope), _over(1.0, steep[0]), _over(1.0, steep[1])),
            HALF_LIFE: (_over(1.0, slope / start), _over(1.0, rate[1]), _over(1.0, rate[0])) if start > 0 else (np.inf,) * 3,
        }

    def log_half_life(self, store):
        """(log half-life, its variance by the delta method)."""
        at = 1 + self.stores.index(store)
        start, slope = self.model.coefficients[[0, at]]
        gradient = np.array([1 / start, -1 / slope])
        with np.errstate(invalid="ignore"):
            return float(np.log(start / slope)), float(gradient @ self.covariance[np.ix_([0, at], [0, at])] @ gradient)


def logs_by_batch(dishes, store):
    """(batches,) logs of half-lives in one store, each of a line through the dishes of one batch alone.

    dishes : frame of one treatment: months, store, batch, k, n. nan for a batch without month 0 and two later times
    in this store, or whose line does not fall: to leave it out would favour the batches that age fast.
    """
    found = []
    for _, part in dishes[(dishes["store"] == store) | (dishes["months"] == 0)].groupby("batch"):
        whole = part.loc[part["months"] > 0, "months"].nunique() > 1 and (part["months"] == 0).any()
        found.append(fit(part["months"], np.full(len(part), store), part["k"], part["n"]) if whole else None)
    falls = [line is not None and line.start > 0 and line.model.coefficients[1] > 0 for line in found]
    return np.array([line.log_half_life(store)[0] if fell else np.nan for line, fell in zip(found, falls, strict=True)])


def _over(top, bottom):
    return float(top / bottom) if bottom > 0 else np.inf


def fit(months, store, viable, seeds):
    """Fit the lines of one treatment -> Ageing.

    months : (dishes,) 0 or above.  store : (dishes,) labels; that of month 0 does not matter: it is before any store.
    viable, seeds : (dishes,) how many were alive, of how many.
    Raises UnfitValue where a negative month or a store without a month above 0 is found, or no line fits best.
    Source: Ellis & Roberts 1980, Ann. Bot. 45:13-30 (one start a lot, one slope a store); Finney 1971, ch. 4.
    """
    months, store = np.asarray(months, float), np.asarray(store, str)
    if not (months >= 0).all() or not (months > 0).any():
        msg = f"Months run from {months.min():g} to {months.max():g}; allowed are 0 (before storage) and above."
        raise UnfitValue(msg)
    stores = tuple(dict.fromkeys(store[months > 0].tolist()))
    member = store[:, None] == np.array(stores)
    design = np.column_stack([np.ones(months.size), -months[:, None] * member])
    return Ageing(stores, binomial_links.fit(design, viable, seeds, "probit"))
