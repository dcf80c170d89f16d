"""From a setting of the seeder to live seeds on the ground: calibration, sowing rates, and the coat taken off them.

A kilogram of coated product is not a kilogram of seed: every rate here says which of the two it is of.
"""

import numpy as np

from palea.calc.checked import above_zero, not_below_zero, share

PER_HECTARE = 1e4  # m2


def calibrated_rate(delivered_g, width_m, length_m):
    """What was caught over a strip, as a rate of product [kg/ha]: 10 g / (width x length).

    delivered_g : g.  width_m, length_m : of the strip that it would have been sown on, m; for single rows the row
    distance is the width.  Raises UnfitValue for a width or length not above 0, or a negative mass.
    Source: arithmetic (mass per area).

    >>> float(calibrated_rate(3.75, 0.2286, 30.48).round(2))
    5.38
    """
    delivered_g = not_below_zero(delivered_g, "delivered_g")
    return 1e-3 * delivered_g * PER_HECTARE / (above_zero(width_m, "width_m") * above_zero(length_m, "length_m"))


def calibration_turns(area_m2, width_m, wheel_m):
    """How often to turn the wheel to have sown an area: area / (width x way of one turn).

    wheel_m : way that one turn of the wheel covers, measured under load; slip is not allowed for.
    Raises UnfitValue for values not above 0.  Source: arithmetic.

    >>> float(calibration_turns(100.0, 8.0, 0.625))
    20.0
    """
    return above_zero(area_m2, "area_m2") / (above_zero(width_m, "width_m") * above_zero(wheel_m, "wheel_m"))


def grams_to_catch(rate_kg_ha, area_m2):
    """Mass that a calibration over `area_m2` should deliver at a wanted rate of product [g].  Source: arithmetic."""
    return 1e3 * not_below_zero(rate_kg_ha, "rate_kg_ha") * above_zero(area_m2, "area_m2") / PER_HECTARE


def sowing_rate(plants_m2, tsw_g, *shares):
    """Rate that should give so many plants [kg/ha]: plants x TSW / (100 x shares).

    plants_m2 : wanted per m2.  tsw_g : thousand-seed weight of what is sown, g.  shares : each in (0, 1], as
    germination, purity by number, establishment; their product is the share that becomes a plant.
    Raises UnfitValue for a share outside (0, 1] or a mass not above 0.
    Source: common practice (the formula of farm advisers).

    >>> float(sowing_rate(300, 51.9, 0.85).round(1))
    183.2
    """
    plants = not_below_zero(plants_m2, "plants_m2")
    return plants * above_zero(tsw_g, "tsw_g") / (100 * _product(shares))


def seeds_per_m2(rate_kg_ha, tsw_g):
    """Seed units on a square metre at a rate: 100 x rate / TSW. Rate and TSW of the same thing: product or bare seed.

    >>> float(seeds_per_m2(2, 1e6 / 450_000).round(6))
    90.0
    """
    return 100 * not_below_zero(rate_kg_ha, "rate_kg_ha") / above_zero(tsw_g, "tsw_g")


def coat_share(build_up_pct):
    """Share of the mass of a coated product that is coat: B / (100 + B), B the build-up in % of bare seed.

    Raises UnfitValue for a build-up below 0.  Source: arithmetic.

    >>> float(coat_share(60))
    0.375
    """
    build_up = not_below_zero(build_up_pct, "build_up_pct")
    return build_up / (100 + build_up)


def bare_rate(rate_kg_ha, build_up_pct):
    """Rate of bare seed within a rate of coated product [kg/ha]: rate / (1 + B / 100).  Source: arithmetic.

    >>> float(bare_rate(2.0, 60))
    1.25
    """
    return not_below_zero(rate_kg_ha, "rate_kg_ha") * (1 - coat_share(build_up_pct))


def live_seeds_per_m2(rate_kg_ha, tsw_g, live, build_up_pct=0.0, pure=1.0):
    """Live seeds on a square metre: 100 x bare rate x pure / TSW x live.

    rate_kg_ha : of product as it lies in the hopper.  tsw_g : of bare seed.  live : share of seed units that are alive
    (germinated and waiting).  build_up_pct : % of bare seed mass; 0: bare.  pure : share of pure seed in the mass of
    bare seed.  Raises UnfitValue for shares outside [0, 1] or masses not above 0.
    Source: pure live seed, common practice; the coat taken off first.

    >>> float(live_seeds_per_m2(2.0, 2.7, 0.9, build_up_pct=60).round(1))
    41.7
    """
    of_seed = bare_rate(rate_kg_ha, build_up_pct) * share(pure, "pure")
    return seeds_per_m2(of_seed, tsw_g) * share(live, "live")


def rate_for_live_seeds(live_m2, tsw_g, live, build_up_pct=0.0, pure=1.0):
    """Rate of product that gives so many live seeds on a square metre [kg/ha]: `live_seeds_per_m2` the other way.

    Raises UnfitValue also where live or pure is 0: then no rate will do.
    """
    bare = not_below_zero(live_m2, "live_m2") * above_zero(tsw_g, "tsw_g") / (100 * _product((live, pure)))
    return bare / (1 - coat_share(build_up_pct))


def cost_per_plant(cost_per_ha, seeds_m2, established):
    """Cost of one established plant: cost / (seeds per m2 x share established x 10 000).  Source: arithmetic."""
    plants = above_zero(seeds_m2, "seeds_m2") * _product((established,)) * PER_HECTARE
    return not_below_zero(cost_per_ha, "cost_per_ha") / plants



def _product(shares):
    product = np.prod([share(s, f"share {i}", open_low=True) for i, s in enumerate(shares, 1)], axis=0)
    return np.asarray(product, float)
