"""Chance of the demo, held against a reference library (scipy) and against the stream that Python promises."""

from collections import Counter
from random import Random

import numpy as np
import pytest
from scipy import stats

from palea.demo.chance import Chance, Urn


def test_a_stream_is_what_python_promises():
    """Only Random.random is drawn from: seeded with the purpose's text, it is the stream of the Mersenne Twister."""
    plain = Random("7/tests/AV")
    assert [Chance(7, "tests", "AV").share()] == [plain.random()]


def test_purposes_do_not_disturb_each_other():
    before = Chance(7, "a").share()
    Chance(7, "b").shuffled(range(100))
    assert Chance(7, "a").share() == before
    assert Chance(7, "b").share() != before


@pytest.mark.parametrize(("probability", "rho", "n"), [(0.7, 0.02, 25), (0.2, 0.3, 10)])
def test_an_urn_is_a_beta_binomial(probability, rho, n):
    """Chi-square against scipy.stats.betabinom with a = p (1 - rho) / rho, b = (1 - p) (1 - rho) / rho."""
    chance, draws = Chance(1, "urn", probability), 20_000
    seen = Counter()
    for _ in range(draws):
        urn = Urn(chance, probability, rho)
        seen[sum(urn.draw() for _ in range(n))] += 1
    of = stats.betabinom(n, probability * (1 - rho) / rho, (1 - probability) * (1 - rho) / rho)
    expected = draws * of.pmf(np.arange(n + 1))
    often = expected >= 5
    found = np.array([seen[k] for k in range(n + 1)])
    parts = (found[often], expected[often]), (found[~often].sum(), expected[~often].sum())
    chi2 = sum(float(np.sum((f - e) ** 2 / np.maximum(e, 1e-12))) for f, e in parts)
    assert stats.chi2.sf(chi2, often.sum()) > 0.001


def test_normal_deviates_are_normal():
    """Kolmogorov-Smirnov against scipy.stats.norm."""
    chance = Chance(1, "normal")
    drawn = [chance.normal(3, 2) for _ in range(5000)]
    assert stats.kstest(drawn, stats.norm(3, 2).cdf).pvalue > 0.001


def test_shuffled_keeps_every_item():
    assert sorted(Chance(1, "deal").shuffled(range(52))) == list(range(52))
    assert Chance(1, "deal").shuffled(range(52)) != list(range(52))
