"""What the bench asks of liquids: how much stock for a dose, how strong a soak, what to weigh for a weaker acid.

Each answer is Values whose `method` is the formula with the numbers put into it. A question without tables: amounts in,
amounts out.
"""

from types import MappingProxyType

from palea.calc.checked import above_zero, not_below_zero
from palea.calc.formula import number, shown
from palea.calc.results import NOTHING, Estimate, Refusal, Values
from palea.calc.solutions.densities import HIGHEST, SULPHURIC_MOLAR_MASS, sulphuric_density
from palea.calc.solutions.strength import (
    ACID_CAUTION,
    acid_by_mass,
    millimolar,
    molarity,
    soak_strength,
    volume_for_dose,
)
from palea.calc.units import per, percent
from palea.errors import UnfitValue

VOLUME, TO_WEIGH, TO_MAKE = "volume to measure", "mass to weigh", "strength to make"
IN_CARRIER, MOLAR = "strength by volume", "strength in moles"
MG_L = per("mg", "L")
G_L_A_PERCENT = 10.0  # 1 % w/v is 10 g/L, which is also 10 mg/mL
WETS_ML_G = 0.05  # less than this a gram does not wet seed evenly: common practice, no source
SULPHURIC = "sulphuric acid"


def stock_for_dose(
    seed_g=40.0, dose_mg_kg=200.0, strength_pct=2.0, purity_pct=100.0, stays_pct=100.0, carrier_ml=0.0
):  # fmt: skip
    """Volume of a stock solution that brings a dose to seed, and how strong the carrier becomes -> Values.

    seed_g : bare seed.  dose_mg_kg : pure active per kg of bare seed.  strength_pct : of the stock, % w/v of material.
    purity_pct : pure active in the material, % w/w.  stays_pct : share expected to stay on the seed.  carrier_ml :
    liquid (binder) that the stock is carried in, stock included; 0: none was named.
    Raises UnfitValue outside these, and where the stock is more than the carrier.
    Source: arithmetic (mass of active over strength of the stock).

    >>> [round(e.value, 3) for e in stock_for_dose(purity_pct=90, carrier_ml=8).estimates]
    [0.444, 0.111]
    """
    pure, stays = purity_pct / 100, stays_pct / 100
    strength = strength_pct * G_L_A_PERCENT
    volume = float(volume_for_dose(seed_g, dose_mg_kg, strength, pure, stays))
    formula = shown(
        "V", "dose x seed / (strength x purity x share that stays)",
        f"{dose_mg_kg:g} mg/kg x {seed_g / 1000:g} kg / ({strength:g} mg/mL x {pure:g} x {stays:g})", volume, "mL",
    )  # fmt: skip
    estimates = [_value(VOLUME, volume, "mL")]
    if carrier_ml:
        carried, told = _carried(volume, strength, carrier_ml)
        estimates.append(carried)
        formula = f"{formula} {told}"
    return Values(
        method=formula, estimates=tuple(estimates), warnings=tuple(_wetting(volume, seed_g, carrier_ml)),
        assumptions=(f"{strength_pct:g} % w/v is {strength:g} g/L, the same as {strength:g} mg/mL.",),
    )  # fmt: skip


def _value(quantity, value, unit, **of):
    return Estimate(quantity, MappingProxyType(of) if of else NOTHING, float(value), unit=unit)


def _carried(volume, strength, carrier_ml):
    if volume > above_zero(carrier_ml, "carrier_ml"):
        msg = f"carrier_ml is {carrier_ml:g}, and {number(volume)} mL of stock do not fit into it. Take a stronger stock."
        raise UnfitValue(msg)
    carried = volume * strength / carrier_ml / G_L_A_PERCENT
    told = shown("c", "V x strength / carrier",
                 f"{number(volume)} mL x {strength:g} mg/mL / {carrier_ml:g} mL / 10 mg/mL a %", carried, "% w/v")
    return _value(IN_CARRIER, carried, percent("w/v")), told


def _wetting(volume, seed_g, carrier_ml):
    if seed_g and max(volume, carrier_ml) / seed_g < WETS_ML_G:
        liquid = max(volume, carrier_ml)
        yield f"{number(liquid)} mL will not wet {seed_g:g} g evenly: carry it in the binder, or in more solvent."
    elif carrier_ml:
        yield (f"Fill {number(volume)} mL of stock up to {carrier_ml:g} mL with the carrier: {number(volume)} mL alone "
               f"would not wet {seed_g:g} g evenly.") if volume / seed_g < WETS_ML_G else (
               f"Fill {number(volume)} mL of stock up to {carrier_ml:g} mL with the carrier.")


def soak_for_dose(dose_mg_kg=200.0, uptake_ml_g=0.42, purity_pct=100.0, molar_mass=0.0, volume_ml=0.0):
    """How strong a soak must be for a dose at the uptake of the seed, and what to weigh for it -> Values.

    dose_mg_kg : pure active per kg of bare seed.  uptake_ml_g : liquid that a gram of seed takes up.  purity_pct : pure
    active in the material, % w/w.  molar_mass : of the active [g/mol]; 0: not asked in moles.  volume_ml : of the soak;
    0: not asked what to weigh.
    What is taken up need not stay: the dose is an upper bound unless it was assayed.
    Source: arithmetic (dose over uptake).

    >>> [round(e.value, 3) for e in soak_for_dose(molar_mass=346.379).estimates]
    [476.19, 1.375]
    """
    strength = float(soak_strength(dose_mg_kg, uptake_ml_g))
    told = [shown("c", "dose / uptake", f"{dose_mg_kg:g} mg/kg / {uptake_ml_g:g} L/kg", strength, "mg/L")]
    estimates = [_value(TO_MAKE, strength, MG_L)]
    if molar_mass:
        moles = float(millimolar(strength, molar_mass))
        told.append(shown("n", "c / M", f"{number(strength)} mg/L / {molar_mass:g} mg/mmol", moles, "mmol/L"))
        estimates.append(_value(MOLAR, moles, per("mmol", "L")))
    if volume_ml:
        pure = float(above_zero(purity_pct, "purity_pct")) / 100
        mass = strength * float(not_below_zero(volume_ml, "volume_ml")) / 1000 / pure
        told.append(shown("m", "c x V / purity",
                          f"{number(strength)} mg/L x {volume_ml / 1000:g} L / {pure:g}", mass, "mg"))
        estimates.append(_value(TO_WEIGH, mass, "mg"))
    return Values(
        method=" ".join(told), estimates=tuple(estimates),
        assumptions=(f"{uptake_ml_g:g} mL/g is {uptake_ml_g:g} L/kg.",),
        warnings=("What is taken up need not stay: this dose is the most that the seed can carry. An assay tells what it does.",),
    )  # fmt: skip


def weaker_acid(
    acid=SULPHURIC, wanted_pct=50.0, stock_pct=98.0, stock_density=1.8361, total_g=0.0, litres=1.0, density=0.0,
    molar_mass=0.0,
):  # fmt: skip
    """What to weigh of acid and of water for a weaker acid, both strengths in % w/w -> Values, or Refusal.

    acid : its name.  stock_density : of the stock [g/mL].  total_g : mass that is wanted; 0: litres is meant.  density :
    of the finished acid [g/mL]; 0: for sulphuric acid from the handbook table at 20 Cel, between its rows in a straight
    line.  molar_mass : 0: sulphuric acid's, else no answer in moles.
    Raises UnfitValue for a strength outside 0 to 100 or a stock that is weaker than what is wanted.
    Source: conservation of mass; densities of sulphuric acid at 20 Cel: handbook table.
    """
    own = acid.strip().casefold() in (SULPHURIC, "sulfuric acid", "h2so4")
    if not density and own and wanted_pct <= HIGHEST:
        density = float(sulphuric_density(wanted_pct))
    if not density and not total_g:
        return Refusal(
            quantity=TO_WEIGH, missing=f"The density of {acid} at {wanted_pct:g} % w/w is not held here.",
            remedy="Give the density of the finished acid in g/mL from a handbook, or say how many grams you want.",
            warnings=(ACID_CAUTION,),
        )  # fmt: skip
    whole = {"total_g": total_g} if total_g else {"litres": litres, "density_g_ml": density}
    made = acid_by_mass(wanted_pct, stock_pct, stock_density, **whole)
    total = made.acid_g + made.water_g
    told = [shown("total", "volume x density", f"{1000 * litres:g} mL x {density:g} g/mL", total, "g")]
    told = [] if total_g else told
    told += [
        shown("acid", "total x wanted / stock", f"{number(total)} g x {wanted_pct:g} % / {stock_pct:g} %", made.acid_g, "g"),
        shown("water", "total - acid", f"{number(total)} g - {number(made.acid_g)} g", made.water_g, "g"),
        shown("acid by volume", "acid / density", f"{number(made.acid_g)} g / {stock_density:g} g/mL", made.acid_ml, "mL"),
    ]
    estimates = [
        _value(TO_WEIGH, made.acid_g, "g", treatment=acid), _value(VOLUME, made.acid_ml, "mL", treatment=acid),
        _value(TO_WEIGH, made.water_g, "g", treatment="water"),
    ]  # fmt: skip
    molar_mass = molar_mass or (SULPHURIC_MOLAR_MASS if own else 0.0)
    if density and molar_mass:
        molar = float(molarity(wanted_pct, density, molar_mass))
        told.append(shown("n", "10 x % w/w x density / M",
                          f"10 x {wanted_pct:g} x {density:g} g/mL / {molar_mass:g} g/mol", molar, "mol/L"))
        estimates.append(_value(MOLAR, 1000 * molar, per("mmol", "L"), treatment=f"{acid} made"))
    return Values(
        method=" ".join(told), estimates=tuple(estimates), warnings=(ACID_CAUTION,),
        assumptions=("All strengths are in % w/w, mass in mass. The volume of acid is for the size of the beaker only.",),
    )  # fmt: skip
