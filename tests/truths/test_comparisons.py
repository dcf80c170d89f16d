"""Several comparisons against Dunnett's own data and tables, R, and scipy.

Exact critical values: numerical quadrature apart from this code (scipy), agreeing with multcomp 1.4.22 to its digits.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from palea.calc.stats import comparisons

DATA = Path(__file__).parent / "data"


def by_group(name, value, group):
    frame = pd.read_csv(DATA / name)
    values = [part[value].to_numpy() for _, part in frame.groupby(group, sort=False)]
    numbers = np.array([v.size for v in values])
    df = numbers.sum() - numbers.size
    return [v.mean() for v in values], numbers, sum(v.var() * v.size for v in values) / df, df


@pytest.fixture
def blood():
    """Dunnett 1955, JASA 50:1096: blood counts, control of 6, arms of 4 and 5."""
    return by_group("dunnett1955_blood.csv", "y", "g")


@pytest.fixture
def plants():
    """PlantGrowth of base R."""
    return by_group("PlantGrowth.csv", "weight", "group")


def test_dunnetts_blood_counts(blood):
    assert blood[2] == pytest.approx(1.380523, abs=1e-6)
    found = comparisons.dunnett(*blood)
    assert found.statistic == pytest.approx([0.857032, 3.693752], abs=1e-6)
    assert found.critical == pytest.approx(2.5134829, abs=1e-7)
    assert found.p_value == pytest.approx([0.6201020, 0.0058253], abs=1e-7)
    assert found.lower == pytest.approx([-1.25630, 0.83973], abs=1e-5)
    assert found.upper == pytest.approx([2.55630, 4.41627], abs=1e-5)
    assert comparisons.dunnett(*blood, two_sided=False).critical == pytest.approx(2.1210780, abs=1e-7)


def test_dunnett_p_agrees_with_scipy_to_its_lattice(blood):
    stats = pytest.importorskip("scipy.stats")
    frame = pd.read_csv(DATA / "dunnett1955_blood.csv")
    control, *arms = [part["y"].to_numpy() for _, part in frame.groupby("g", sort=False)]
    theirs = stats.dunnett(*arms, control=control, rng=np.random.default_rng(1)).pvalue
    assert comparisons.dunnett(*blood).p_value == pytest.approx(theirs, abs=5e-4)


@pytest.mark.parametrize(("arms", "df", "critical", "printed"), [
    (2, 12, 2.502367, 2.50), (2, 20, 2.378690, 2.38), (3, 20, 2.540350, 2.54), (4, 20, 2.651030, 2.65),
])
def test_equal_numbers_agree_with_dunnetts_table(arms, df, critical, printed):
    """Printed values of the table (Dunnett 1955, 1964) from memory; six digits by quadrature."""
    found = comparisons.dunnett_critical(comparisons.loadings(np.ones(arms), 1), df)
    assert found == pytest.approx(critical, abs=1e-6)
    assert found == pytest.approx(printed, abs=0.005)


def test_one_sided_equal_numbers_agree_with_dunnetts_table():
    found = comparisons.dunnett_critical(comparisons.loadings([1, 1], 1), 12, two_sided=False)
    assert found == pytest.approx(2.108057, abs=1e-6)
    assert found == pytest.approx(2.11, abs=0.005)


def test_one_comparison_is_a_t_test():
    special = pytest.importorskip("scipy.special")
    assert comparisons.dunnett_critical([0.6], 9) == pytest.approx(special.stdtrit(9, 0.975), abs=1e-8)
    assert comparisons.dunnett_p([2.0], [0.6], 9) == pytest.approx([2 * special.stdtr(9, -2.0)], abs=1e-9)


def test_without_shared_control_it_is_sidak():
    """Law: with no load on the control and known variance, comparisons are independent."""
    special = pytest.importorskip("scipy.special")
    assert comparisons.dunnett_probability(2.2, [0, 0, 0], np.inf) == pytest.approx((1 - 2 * special.ndtr(-2.2)) ** 3)


def test_plants_against_control(plants):
    """R 4.2.2 multcomp on PlantGrowth: p 0.3227 and 0.1535, critical 2.3335, by random lattice (3 to 4 digits)."""
    found = comparisons.dunnett(*plants)
    assert found.p_value == pytest.approx([0.3227, 0.1535], abs=2e-4)
    assert found.critical == pytest.approx(2.3335, abs=2e-4)


def test_all_pairs_of_plants(plants):
    """R 4.2.2 TukeyHSD on PlantGrowth: trt1-ctrl, trt2-ctrl, trt2-trt1."""
    found = comparisons.tukey(*plants)
    assert found.pairs == ((1, 0), (2, 0), (2, 1))
    assert found.p_value == pytest.approx([0.3908711, 0.1979960, 0.0120064], abs=1e-6)
    assert found.lower == pytest.approx([-1.0622161, -0.1972161, 0.1737839], abs=1e-6)
    assert found.upper == pytest.approx([0.3202161, 1.1852161, 1.5562161], abs=1e-6)


def test_holm_of_plants():
    """R 4.2.2 pairwise.t.test on PlantGrowth."""
    raw = [0.19438788, 0.08768168, 0.00445924]
    assert comparisons.holm(raw) == pytest.approx([0.194388, 0.175363, 0.013378], abs=1e-6)


def test_holm_agrees_with_statsmodels():
    multitest = pytest.importorskip("statsmodels.stats.multitest")
    p = np.random.default_rng(4).uniform(size=(10, 6)) ** 3  # few: each call of theirs collects all garbage of the process
    theirs = [multitest.multipletests(row, method="holm")[1] for row in p]
    assert np.array([comparisons.holm(row) for row in p]) == pytest.approx(np.array(theirs), abs=1e-12)


def test_intervals_by_holms_divisors_reject_what_holm_rejects():
    p = np.random.default_rng(5).uniform(size=(200, 5)) ** 4
    for row in p:
        assert ((row <= 0.05 / comparisons.holm_divisors(row)) == (comparisons.holm(row) <= 0.05)).all()


def test_one_sided_quantile_of_very_unequal_arms():
    """Blankets data (recovery) of multcomp 1.4.22: quantile 2.1826. Group sizes 20, 3, 3, 15 (37 df) are from memory; the
    documentation integrates by a random lattice, so three digits count."""
    loads = comparisons.loadings([1 / 3, 1 / 3, 1 / 15], 1 / 20)
    assert comparisons.dunnett_critical(loads, 37, two_sided=False) == pytest.approx(2.1826, abs=1e-3)


def test_f_of_plant_growth(plants):
    """PlantGrowth, R 4.2.2: F 4.84609 on 2 and 27 df; the variance within groups is the one that comparisons stand on."""
    means, numbers, variance, df = plants
    grand = np.average(means, weights=numbers)
    between = (numbers * (np.array(means) - grand) ** 2).sum() / 2
    assert df == 27
    assert between / variance == pytest.approx(4.84609, abs=1e-5)


def test_one_sided_limits_of_blankets():
    """multcomp 1.4.22, recovery: from t -1.33019, -4.65565, -1.88372 the upper limits 1.367, -3.966, 0.264; the standard
    deviation within groups, 2.590, follows from the first of each; group sizes are from memory."""
    numbers = np.array([20, 3, 3, 15])
    sd = 1.367 / (-1.33019 + 2.1826) / np.sqrt(1 / 3 + 1 / 20)
    differences = np.array([-1.33019, -4.65565, -1.88372]) * sd * np.sqrt(1 / numbers[1:] + 1 / 20)
    turned = comparisons.dunnett([0.0, *-differences], numbers, sd**2, 37, two_sided=False)
    assert -turned.lower == pytest.approx([1.367, -3.966, 0.264], abs=4e-3)


def test_quantile_of_the_range_of_four():
    """Tables of the studentised range print q(0.05; 4, inf) = 3.63; to more digits 3.633160 (scipy)."""
    found = comparisons.tukey([0.0, 1.0, 2.0, 3.0], [1, 1, 1, 1], 1.0, np.inf)
    assert found.critical * np.sqrt(2) == pytest.approx(3.633160, abs=5e-7)
