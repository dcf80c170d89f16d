"""Uniformity of a row against worked figures."""

import numpy as np
import pytest

from palea.calc.handling.spacing import spacing, variation

GAPS = [9.5, 10.2, 4.0, 11.0, 20.5, 9.8, 10.4, 3.0, 8.9, 10.1, 16.0, 9.9, 10.3, 31.0, 9.7, 10.6, 5.0, 10.0, 14.9, 15.0]


def test_quality_of_feed():
    """Definitions of ISO 7256-1 as in Kachman & Smith 1995; figures computed by hand. 5.0 and 15.0 test the ends."""
    found = spacing(GAPS, 10)
    assert (found.multiples, found.misses, found.feed) == pytest.approx((15, 15, 70), abs=1e-12)
    assert found.singles == 14
    assert found.mean_single == pytest.approx(10.735714, abs=5e-7)
    assert found.precision == pytest.approx(18.541459, abs=5e-7), "divisor: the wanted gap"
    assert found.precision_of_mean == pytest.approx(17.2708, abs=5e-5), "divisor: the mean of the singles (Bracy & Parish)"
    assert found.variation == pytest.approx(53.0193, abs=5e-5)


def test_row_variation():
    """ISO 7256-2: 100 s / mean with divisor n - 1; figure computed by hand."""
    assert variation([102, 98, 101, 95, 104, 100, 99, 101]) == pytest.approx(2.725541, abs=5e-7)


def test_the_three_shares_make_a_hundred():
    """ISO 7256-1: quality of feed = 100 - multiples - misses."""
    for wanted in np.linspace(2, 40, 39):
        found = spacing(GAPS, wanted)
        assert found.feed + found.multiples + found.misses == pytest.approx(100, abs=1e-9)
