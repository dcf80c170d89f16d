"""Times judged on batches: one value a batch, means of logs, and which groups and quantities can be had so."""

from dataclasses import dataclass

import numpy as np
from scipy.special import chdtrc

from palea.calc.germination.timed import FEWEST_BATCHES, FIXED, NEVER, T50, Timed
from palea.calc.stats import share_means, value_means
from palea.calc.stats.proportions import t_quantile
from palea.calc.stats.share_means import ShareMeans
from palea.calc.stats.value_means import ValueMeans

BATCH_TEST = 0.01  # level at which batches are said to differ


@dataclass(frozen=True)
class Place:
    """The arms of one taxon and environment, and means over their batches.

    timed : {treatment: Timed}.  means : {quantity: of logs, or of shares where never germinating}; a quantity is
    absent where no treatment has it from two batches, and a treatment is absent from it likewise.
    """

    timed: dict[str, Timed]
    means: dict[str, ValueMeans | ShareMeans]

    def on_batches(self, quantity, *treatments):
        """Means over batches that hold all of these treatments; None where one has to be judged on dishes."""
        means = self.means.get(quantity)
        return means if means and all(name in means.names for name in treatments) else None

    def group(self, treatment, quantity, confidence, denominator):
        """Estimate of one time of one treatment, on the highest rung that it is replicated on."""
        timed, means = self.timed[treatment], self.on_batches(quantity, treatment)
        if means is None:
            return timed.on_dishes(quantity, confidence, denominator)
        interval = np.array(means.interval(treatment, t_quantile(confidence, means.df)))
        interval = 100 * interval if quantity == NEVER else np.exp(interval)
        return timed.on_batches(quantity, confidence, denominator, interval, means.df)

    def groups(self, confidence, denominator):
        """Estimates of every treatment: a quantity each; one, with the reason, where there is nothing to fit."""
        return [
            self.group(name, quantity, confidence, denominator)
            for name, timed in self.timed.items() for quantity in timed.value or (T50,)
        ]


def places(timed):
    """{(taxon, environment): Place} of {(taxon, environment, treatment): Timed}, in order."""
    found = {}
    for (taxon, environment, treatment), arm in timed.items():
        found.setdefault((taxon, environment), {})[treatment] = arm
    return {key: Place(arms, _means(arms)) for key, arms in found.items()}


def _means(arms):
    quantities = dict.fromkeys(name for arm in arms.values() for name in arm.value)
    means = {name: _of_shares(arms) if name == NEVER else _of_logs(arms, name) for name in quantities}
    return {name: found for name, found in means.items() if found is not None}


def _of_logs(arms, quantity):
    parts = {name: arm.logs(quantity) for name, arm in arms.items()}
    parts = {name: logs for name, logs in parts.items() if logs is not None}
    if not parts:
        return None
    sampling = np.concatenate([arms[name].sampling[quantity] for name in parts])
    return value_means.of_values(_labels(parts), np.concatenate(list(parts.values())), sampling)


def _of_shares(arms):
    parts = {name: arm.of_batches[NEVER] for name, arm in arms.items() if len(arm.batches) >= FEWEST_BATCHES}
    if not parts:
        return None
    seeds = np.concatenate([arms[name].seeds for name in parts])
    return share_means.of_batches(_labels(parts), np.concatenate(list(parts.values())) * seeds, seeds)


def _labels(parts):
    return np.repeat(list(parts), [len(values) for values in parts.values()])


def doubts(found):
    """Warnings: batches without a curve, treatments that had to be judged on dishes although they have batches."""
    told = []
    for key, place in found.items():
        for name, arm in place.timed.items():
            if not arm.reason and arm.arm.behind["n_batches"] >= FEWEST_BATCHES:
                told += _doubts(_where(key), name, arm, place)
    return tuple(told)


def _doubts(where, name, arm, place):
    if arm.left_out:
        yield (f"Left out of the times of {name} ({where}): {', '.join(arm.left_out)}. Too few germinated there, or in "
               "too few inspection intervals, for a curve of the batch.")
    if len(arm.batches) < FEWEST_BATCHES:
        yield (f"{name} ({where}) has fewer than two batches with a curve, so its times are judged on dishes: they "
               "hold for these batches, not yet for the recipe.")
        return
    lacking = [q for q in arm.value if not place.on_batches(q, name) and (q != FIXED or np.isfinite(arm.value[q]))]
    if lacking:
        yield (f"{name} ({where}): {', '.join(lacking)} cannot be had from every batch, or the batches agree wholly, "
               "so judged on dishes: for these batches, not yet for the recipe.")


def batches_differ(found):
    """Warn where batches of one treatment differ in t50 by more than the seeds in them explain.

    found : {(taxon, environment): Place} where something was judged on dishes although one side has batches: draws of
    dishes within batches leave such a difference out.
    Source: Cochran 1954, Biometrics 10:101-129 (Q, pooled over treatments); size: DerSimonian & Laird 1986, Control.
    Clin. Trials 7:177-188.
    """
    told = []
    for key, place in found.items():
        q, df, weight = sum((_between(arm) for arm in place.timed.values()), np.zeros(3))
        if df > 0 and chdtrc(df, q) < BATCH_TEST:
            told.append(
                f"{_where(key)}: batches of the same treatment differ in t50, by about "
                f"{100 * np.sqrt((q - df) / weight):.0f} % (standard deviation), which ratios judged on dishes do not "
                "hold."
            )
    return tuple(told)


def _between(arm):
    """Cochran's Q of log t50 between batches, its degrees of freedom, and the divisor of the variance between them."""
    value = arm.logs(T50)
    if value is None:
        return np.zeros(3)
    weight = 1 / arm.sampling[T50]
    q = weight @ (value - np.average(value, weights=weight)) ** 2
    return np.array([q, len(value) - 1, weight.sum() - (weight**2).sum() / weight.sum()])


def _where(key):
    return " ".join(filter(None, key))
