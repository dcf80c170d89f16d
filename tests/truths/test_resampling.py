"""Drawn dishes against the formula for strata and against another bootstrap."""

import numpy as np
import pytest
from scipy import stats

from palea.calc.stats.chance import stream
from palea.calc.stats.resampling import dish_weights, percentile_interval

DISHES = np.array([18.31, 21.07, 17.53, 23.79, 12.17, 20.43, 19.11, 15.67, 22.29, 16.83, 14.41, 24.97])


def test_variance_of_a_mean_is_that_of_stratified_sampling():
    """Cochran 1977, Sampling Techniques, 3rd ed., eq. 5.12, no finite correction: sum of W^2 s^2 / m."""
    batch = np.repeat(["p", "q", "r"], [2, 4, 6])
    drawn = dish_weights(batch, 40_000, stream(1, "test")) @ DISHES / 12
    parts = [DISHES[batch == b] for b in "pqr"]
    published = sum((len(x) / 12) ** 2 * x.var(ddof=1) / len(x) for x in parts)
    assert drawn.var() == pytest.approx(published, rel=0.03)  # standard error of a variance of 40 000 draws: 0.7 %
    assert drawn.mean() == pytest.approx(DISHES.mean(), abs=4 * np.sqrt(published / 40_000))


def test_one_batch_is_the_plain_bootstrap_but_for_its_known_shortness():
    """scipy.stats.bootstrap, percentile method: plain draws of m are too short by sqrt((m - 1) / m)."""
    weights = dish_weights(["p"] * 12, 40_000, stream(2, "test"))
    low, high = percentile_interval(weights @ DISHES / 12, 0.95)
    rng = np.random.default_rng(3)
    plain = stats.bootstrap((DISHES,), np.mean, n_resamples=40_000, method="percentile", vectorized=True, rng=rng)
    width = plain.confidence_interval.high - plain.confidence_interval.low
    assert high - low == pytest.approx(width * np.sqrt(12 / 11), rel=0.02)


def test_percentiles_are_those_of_numpy():
    values = np.random.default_rng(4).normal(size=(999, 3))
    low, high = percentile_interval(values, 0.9)
    assert np.array([low, high]) == pytest.approx(np.quantile(values, [0.05, 0.95], axis=0), abs=1e-12)


def test_intervals_of_few_dishes_cover_as_often_as_they_say():
    """Law: of 1000 trials of 4 batches of 4 dishes, 95 % intervals cover the mean in 95 % (2 standard errors: 1.4)."""
    truth, batch = np.random.default_rng(5), np.repeat(list("pqrs"), 4)
    weights = dish_weights(batch, 999, stream(5, "test")) / 16
    limits = [percentile_interval(weights @ truth.normal(size=16), 0.95, df=12) for _ in range(1000)]
    covered = np.mean([low <= 0 <= high for low, high in limits])
    assert 0.93 <= covered <= 0.97
