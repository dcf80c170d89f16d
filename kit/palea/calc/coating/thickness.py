"""How thick a coat is, from its mass, its density and the shape of the seed. Say which shape was taken.

Two shapes: a sphere, and a spheroid of length and width. On a spheroid "equal thickness" has two meanings: the same
amount added to every half-axis, or a truly parallel coat, which is a little thinner for the same mass.
"""

import numpy as np
from scipy import optimize

from palea.calc.checked import above_zero, not_below_zero

SPHERE, SPHEROID = "sphere", "spheroid"


def coat_volume(seed_mm3, seed_g_cm3, build_up_percent, coat_g_cm3):
    """Volume of the coat on one seed [mm3]: seed volume x its density x B / 100 / coat density; B >= 0."""
    seed_mg = above_zero(seed_mm3, "seed_mm3") * above_zero(seed_g_cm3, "seed_g_cm3")
    coat_mg = seed_mg * not_below_zero(build_up_percent, "build_up_percent") / 100
    return coat_mg / above_zero(coat_g_cm3, "coat_g_cm3")


def on_sphere(diameter_mm, seed_g_cm3, build_up_percent, coat_g_cm3):
    """Thickness on a ball [mm]: ((6 (V + V_coat) / pi)^(1/3) - d) / 2.

    diameter_mm : d of the bare seed.  seed_g_cm3, coat_g_cm3 : densities, the coat's with its pores.
    build_up_percent : coat per bare seed, dry matter, >= 0.  Arrays broadcast. UnfitValue outside these.
    Source: derived by hand.

    >>> float(on_sphere(2.0, 1.2, 100, 1.5).round(6))
    0.21644
    """
    diameter = above_zero(diameter_mm, "diameter_mm")
    seed = np.pi / 6 * diameter**3
    both = seed + coat_volume(seed, seed_g_cm3, build_up_percent, coat_g_cm3)
    return (np.cbrt(6 * both / np.pi) - diameter) / 2


def spheroid_volume(half_width_mm, half_length_mm):
    """4/3 pi a^2 c [mm3]."""
    a, c = above_zero(half_width_mm, "half_width_mm"), above_zero(half_length_mm, "half_length_mm")
    return 4 / 3 * np.pi * a**2 * c


def spheroid_surface(half_width_mm, half_length_mm):
    """Surface of a spheroid [mm2], long (c > a), flat (c < a) or a ball.

    >>> float(spheroid_surface(0.5, 2.0).round(4))
    10.1244
    """
    a, c = np.broadcast_arrays(above_zero(half_width_mm, "half_width_mm"), above_zero(half_length_mm, "half_length_mm"))
    long, flat = np.sqrt(np.maximum(1 - (a / c) ** 2, 0)), np.sqrt(np.maximum(1 - (c / a) ** 2, 0))
    with np.errstate(divide="ignore", invalid="ignore"):
        of_long = 2 * np.pi * a**2 * (1 + c / (a * long) * np.arcsin(long))
        of_flat = 2 * np.pi * a**2 * (1 + (1 - flat**2) / flat * np.arctanh(flat))
    return np.select([long > 1e-7, flat > 1e-7], [of_long, of_flat], 4 * np.pi * a**2)


def mean_curvature(half_width_mm, half_length_mm):
    """Mean curvature integrated over a spheroid [mm]: 4 pi for a ball of radius 1.

    Long: 2 pi c + 2 pi a^2 / sqrt(c^2 - a^2) x arcosh(c / a); flat: with arccos. Source: Steiner's formula, textbooks.
    """
    a, c = np.broadcast_arrays(above_zero(half_width_mm, "half_width_mm"), above_zero(half_length_mm, "half_length_mm"))
    ratio, apart = c / a, np.sqrt(np.abs(c**2 - a**2))
    with np.errstate(divide="ignore", invalid="ignore"):
        angle = np.where(ratio > 1, np.arccosh(np.maximum(ratio, 1)), np.arccos(np.minimum(ratio, 1)))
        curved = 2 * np.pi * c + 2 * np.pi * a**2 / apart * angle
    return np.where(apart > 1e-7 * a, curved, 4 * np.pi * a)


def on_half_axes(half_width_mm, half_length_mm, seed_g_cm3, build_up_percent, coat_g_cm3):
    """Thickness t on a spheroid [mm] whose half-axes each grow by t: 4/3 pi (a + t)^2 (c + t) = V + V_coat.

    Scalars. Errors as `on_sphere`. Source: derived by hand.

    >>> round(on_half_axes(0.5, 2.0, 1.2, 150, 1.4), 6)
    0.217845
    """
    seed = float(spheroid_volume(half_width_mm, half_length_mm))
    both = seed + float(coat_volume(seed, seed_g_cm3, build_up_percent, coat_g_cm3))
    return _thickness(lambda t: float(spheroid_volume(half_width_mm + t, half_length_mm + t)) - both, both)


def parallel(half_width_mm, half_length_mm, seed_g_cm3, build_up_percent, coat_g_cm3):
    """Thickness t of a coat that is equally thick everywhere on a spheroid [mm]: S t + M t^2 + 4/3 pi t^3 = V_coat.

    S surface, M integrated mean curvature. Scalars. Errors as `on_sphere`. Source: Steiner's formula, textbooks.

    >>> round(parallel(0.5, 2.0, 1.2, 150, 1.4), 6)
    0.203954
    """
    seed = float(spheroid_volume(half_width_mm, half_length_mm))
    coat = float(coat_volume(seed, seed_g_cm3, build_up_percent, coat_g_cm3))
    surface = float(spheroid_surface(half_width_mm, half_length_mm))
    curvature = float(mean_curvature(half_width_mm, half_length_mm))
    return _thickness(lambda t: surface * t + curvature * t**2 + 4 / 3 * np.pi * t**3 - coat, coat)


def thin(half_width_mm, half_length_mm, seed_g_cm3, build_up_percent, coat_g_cm3):
    """Thickness as if the surface were flat [mm]: V_coat / S; an upper bound, good for films only."""
    seed = spheroid_volume(half_width_mm, half_length_mm)
    coat = coat_volume(seed, seed_g_cm3, build_up_percent, coat_g_cm3)
    return coat / spheroid_surface(half_width_mm, half_length_mm)


def _thickness(excess, volume):
    most = np.cbrt(6 * volume / np.pi) + 1.0
    return 0.0 if excess(0.0) >= -1e-15 else float(optimize.brentq(excess, 0.0, most, xtol=1e-14))
