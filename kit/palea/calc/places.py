"""A place on a grid by sensitivity. Generalised, never jittered: the same place always lands on the same cell."""

import numpy as np

METRES_A_DEGREE = 111_320.0  # of latitude, on a sphere of 6378 km; good to 0.6 % anywhere


def on_grid(degrees, cell):
    """Centre of the grid cell that a coordinate lies in.

    degrees : (n,) latitude or longitude.  cell : (n,) width of a cell in degrees, > 0; broadcast.
    Returns (n,); nan where missing. Rounded to the digits that the cell leaves, so no exact digit remains.
    Source: chapman-2020 (generalise on a grid, never randomise).

    >>> on_grid(51.2871, 0.1).round(3)
    np.float64(51.25)
    """
    degrees, cell = np.asarray(degrees, dtype=float), np.asarray(cell, dtype=float)
    # A coordinate such as 0.3 lies on the edge of a cell of 0.1 but just below it in binary; the nudge puts it back.
    return np.round((np.floor(degrees / cell + 1e-9) + 0.5) * cell, 6)


def uncertainty_m(cell, latitude):
    """Half the diagonal of a cell, in metres: how far the true place can be from the cell's centre.

    cell : (n,) degrees.  latitude : (n,) degrees; where missing the equator is taken, which is the widest.
    Source: chapman-2020 (uncertainty covers the generalised cell).
    """
    cell, latitude = np.asarray(cell, dtype=float), np.nan_to_num(np.asarray(latitude, dtype=float))
    return 0.5 * cell * METRES_A_DEGREE * np.sqrt(1 + np.cos(np.radians(latitude)) ** 2)
