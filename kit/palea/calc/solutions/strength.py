"""How strong a solution is and how much of it is wanted: mass in mass, mass in volume, moles, dilution, doses.

Strengths in moles and in mass per volume turn into mass in mass through a density only. Mixtures of strong acid and
water are made by weighing, because their volumes do not add up.
"""

from dataclasses import dataclass

from palea.calc.checked import above_zero, not_below_zero, share, within
from palea.errors import UnfitValue

ACID_CAUTION = (
    "Add the acid to the water, slowly, stirred and cooled, never water to the acid: the heat can make it boil and "
    "spit. Weigh both: the volumes do not add up. Eye, face and hand protection, a fume hood and a second person; read "
    "the safety data sheet and follow the local rules. These figures do not say that the step is safe."
)


def molarity(mass_percent, density_g_ml, molar_mass_g_mol):
    """Moles per litre of a solution given in % w/w: 10 w rho / M.

    mass_percent : 0 to 100.  density_g_ml : of the solution at its temperature.  Arrays broadcast. Returns [mol/L].
    Raises UnfitValue for a percentage outside 0 to 100, a density or molar mass not above 0.
    Source: definition; common practice.

    >>> float(molarity(50, 1.3952, 98.072).round(4))
    7.1131
    """
    percent = within(mass_percent, "mass_percent", 0, 100, "0 to 100")
    return 10 * percent * above_zero(density_g_ml, "density_g_ml") / above_zero(molar_mass_g_mol, "molar_mass_g_mol")


def mass_percent(molar, density_g_ml, molar_mass_g_mol):
    """% w/w of a solution given in mol/L: the inverse of `molarity`, with its errors."""
    molar, density = not_below_zero(molar, "molar"), above_zero(density_g_ml, "density_g_ml")
    return within(molar * above_zero(molar_mass_g_mol, "molar_mass_g_mol") / (10 * density), "mass_percent", 0, 100,
                  "0 to 100 % by mass; look again at molarity, density and molar mass")  # fmt: skip


def grams_for(molar, litres, molar_mass_g_mol, purity=1.0):
    """Grams of a solid to weigh for so many litres of so many mol/L, allowing for its purity (mass in mass, 0 to 1].

    Source: definition.

    >>> float((1000 * grams_for(1e-3, 0.25, 346.379)).round(3))  # mg of GA3 for 250 mL of 1 mmol/L
    86.595
    """
    solid = not_below_zero(molar, "molar") * not_below_zero(litres, "litres")
    return solid * above_zero(molar_mass_g_mol, "molar_mass_g_mol") / share(purity, "purity", open_low=True)


def millimolar(mg_per_l, molar_mass_g_mol):
    """mg/L as mmol/L.

    >>> float(millimolar(500, 346.379).round(5))
    1.44351
    """
    return not_below_zero(mg_per_l, "mg_per_l") / above_zero(molar_mass_g_mol, "molar_mass_g_mol")


def diluted(stock, wanted, volume):
    """Volume of stock for `volume` of a weaker solution: C1 V1 = C2 V2.

    stock, wanted : strengths in one and the same unit per volume (mol/L, g/L, % w/v).  volume : in any unit; the answer
    is in that unit. Not for % w/w, and the solvent is filled up to the volume, not measured beside it.
    Raises UnfitValue where the wanted solution is stronger than the stock.
    Source: conservation of mass.

    >>> round(float(diluted(18.386, 1.0, 1000.0)), 2)
    54.39
    """
    stock, wanted = above_zero(stock, "stock"), not_below_zero(wanted, "wanted")
    if (wanted > stock).any():
        msg = f"wanted is {wanted.max():g} and the stock only {stock.min():g}: diluting cannot make it stronger."
        raise UnfitValue(msg)
    return wanted * not_below_zero(volume, "volume") / stock


@dataclass(frozen=True)
class AcidByMass:
    """What to weigh for a weaker acid, and the caution that goes with it wherever it is shown.

    acid_g, water_g : to weigh.  acid_ml : the same acid as a volume, for the size of the beaker.  caution : to be shown.
    """

    acid_g: float
    water_g: float
    acid_ml: float
    caution: str = ACID_CAUTION


def acid_by_mass(wanted_percent, stock_percent, stock_density_g_ml, *, total_g=None, litres=None, density_g_ml=None):
    """Weaker acid from stronger by weighing, both strengths in % w/w -> AcidByMass.

    total_g : mass wanted; or litres with density_g_ml, the density of the finished acid.  stock_density_g_ml : of the
    stock, [g/mL].
    acid = total x wanted / stock, water = total - acid.
    Raises UnfitValue for a strength outside 0 to 100, a stock weaker than what is wanted, or no amount.
    Source: conservation of mass; densities of sulphuric acid: handbook table at 20 Cel. The caution: common practice.

    >>> round(acid_by_mass(50, 98, 1.8361, litres=1, density_g_ml=1.3952).acid_ml, 1)
    387.7
    """
    wanted = within(wanted_percent, "wanted_percent", 0, 100, "0 to 100, in % w/w")
    stock = within(stock_percent, "stock_percent", 0, 100, "above 0 to 100, in % w/w", open_low=True)
    if wanted > stock:
        msg = f"wanted is {wanted:g} % w/w and the stock only {stock:g} % w/w: diluting cannot make it stronger."
        raise UnfitValue(msg)
    if total_g is None:
        if litres is None or density_g_ml is None:
            msg = "How much is wanted is not said: give total_g, or litres with density_g_ml of the finished acid."
            raise UnfitValue(msg)
        total_g = 1000 * not_below_zero(litres, "litres") * above_zero(density_g_ml, "density_g_ml")
    acid = float(not_below_zero(total_g, "total_g") * wanted / stock)
    return AcidByMass(acid, float(total_g) - acid, acid / float(above_zero(stock_density_g_ml, "stock_density_g_ml")))


def volume_for_dose(seed_g, dose_mg_kg, strength_g_l, purity=1.0, stays=1.0):
    """Volume [mL] of a solution that brings a dose to seed: seed x dose / strength, more if impure or partly lost.

    seed_g : bare seed [g].  dose_mg_kg : of pure active per kg of bare seed.  strength_g_l : of the material in the
    solution (2 % w/v is 20 g/L).  purity : pure active in the material, mass in mass, (0, 1].  stays : share that is
    expected to stay on the seed, (0, 1].  Arrays broadcast. Raises UnfitValue outside these.
    Source: arithmetic.

    >>> volume_for_dose(40, 200, 20, purity=[1, 0.9, 0.9], stays=[1, 1, 0.85]).round(3)
    array([0.4  , 0.444, 0.523])
    """
    wanted_mg = not_below_zero(seed_g, "seed_g") * not_below_zero(dose_mg_kg, "dose_mg_kg") / 1000
    on_seed = share(purity, "purity", open_low=True) * share(stays, "stays", open_low=True)
    return wanted_mg / (above_zero(strength_g_l, "strength_g_l") * on_seed)


def strength_for_dose(dose_mg_kg, carrier_ml_per_kg, purity=1.0, stays=1.0):
    """g/L of material in a liquid of which so many mL go on a kg of seed, to bring the dose; the rest as above.

    40 g of seed with 8 mL of binder take 200 mL/kg: 200 mg/kg then stand in it at 1 g/L, 0.1 % w/v.

    >>> float(strength_for_dose(200, 200))
    1.0
    """
    on_seed = share(purity, "purity", open_low=True) * share(stays, "stays", open_low=True)
    return not_below_zero(dose_mg_kg, "dose_mg_kg") / (above_zero(carrier_ml_per_kg, "carrier_ml_per_kg") * on_seed)


def soak_strength(dose_mg_kg, uptake_ml_g):
    """mg/L of a soak that brings at most this dose: dose / uptake; what is taken up need not stay.

    >>> round(float(soak_strength(200, 0.42)), 1)
    476.2
    """
    return not_below_zero(dose_mg_kg, "dose_mg_kg") / above_zero(uptake_ml_g, "uptake_ml_g")
