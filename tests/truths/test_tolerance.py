"""Tolerances between replicates against 7 CFR 201.55 and the distributions behind it."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from palea.calc.germination.tolerance import approximate_range, chance_of_range, out_of_tolerance, tabulated_range

TABLE = pd.read_csv(Path(__file__).parent / "data" / "cfr201_55_tolerances.csv", comment="#")
MEANS = np.arange(51, 100)


@pytest.mark.parametrize("side", ["mean_high", "mean_low"])
@pytest.mark.parametrize(("column", "replicates"), [("range_4reps", 4), ("range_2reps", 2)])
def test_table_is_7_cfr_201_55(side, column, replicates):
    """Rows 71 to 99 were read there; rows 51 to 70 are from memory."""
    rows = TABLE.dropna(subset=[column])
    assert tabulated_range(rows[side], replicates) == pytest.approx(rows[column].to_numpy())


def test_exact_chance_reproduces_the_table_but_two_rows():
    """Smallest range with P(range above it) <= 0.0275 for four binomial replicates: all rows but 99 and 94."""
    exact = [next(r for r in range(40) if chance_of_range(r, mean, 4, 100) <= 0.0275) for mean in MEANS]
    differ = MEANS[np.array(exact) != tabulated_range(MEANS)]
    assert differ.tolist() == [94, 99]


def test_chance_beyond_the_table_lies_where_it_was_computed():
    chance = chance_of_range(tabulated_range(MEANS), MEANS, 4, 100)
    assert (chance.min(), chance.max()) == (pytest.approx(0.002, abs=5e-4), pytest.approx(0.0274, abs=1e-4))


def test_formula_of_miles_stays_near_the_table():
    """Miles 1963: q(0.025; 4, inf) = 3.984015 times the binomial standard error; within 1.05 points of the table."""
    assert approximate_range(50) == pytest.approx(3.984015 * 5, abs=1e-5)
    off = tabulated_range(MEANS) - approximate_range(MEANS)
    assert (off.min(), off.max()) == (pytest.approx(-0.78, abs=0.005), pytest.approx(1.04, abs=0.005))


def test_chance_of_a_range_by_counting():
    """By hand: two coins differ in half of all throws; two pairs of coins differ by two in 2 of 16."""
    assert chance_of_range(0, 50, 2, 1) == pytest.approx(0.5)
    assert chance_of_range(1, 50, 2, 2) == pytest.approx(2 / 16)


def test_chance_of_a_range_by_enumeration():
    """All triples of dishes of six seeds, each weighed by scipy's binomial."""
    stats = pytest.importorskip("scipy.stats")
    mass = stats.binom.pmf(np.arange(7), 6, 0.3)
    a, b, c = np.indices((7, 7, 7))
    spread = np.maximum(np.maximum(a, b), c) - np.minimum(np.minimum(a, b), c)
    weight = mass[a] * mass[b] * mass[c]
    for reach in range(7):
        assert chance_of_range(reach, 30, 3, 6) == pytest.approx(weight[spread > reach].sum(), abs=1e-12)


def test_other_dishes_are_out_where_so_large_a_range_has_a_chance_of_2_5_percent():
    """Three dishes of twelve seeds, every outcome counted with scipy's binomial."""
    stats = pytest.importorskip("scipy.stats")
    mass = stats.binom.pmf(np.arange(13), 12, 0.6)
    a, b, c = np.indices((13, 13, 13))
    spread = np.maximum(np.maximum(a, b), c) - np.minimum(np.minimum(a, b), c)
    chance = [np.sum((mass[a] * mass[b] * mass[c])[spread >= seen]) for seen in range(13)]
    assert min(chance) < 0.025 < chance[2]
    found = out_of_tolerance(0, 100 * np.arange(13) / 12, 60, 3, 12)
    assert found.tolist() == [p <= 0.025 for p in chance]


def test_table_decides_for_four_hundred_seeds():
    """7 CFR 201.55: mean 87, largest range 13."""
    assert out_of_tolerance([80, 80], [93, 94], 87, 4, 100).tolist() == [False, True]


@pytest.mark.parametrize(("count", "seeds", "others", "of"), [(20, 25, 51, 75), (2, 25, 69, 75), (25, 25, 60, 75), (0, 50, 3, 150)])
def test_a_dish_beside_the_others_of_its_batch(count, seeds, others, of):
    """Against scipy.stats.betabinom, a general-purpose reference."""
    from scipy.stats import betabinom

    from palea.calc.germination.tolerance import chance_of_dish

    rho, share = 0.05, (others + 0.5) / (of + 1)
    tail = betabinom(seeds, share * (1 - rho) / rho, (1 - share) * (1 - rho) / rho)
    expected = min(1, 2 * min(tail.cdf(count), tail.sf(count - 1)))
    assert chance_of_dish([count], [seeds], [others], [of], rho)[0] == pytest.approx(expected, rel=1e-9)
