"""Water potential of solutions and of air, [MPa], negative; and what to weigh for a potential that is wanted.

Temperature is always the one at which the solution is used: one mixed for 20 Cel is weaker at 30 Cel.
"""

import numpy as np

from palea.calc.checked import not_below_zero, within
from palea.errors import UnfitValue

GAS_CONSTANT = 8.314462618  # J/(mol K), exact in the SI of 2019
ZERO_CELSIUS = 273.15
MPA_A_BAR = 0.1
WATER_MOLAR_MASS = 18.0153  # g/mol
MICHEL, MICHEL_KAUFMANN = "michel-1983", "michel-kaufmann-1973"
# Psi [bar] = a C + b C^2 + (c C + d C^2) T with C in g/kg water, T in Cel; and the range that was measured
COEFFICIENTS = {
    MICHEL: (-4.0e-3, -1.40e-4, 0.0, 1.29e-6, (5, 40), 800.0),
    MICHEL_KAUFMANN: (-1.18e-2, -1.18e-4, 2.67e-4, 8.39e-7, (15, 35), 400.0),
}


def peg_potential(g_per_kg, temperature_c, equation=MICHEL):
    """Water potential of polyethylene glycol 8000 (formerly 6000) in water [MPa].

    g_per_kg : grams per kg of water, >= 0.  temperature_c : [Cel].  equation : "michel-1983" (5 to 40 Cel, to 800
    g/kg; 5 % either way) or "michel-kaufmann-1973" (15 to 35 Cel, here to 400 g/kg). At 20 and 25 Cel the two agree
    within 6 % from 120 to 300 g/kg, within 8 % at 100.
    Raises UnfitValue outside temperature or concentration that the equation was measured for, or for another equation.
    Source: Michel 1983, Plant Physiol. 72:66 (abstract read); Michel & Kaufmann 1973, Plant Physiol. 51:914 (equation
    from memory).

    >>> peg_potential([100, 200], 25).round(5)
    array([-0.14775, -0.511  ])
    """
    linear, square = _per_g(temperature_c, equation)
    most = COEFFICIENTS[equation][5]
    content = within(g_per_kg, "g_per_kg", 0, most, f"0 to {most:g} g per kg of water for {equation}")
    return MPA_A_BAR * (linear * content + square * content**2)


def peg_for(potential_mpa, temperature_c, equation=MICHEL):
    """Grams of PEG per kg of water for a water potential [MPa, <= 0]: the inverse of `peg_potential`, with its errors.

    >>> peg_for([-0.4, -1.0], 20).round(1)
    array([170.5, 278.9])
    """
    wanted = within(potential_mpa, "potential_mpa", -np.inf, 0, "0 or below: water potential is negative") / MPA_A_BAR
    linear, square = _per_g(temperature_c, equation)
    content = (-linear - np.sqrt(linear**2 + 4 * square * wanted)) / (2 * square)
    most = COEFFICIENTS[equation][5]
    return within(content, "potential_mpa needs a content that", 0, most, f"at most {most:g} g per kg of water")


def _per_g(temperature_c, equation):
    """(bar per C, bar per C^2) at this temperature."""
    if equation not in COEFFICIENTS:
        msg = f"equation is “{equation}”; allowed are {' and '.join(COEFFICIENTS)}."
        raise UnfitValue(msg)
    a, b, c, d, (low, high), _ = COEFFICIENTS[equation]
    at = within(temperature_c, "temperature_c", low, high, f"{low} to {high} Cel, the range of {equation}")
    return a + c * at, b + d * at


def ideal_potential(molar, particles, temperature_c):
    """Water potential of an ideal solution [MPa]: - i c R T (van 't Hoff). Call it ideal wherever it is shown.

    molar : [mol/L] >= 0.  particles : i, particles that one formula unit falls into (mannitol 1, NaCl 2).
    Real NaCl is 7 % weaker at 0.1 mol/kg; strong or concentrated salts need an osmotic coefficient: `salt_potential`.
    Source: van 't Hoff 1887; R of the SI.

    >>> float(ideal_potential(0.1, 2, 25).round(5))
    -0.49579
    """
    return -particles * not_below_zero(molar, "molar") * _rt(temperature_c) / 1000


def salt_potential(molal, particles, osmotic_coefficient, temperature_c):
    """Water potential of a real solution [MPa]: - i m phi R T rho_w, m in mol per kg of water.

    osmotic_coefficient : phi from a table for this salt and m; 1 is ideal.
    Source: Robinson & Stokes 1959, Electrolyte solutions (definition, from memory).

    >>> float(salt_potential(0.5, 2, 0.9222, 25).round(3))  # NaCl
    -2.279
    """
    ions = particles * not_below_zero(molal, "molal") * osmotic_coefficient
    return -ions * _rt(temperature_c) * water_density(temperature_c) / 1000


def humidity_potential(humidity_pct, temperature_c):
    """Water potential of air at a relative humidity [MPa]: (R T / V_w) ln RH (Kelvin).

    humidity_pct : above 0 to 100. Raises UnfitValue outside.
    Source: Kelvin equation; density of water: Tanaka et al. 2001, Metrologia 38:301 (from memory).

    >>> float(humidity_potential(75.3, 25).round(2))
    -38.92
    """
    humidity = within(humidity_pct, "humidity_pct", 0, 100, "above 0 to 100 %", open_low=True)
    return _rt(temperature_c) * water_density(temperature_c) / WATER_MOLAR_MASS * np.log(humidity / 100)


def water_density(temperature_c):
    """Density of pure water at one atmosphere [g/mL], 0 to 40 Cel.

    Source: Tanaka et al. 2001, Metrologia 38:301 (from memory).

    >>> water_density([20, 25]).round(5)
    array([0.99821, 0.99705])
    """
    t = within(temperature_c, "temperature_c", 0, 40, "0 to 40 Cel")
    return 0.99997495 * (1 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def _rt(temperature_c):
    """R T in J/mol; / 1000 in L MPa/mol."""
    kelvin = within(temperature_c, "temperature_c", -ZERO_CELSIUS, np.inf, "above absolute zero", open_low=True)
    return GAS_CONSTANT * (kelvin + ZERO_CELSIUS)
