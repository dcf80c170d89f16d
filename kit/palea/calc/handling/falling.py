"""How fast a seed falls in still air: what an air screen blows out and what the wind carries off."""

import numpy as np

from palea.calc.checked import above_zero
from palea.errors import UnfitValue

GRAVITY = 9.80665  # m/s2
AIR_DENSITY, AIR_VISCOSITY = 1.2041, 1.825e-5  # kg/m3 and Pa s: dry air at 20 °C and 101.325 kPa
_ROUNDS = 60


def drag(reynolds):
    """Drag coefficient of a smooth ball, Reynolds number above 0 and below 3e5.

    24 / Re (1 + 0.27 Re)^0.43 + 0.47 (1 - exp(-0.04 Re^0.38)); Stokes' 24 / Re where Re is small.
    Source: Cheng 2009, Powder Technol. 189:395-398 (from memory, checked against other correlations).
    """
    reynolds = np.asarray(reynolds, float)
    return 24 / reynolds * (1 + 0.27 * reynolds) ** 0.43 + 0.47 * (1 - np.exp(-0.04 * reynolds**0.38))


def stokes_velocity(diameter_m, density, fluid_density=AIR_DENSITY, viscosity=AIR_VISCOSITY):
    """Speed by Stokes' law, g d2 (density - fluid density) / (18 viscosity) [m/s]: good for
    Reynolds numbers below 0.1.

    Source: Stokes 1851, Trans. Camb. Philos. Soc. 9:8.
    """
    diameter_m, density = _checked(diameter_m, density, fluid_density)
    return GRAVITY * diameter_m**2 * (density - fluid_density) / (18 * viscosity)


def terminal_velocity(diameter_m, density, fluid_density=AIR_DENSITY, viscosity=AIR_VISCOSITY):
    """Speed at which a ball falls in the end [m/s], shapes as diameter_m and density broadcast.

    diameter_m : m, > 0.  density, fluid_density : kg/m3, density above that of the fluid.  viscosity : Pa s.
    A seed with awns, wings or a flat shape falls slower: for such seed this is an upper bound, which is to be said.
    Raises UnfitValue for a diameter not above 0 or a density not above that of the fluid.
    Source: balance of weight, buoyancy and drag; drag of a ball after Cheng 2009 (within about 3 % of other
    correlations).

    >>> float(terminal_velocity(2e-3, 1300).round(1))
    7.8
    """
    diameter_m, density = _checked(diameter_m, density, fluid_density)
    weight = 4 * GRAVITY * diameter_m * (density - fluid_density) / (3 * fluid_density)
    low, high = np.full(diameter_m.shape, 1e-12), np.sqrt(weight / 0.05)  # drag is nowhere below 0.05
    for _ in range(_ROUNDS):  # halving on the log scale: v2 drag(v) rises with v
        middle = np.sqrt(low * high)
        faster = middle**2 * drag(fluid_density * middle * diameter_m / viscosity) < weight
        low, high = np.where(faster, middle, low), np.where(faster, high, middle)
    return np.sqrt(low * high)


def _checked(diameter_m, density, fluid_density):
    diameter_m, density = np.broadcast_arrays(above_zero(diameter_m, "diameter_m"), np.asarray(density, float))
    if (density <= fluid_density).any():
        msg = f"density is {density.min():g} kg/m3; it must lie above that of the fluid, {fluid_density:g}, to fall."
        raise UnfitValue(msg)
    return diameter_m, density
