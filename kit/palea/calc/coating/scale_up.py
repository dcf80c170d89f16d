"""The same coat in another pan and for another mass of seed: what scales, by what, and what must be tried again."""

import numpy as np

from palea.calc.checked import above_zero, not_below_zero, share
from palea.calc.coating.gathered import batch_units, by_treatment, stacked
from palea.calc.results import Refusal, Values
from palea.calc.units import per

GRAVITY = 9.80665  # m/s2, standard
OF_CRITICAL, SPEED = "share of critical speed", "speed in the other pan"
LIQUID, POWDER = "liquid for the other batch", "powder for the other batch"
FILL = "fill of the pan"
UNTRIED = (
    "Time of a batch, number of cycles, air and drying do not scale by rule: try them, and write down what was done.",
    "Liquid and powder are kept per kg of seed, and the speed at the same share of the critical speed.",
)
GUARD = "A larger pan holds more energy: guards, dust extraction and the maker's speed limit come first."


def critical_speed(diameter_m, unit_m=0.0):
    """Speed at which a unit would stay on the wall of a drum [turns a minute]: 60 / (2 pi) sqrt(2 g / (D - d)).

    diameter_m : inner diameter D [m].  unit_m : diameter d of the units, 0 where they are small.
    Raises UnfitValue where D is not above d. Source: balance of weight and centrifugal force; 42.3 / sqrt(D).

    >>> critical_speed([0.3, 1.0]).round(2).tolist()
    [77.21, 42.29]
    """
    free = above_zero(np.asarray(diameter_m, float) - not_below_zero(unit_m, "unit_m"), "diameter_m - unit_m")
    return 60 / (2 * np.pi) * np.sqrt(2 * GRAVITY / free)


def same_share(speed_rpm, from_m, to_m, unit_m=0.0):
    """Speed in another drum at the same share of the critical speed: n sqrt((D1 - d) / (D2 - d)).

    Source: derived by hand from `critical_speed`.

    >>> float(same_share(40, 0.30, 0.90).round(1))
    23.1
    """
    return not_below_zero(speed_rpm, "speed_rpm") * critical_speed(to_m, unit_m) / critical_speed(from_m, unit_m)


def rescaled(amount, seed_g, to_seed_g):
    """Amount for another mass of seed at the same amount per kg: amount x to / from, in the unit of the amount."""
    return not_below_zero(amount, "amount") * not_below_zero(to_seed_g, "to_seed_g") / above_zero(seed_g, "seed_g")


def fill_share(bulk_l, drum_l):
    """Share of the drum that the seed fills: bulk volume / volume, 0 to 1."""
    return share(not_below_zero(bulk_l, "bulk_l") / above_zero(drum_l, "drum_l"), "bulk_l / drum_l")


def scale_up(batch_settings, to_seed_g=20_000.0, to_diameter_m=0.9, confidence=0.95):
    """What each treatment's coat takes for another batch size and pan -> Values.

    batch_settings : frame, one row a batch: taxon, treatment, batch, seed_g (bare), liquid_g, powder_g (all that was
    put in), speed_rpm (while coating), diameter_m, unit_m (diameter of the coated unit, nan: small), bulk_l, drum_l;
    nan where unknown: what hangs on it is left out.
    to_seed_g, to_diameter_m : the other batch and pan.
    Mean of the batches with a t interval between them: how well the amount is known from what was done.
    Refusal where no batch has seed mass with an amount, or speed with a diameter.
    Source: derived by hand (same amount per kg, same share of critical speed); common practice (what is to be tried).
    """
    small = batch_settings["unit_m"].fillna(0.0)
    critical = critical_speed(batch_settings["diameter_m"], small)
    rows = stacked(batch_settings, {
        LIQUID: rescaled(batch_settings["liquid_g"], batch_settings["seed_g"], to_seed_g),
        POWDER: rescaled(batch_settings["powder_g"], batch_settings["seed_g"], to_seed_g),
        OF_CRITICAL: 100 * batch_settings["speed_rpm"] / critical,
        SPEED: same_share(batch_settings["speed_rpm"], batch_settings["diameter_m"], to_diameter_m, small),
        FILL: 100 * fill_share(batch_settings["bulk_l"], batch_settings["drum_l"]),
    }).dropna(subset=["value"])  # fmt: skip
    if rows.empty:
        return Refusal(quantity=LIQUID, missing="No batch has seed mass with amounts, or speed with a diameter.",
                       remedy="Enter bare seed mass, liquid and powder put in, and speed and diameter of the pan.")
    units = {LIQUID: "g", POWDER: "g", SPEED: per("{rev}", "min"), OF_CRITICAL: "%", FILL: "%"}
    return Values(
        units=batch_units(rows), estimates=by_treatment(rows, confidence, units, lowest=0.0),
        warnings=(*UNTRIED, GUARD),
        method=f"For {to_seed_g:g} g of seed in a pan of {to_diameter_m:g} m: amounts per kg of seed and the share of "
        "the critical speed are kept. Mean of the batches with a t interval.",
        assumptions=("The seed has the same size, density and surface.",),
    )
