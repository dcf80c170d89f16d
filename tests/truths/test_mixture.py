"""Lacey's index against a worked figure."""

import numpy as np
import pytest

from palea.calc.handling.mixture import lacey_index

SHARES = [0.28, 0.33, 0.25, 0.35, 0.31, 0.27, 0.30, 0.36, 0.24, 0.31]


def test_lacey_index_may_exceed_one():
    """Lacey 1954 (formula); p .3, n 100, s2 .001622222: M 1.002298, computed by hand."""
    assert np.var(SHARES, ddof=1) == pytest.approx(0.001622222, abs=5e-10)
    assert lacey_index(SHARES, 0.3, 100) == pytest.approx(1.002298, abs=5e-7)


def test_wholly_apart_is_zero():
    """Derived by hand: samples that are all of one part or all of the other have the variance p (1 - p)."""
    shares = [1.0] * 3 + [0.0] * 3
    apart = 0.25 * 6 / 5  # divisor n - 1
    assert lacey_index(shares, 0.5, 50) == pytest.approx((0.25 - apart) / (0.25 - 0.005), rel=1e-12)
    assert lacey_index([0.5, 0.5], 0.5, 50) == pytest.approx(0.25 / 0.245, rel=1e-12)
