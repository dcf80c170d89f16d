"""Laws of putting a place on a grid."""

import numpy as np
import pytest

from palea.calc.places import on_grid, uncertainty_m


@pytest.mark.parametrize("cell", [0.001, 0.01, 0.1, 1.0])
def test_a_place_lands_in_the_middle_of_its_own_cell(cell):
    places = np.linspace(-89.97, 89.97, 2001)
    centres = on_grid(places, cell)
    assert (np.abs(centres - places) <= cell / 2 + 1e-6).all()
    assert np.allclose(on_grid(centres, cell), centres, atol=1e-9), "a centre stays where it is"


def test_no_digit_finer_than_the_cell_is_left():
    assert on_grid([52.123456, 52.187654], 0.1).tolist() == [52.15, 52.15]


def test_missing_stays_missing():
    assert np.isnan(on_grid([np.nan], 0.1)).all()


def test_uncertainty_covers_the_corner_of_the_cell():
    """At the equator a degree is 111.32 km both ways, so the half diagonal of 0.1 degree is 7.87 km; it shrinks poleward."""
    assert uncertainty_m(0.1, 0.0) == pytest.approx(0.05 * 111_320 * 2**0.5)
    assert uncertainty_m(0.1, 60.0) == pytest.approx(0.05 * 111_320 * 1.25**0.5)
