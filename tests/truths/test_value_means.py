"""Means of values with a pooled variance, and with variances by precision, against other programs and a worked sum."""

import numpy as np
import pytest
from scipy import stats

from palea.calc.stats.proportions import t_quantile
from palea.calc.stats.value_means import BY_PRECISION, POOLED, of_values

GROUPS = {"a": [4.1, 5.0, 4.7], "b": [5.9, 6.3, 5.2, 6.0], "c": [4.9, 5.5, 5.8, 5.1]}
LABELS, VALUES = np.repeat(list(GROUPS), [len(v) for v in GROUPS.values()]), np.concatenate(list(GROUPS.values()))


def test_two_treatments_are_the_t_test():
    """scipy.stats.ttest_ind, equal variances."""
    means = of_values(LABELS[:7], VALUES[:7])
    found = stats.ttest_ind(GROUPS["b"], GROUPS["a"])
    span = found.confidence_interval(0.95)
    assert (means.model, means.df) == (POOLED, 5)
    assert means.difference("b", "a", t_quantile(0.95, 5))[1:] == pytest.approx((span.low, span.high), abs=1e-12)
    assert means.statistic("b", "a") == pytest.approx(found.statistic, abs=1e-12)
    assert means.statistic("b", "a", means.difference("b", "a", 0)[0]) == pytest.approx(0, abs=1e-12)


def test_three_treatments_share_the_variance_of_the_analysis_of_variance():
    """scipy.stats.tukey_hsd pools over the groups: its standard error is (upper - difference) / (q / sqrt 2)."""
    tukey = stats.tukey_hsd(*GROUPS.values())
    high = tukey.confidence_interval(0.95).high[1, 2] - tukey.statistic[1, 2]
    error = high / (stats.studentized_range.ppf(0.95, 3, 8) / np.sqrt(2))
    value, low, high = of_values(LABELS, VALUES).difference("b", "c", 1.0)
    assert (value, high - value, value - low) == pytest.approx((tukey.statistic[1, 2], error, error), abs=1e-9)


def test_loadings_are_those_of_numbers():
    """Dunnett 1964: sqrt(n_i / (n_0 + n_i)) with equal variances."""
    assert of_values(LABELS, VALUES).loadings(("b", "c"), "a") == pytest.approx(np.sqrt([4 / 7, 4 / 7]), abs=1e-12)


def test_unlike_precision_solves_the_equation_of_paule_and_mandel():
    """Arithmetic: sums of squares 8 and 2 on 2 df each, own variances 1 and 0.1: 8 / (T + 1) + 2 / (T + 0.1) = 4."""
    means = of_values(list("aaabbb"), [-2, 0, 2, -1, 0, 1], [1, 1, 1, 0.1, 0.1, 0.1])
    between = np.roots([4, -5.6, -2.4]).max()  # 4 T^2 + (4.4 - 10) T + (0.4 - 2.8) = 0
    assert means.model == BY_PRECISION
    assert means.variances == pytest.approx((between + np.array([1, 0.1])) / 3, abs=1e-9)


def test_less_variation_than_sampling_scales_the_own_variances_down():
    """Arithmetic: 8 / 100 + 2 / 10 on 4 df is 0.07; variances 100 and 10 become 7 and 0.7."""
    means = of_values(list("aaabbb"), [-2, 0, 2, -1, 0, 1], [100, 100, 100, 10, 10, 10])
    assert means.variances == pytest.approx([7 / 3, 0.7 / 3], abs=1e-12)


def test_equal_precision_changes_nothing():
    plain, equal = of_values(LABELS, VALUES), of_values(LABELS, VALUES, np.full(VALUES.size, 0.3))
    assert (plain.variances == equal.variances).all()


@pytest.mark.parametrize(("labels", "values"), [("ab", [1, 2]), ("aabb", [1, 1, 2, 2])])
def test_nothing_to_judge_by(labels, values):
    assert of_values(list(labels), values) is None
