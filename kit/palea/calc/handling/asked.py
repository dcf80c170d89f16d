"""What the seeder asks: the rate of product for so many live seeds, the turns of a calibration, the setting."""

import numpy as np

from palea.calc.checked import above_zero
from palea.calc.formula import number, shown
from palea.calc.handling.rates import bare_rate, calibration_turns, grams_to_catch, rate_for_live_seeds
from palea.calc.results import NOTHING, Estimate, Values
from palea.calc.units import per
from palea.errors import UnfitValue

PRODUCT, BARE, TO_WEIGH = "sowing rate of product", "sowing rate of bare seed", "mass to weigh"
TURNS, TO_CATCH, SETTING = "turns of the wheel", "mass to catch", "setting of the seeder"
KG_HA = per("kg", "har")
RATE = "live seeds x TSW x (1 + B / 100) / (100 x live x pure)"


def rate(live_m2=300.0, tsw_g=2.7, live_pct=90.0, build_up_pct=0.0, pure_pct=100.0, area_m2=0.0):
    """Product to sow a hectare for so many live seeds on a square metre -> Values.

    tsw_g : thousand-seed weight of bare seed.  live_pct : live of seed units (germinated and waiting).  build_up_pct :
    coat on bare seed.  pure_pct : pure seed in the mass of bare seed.  area_m2 : to be sown; 0: not asked.
    Raises UnfitValue for shares outside (0, 100] or masses not above 0.
    Source: pure live seed, common practice; the coat added to bare seed.

    >>> [round(e.value, 2) for e in rate(125 / 3, build_up_pct=60).estimates]
    [2.0, 1.25]
    """
    product, told = _product(live_m2, tsw_g, live_pct, build_up_pct, pure_pct)
    found = [Estimate(PRODUCT, NOTHING, product, unit=KG_HA)]
    if build_up_pct:
        bare = float(bare_rate(product, build_up_pct))
        told.append(shown("bare", "rate / (1 + B / 100)", f"{number(product)} kg/ha / {1 + build_up_pct / 100:g}", bare, "kg/ha"))
        found.append(Estimate(BARE, NOTHING, bare, unit=KG_HA))
    if area_m2:
        mass = float(grams_to_catch(product, area_m2))
        told.append(_mass(product, area_m2, mass))
        found.append(Estimate(TO_WEIGH, NOTHING, mass, unit="g"))
    return Values(method=" ".join(told), estimates=tuple(found), assumptions=_of_bare(build_up_pct))


def _product(live_m2, tsw_g, live_pct, build_up_pct, pure_pct):
    product = float(rate_for_live_seeds(live_m2, tsw_g, live_pct / 100, build_up_pct, pure_pct / 100))
    filled = (
        f"{live_m2:g} /m2 x {tsw_g:g} g x {1 + build_up_pct / 100:g} / (100 x {live_pct / 100:g} x {pure_pct / 100:g})"
    )
    return product, [shown("rate", RATE, filled, product, "kg/ha")]


def _mass(product, area_m2, mass):
    return shown("m", "rate x area / 10", f"{number(product)} kg/ha x {area_m2:g} m2 / 10", mass, "g")


def _of_bare(build_up_pct):
    coat = f" {build_up_pct:g} % of coat is on it, so a kilogram of product is not a kilogram of seed." if build_up_pct else ""
    return (f"TSW and live seed are of bare seed; B is the coat in % of it.{coat}",)


def setting(
    live_m2=300.0, tsw_g=2.7, live_pct=90.0, build_up_pct=0.0, pure_pct=100.0, area_m2=100.0, width_m=2.0, wheel_m=1.0,
    tried="",
):  # fmt: skip
    """Turns of the wheel for a calibration, what it should catch, and the setting between those that were tried -> Values.

    First arguments as in `rate`.  area_m2 : that the calibration stands for.  width_m : sown by the machine.  wheel_m :
    way that one turn of the wheel covers, measured under load.  tried : settings and what they caught over that area [g],
    as "3: 55; 5: 102"; between two neighbours in a straight line, never beyond the last; "" none.
    Raises UnfitValue for values not above 0, or text that is no such list.
    Source: arithmetic (area over width times way of a turn); a straight line between two settings: common practice.

    >>> [round(e.value, 1) for e in setting(tried="3: 55; 5: 102").estimates]
    [9.0, 50.0, 90.0, 4.5]
    """
    product, told = _product(live_m2, tsw_g, live_pct, build_up_pct, pure_pct)
    turns, mass = float(calibration_turns(area_m2, width_m, wheel_m)), float(grams_to_catch(product, area_m2))
    told += [shown("turns", "area / (width x way of a turn)", f"{area_m2:g} m2 / ({width_m:g} m x {wheel_m:g} m)", turns),
             _mass(product, area_m2, mass)]
    found = [Estimate(PRODUCT, NOTHING, product, unit=KG_HA), Estimate(TURNS, NOTHING, turns, unit="1"),
             Estimate(TO_CATCH, NOTHING, mass, unit="g")]
    between, doubts = _between(_tried(tried), mass)
    if between:
        value, formula = between
        told.append(formula)
        found.append(Estimate(SETTING, NOTHING, value, unit="1"))
    return Values(method=" ".join(told), estimates=tuple(found), warnings=doubts, assumptions=(
        *_of_bare(build_up_pct), "Slip of the wheel is not allowed for: measure its way over the ground that will be sown."))


def _tried(text):
    """[(setting, caught)] in order of what was caught."""
    pairs = [part.split(":") for part in text.split(";") if part.strip()]
    try:
        found = [(float(at), float(above_zero(float(caught), "caught"))) for at, caught in pairs]
    except ValueError:
        msg = f"tried is “{text}”; write settings and grams caught as 3: 55; 5: 102."
        raise UnfitValue(msg) from None
    return sorted(found, key=lambda pair: pair[1])


def _between(tried, mass):
    """((setting, formula) or None, doubts)."""
    if not tried:
        return None, ()
    caught = np.array([grams for _, grams in tried])
    if len(tried) < 2 or not caught[0] <= mass <= caught[-1]:
        return None, (f"{number(mass)} g do not lie between what two settings caught: try another setting, none is guessed.",)
    upper = max(1, int(np.searchsorted(caught, mass)))
    (low, low_g), (high, high_g) = tried[upper - 1], tried[upper]
    value = low + (high - low) * (mass - low_g) / (high_g - low_g)
    filled = f"{low:g} + ({high:g} - {low:g}) x ({number(mass)} g - {low_g:g} g) / ({high_g:g} g - {low_g:g} g)"
    formula = shown("setting", "low + (high - low) x (wanted - caught low) / (caught high - caught low)", filled, value)
    return (value, formula), ("Catch again at that setting before you sow: between two settings no straight line is certain.",)
