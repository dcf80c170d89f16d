"""Densities of sulphuric acid and humidities over salts, as handbooks give them."""

import numpy as np

from palea.calc.checked import within
from palea.errors import UnfitValue

# % w/w and g/mL at 20 Cel
SULPHURIC_ACID = ((0, 0.9982), (1, 1.0049), (5, 1.0318), (10, 1.0661), (20, 1.1398), (30, 1.2191), (40, 1.3028),
                  (50, 1.3952), (70, 1.6105))  # fmt: skip
HIGHEST = 70.0  # the density has its top between 70 and 100 %, where a straight line would mislead
SULPHURIC_MOLAR_MASS = 98.072
# A and B of RH = A exp(B / T)
SALTS = {
    "lithium chloride": (14.53, -75), "magnesium chloride": (29.26, 34), "calcium nitrate": (1.89, 981),
    "magnesium nitrate": (25.28, 220), "sodium bromide": (20.49, 308), "potassium iodide": (29.35, 254),
    "sodium nitrate": (26.94, 302), "sodium chloride": (69.20, 25), "ammonium chloride": (35.67, 235),
    "potassium bromide": (40.98, 203), "ammonium sulphate": (62.06, 79), "potassium chloride": (49.38, 159),
    "barium chloride": (69.99, 75), "potassium nitrate": (43.22, 225), "potassium sulphate": (86.75, 34),
}  # fmt: skip


def sulphuric_density(mass_percent):
    """Density of sulphuric acid at 20 Cel [g/mL], 0 to 70 % w/w, between rows of the table in a straight line.

    Within 0.005 g/mL of the full table. Raises UnfitValue above 70 %.
    Source: handbook table at 20 Cel (engineering tables, read in a stored copy); water: Tanaka et al. 2001.

    >>> float(sulphuric_density(50))
    1.3952
    """
    wanted = within(mass_percent, "mass_percent", 0, HIGHEST, f"0 to {HIGHEST:g} % w/w in this table")
    strengths, densities = zip(*SULPHURIC_ACID, strict=True)
    return np.interp(wanted, strengths, densities)


def salt_constants(salt):
    """(A, B) of a salt by its name; UnfitValue that names those that are known."""
    known = SALTS.get(str(salt).strip().casefold().replace("sulfate", "sulphate"))
    if known is None:
        msg = f"No humidity is held here for “{salt}”. Known are: {', '.join(SALTS)}."
        raise UnfitValue(msg)
    return known
