"""Humidity of air over a saturated salt solution in a closed vessel."""

import numpy as np

from palea.calc.checked import above_zero, within

ZERO_CELSIUS = 273.15


def salt_humidity(a, b, temperature_c):
    """Relative humidity over a saturated solution [%]: A exp(B / T), T in kelvin.

    a, b : constants of the salt in the handbook's table (NaCl 69.20 and 25).  temperature_c : [Cel], 5 to 60; the fit
    is good to about 2 points of humidity.
    Source: CRC Handbook, Constant humidity solutions (Wexler), after Greenspan 1977.

    >>> float(salt_humidity(49.38, 159, 25).round(1))  # KCl
    84.2
    """
    kelvin = within(temperature_c, "temperature_c", 5, 60, "5 to 60 Cel") + ZERO_CELSIUS
    return above_zero(a, "a") * np.exp(np.asarray(b, float) / kelvin)
