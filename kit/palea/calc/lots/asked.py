"""What the store asks: pure live seed, the mass to dry to, and the humidity over a salt."""

from types import MappingProxyType

from palea.calc.checked import not_below_zero, within
from palea.calc.formula import number, shown
from palea.calc.lots.live_seed import bulk_rate, pure_live_seed_share
from palea.calc.lots.water import mass_at
from palea.calc.results import NOTHING, Estimate, Values
from palea.calc.solutions.densities import salt_constants
from palea.calc.solutions.humidity import ZERO_CELSIUS, salt_humidity

LIVE, TO_WEIGH, TO_REACH, HUMIDITY = "pure live seed", "mass to weigh", "mass to dry to", "humidity over the salt"


def live_share(purity_pct=98.0, germinated_pct=92.0, dormant_pct=5.0, wanted_g=0.0):
    """Pure live seed from purity and germination, and what to weigh of the bag for a mass of live seed -> Values.

    All in %; dormant (or hard) seed counts as alive.  wanted_g : pure live seed that is wanted; 0: not asked.
    Raises UnfitValue outside 0 to 100.
    Source: common practice; AASCO (total viable = germination + dormant + hard).

    >>> round(live_share().estimates[0].value, 2)
    95.06
    """
    share = float(pure_live_seed_share(purity_pct / 100, germinated_pct / 100, dormant_pct / 100))
    filled = f"{purity_pct:g} % x ({germinated_pct:g} % + {dormant_pct:g} %) / 100 %"
    told = [shown("live", "pure x (germinated + dormant) / 100 %", filled, 100 * share, "%")]
    found = [Estimate(LIVE, NOTHING, 100 * share)]
    if wanted_g:
        mass = float(bulk_rate(wanted_g, share))
        told.append(shown("m", "wanted / live", f"{wanted_g:g} g / {number(share)}", mass, "g"))
        found.append(Estimate(TO_WEIGH, NOTHING, mass, unit="g"))
    return Values(method=" ".join(told), estimates=tuple(found))


def dry_to(mass_g=1000.0, moisture_pct=25.0, target_pct=14.0):
    """The mass at which seed has dried to a water content -> Values.

    mass_g : as it lies on the balance now.  moisture_pct, target_pct : water now and wanted, % of moist seed (wet basis).
    Raises UnfitValue outside 0 to below 100.
    Source: conservation of dry matter; IRRI Rice Knowledge Bank (worked example).

    >>> round(dry_to().estimates[0].value)
    872
    """
    mass = float(mass_at(mass_g, moisture_pct / 100, target_pct / 100))
    filled = f"{mass_g:g} g x (100 - {moisture_pct:g}) / (100 - {target_pct:g})"
    more = ("That is wetter than it is now: it would have to take up water.",) if target_pct > moisture_pct else ()
    return Values(
        method=shown("m", "mass x (100 - water now) / (100 - water wanted)", filled, mass, "g"), warnings=more,
        estimates=(Estimate(TO_REACH, NOTHING, mass, unit="g"),),
        assumptions=("Both water contents are of moist seed (wet basis), and no dry matter is lost.",),
    )  # fmt: skip


def humidity_over(salt="magnesium chloride", temperature_c=20.0):
    """Relative humidity over a saturated solution of a salt in a closed vessel -> Values.

    Source: CRC Handbook, Constant humidity solutions (Wexler), after Greenspan 1977.

    >>> round(humidity_over("potassium chloride", 25).estimates[0].value, 1)
    84.2
    """
    a, b = salt_constants(salt)
    within(temperature_c, "temperature_c", 5, 60, "5 to 60 °C")
    humidity = float(not_below_zero(salt_humidity(a, b, temperature_c), "humidity"))
    filled = f"{a:g} x exp({b:g} K / {temperature_c + ZERO_CELSIUS:g} K)"
    return Values(
        method=shown("RH", "A x exp(B / T)", filled, humidity, "%"),
        estimates=(Estimate(HUMIDITY, MappingProxyType({"treatment": salt}), humidity),),
        assumptions=(
            "Solid salt must be left in the solution, and the vessel closed until nothing changes any more.",
            "The fit is good to about 2 points.",
        ),
    )  # fmt: skip
