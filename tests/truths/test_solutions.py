"""Solutions, water potential and humidity against published equations, tables and independent computations."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from palea.calc.solutions import humidity, potential, strength

DATA = Path(__file__).parent / "data"
SALTS = pd.read_csv(DATA / "constant_humidity_salts_crc.csv", comment="#").set_index("salt")
MASSES = pd.read_csv(DATA / "molar_masses.csv", comment="#").set_index("name")["molar_mass_g_mol"]
ACID = pd.read_csv(DATA / "sulfuric_acid_density_20C.csv", comment="#")
MK = potential.MICHEL_KAUFMANN


@pytest.mark.parametrize(("percent", "density", "molar", "near"), [
    (10, 1.0661, 1.0871, 5e-5), (20, 1.1398, 2.3244, 1.1e-4), (50, 1.3952, 7.1131, 5e-5), (70, 1.6105, 11.4951, 6e-5),
    (98, 1.84, 18.386, 6e-4), (98, 1.8361, 18.348, 6e-4), (96, 1.84, 18.01, 0.005),
])
def test_molarity_of_sulphuric_acid(percent, density, molar, near):
    """M = 10 w rho / MW with 98.072 g/mol; densities at 20 Cel from the handbook table, 1.8361 from memory."""
    assert strength.molarity(percent, density, 98.072) == pytest.approx(molar, abs=near)
    assert strength.mass_percent(strength.molarity(percent, density, 98.072), density, 98.072) == pytest.approx(percent)


def test_molarities_of_the_handbook_table():
    """The table's own column, made with 98.08 g/mol."""
    ours = strength.molarity(ACID["mass_pct"], ACID["density_g_cm3"], 98.08)
    assert ours == pytest.approx(ACID["molarity_mol_L"].to_numpy(), rel=2e-4, abs=6e-5)


def test_a_litre_of_tenth_molar_acid_from_the_bottle():
    """byjus: 98 %, 1.80 g/mL: 5.55 mL for 1 L of 0.1 mol/L."""
    bottle = strength.molarity(98, 1.80, 98)
    assert strength.diluted(bottle, 0.1, 1000) == pytest.approx(5.55, abs=0.01)


def test_a_litre_of_molar_acid():
    """C1 V1 = C2 V2, computed apart: 54.388 mL of 98 % acid of 1.84 g/mL."""
    assert strength.diluted(strength.molarity(98, 1.84, 98.072), 1, 1000) == pytest.approx(54.388, abs=0.003)


@pytest.mark.parametrize(("percent", "density", "acid_ml", "water_g"), [
    (50, 1.3952, 387.690, 683.363), (70, 1.6105, 626.522, 460.143),
])
def test_acid_is_diluted_by_weighing(percent, density, acid_ml, water_g):
    """Computed apart: 1 L from 98 % acid of 1.8361 g/mL. The caution is part of the answer."""
    made = strength.acid_by_mass(percent, 98, 1.8361, litres=1, density_g_ml=density)
    assert made.acid_ml == pytest.approx(acid_ml, abs=6e-4)
    assert made.water_g == pytest.approx(water_g, abs=6e-4)
    assert made.acid_g + made.water_g == pytest.approx(1000 * density)
    assert "acid to the water" in made.caution


def test_volumes_of_acid_and_water_do_not_add_up():
    """Computed apart: 626.522 mL of acid and 460.143 mL of water (1087 mL) make one litre of 70 %."""
    made = strength.acid_by_mass(70, 98, 1.8361, litres=1, density_g_ml=1.6105)
    assert made.acid_g == pytest.approx(1150.357, abs=6e-4)
    assert made.acid_ml + made.water_g / 1.0 == pytest.approx(1087, abs=0.5)


def test_half_strong_acid_takes_711_837_grams():
    assert strength.acid_by_mass(50, 98, 1.8361, litres=1, density_g_ml=1.3952).acid_g == pytest.approx(711.837, abs=6e-4)


@pytest.mark.parametrize(("purity", "stays", "ml"), [(1, 1, 0.400), (0.9, 1, 0.444), (0.9, 0.85, 0.523)])
def test_volume_for_forty_grams_at_200_mg_a_kilogram(purity, stays, ml):
    """By hand: 8 mg from 20 g/L (2 % w/v)."""
    assert strength.volume_for_dose(40, 200, 20, purity, stays) == pytest.approx(ml, abs=5e-4)


def test_carried_in_the_binder_it_is_a_tenth_of_a_percent():
    """By hand: 8 mg in 8 mL of binder on 40 g of seed: 1 g/L, 0.1 % w/v."""
    assert strength.strength_for_dose(200, 8 / 0.040) == pytest.approx(1.0)


def test_soak_for_a_dose():
    """By hand: 200 mg/kg at an uptake of 0.42 mL/g need 476 mg/L, of GA3 1.375 mmol/L."""
    mg_l = strength.soak_strength(200, 0.42)
    assert mg_l == pytest.approx(476, abs=0.5)
    assert strength.millimolar(mg_l, MASSES["gibberellic acid GA3"]) == pytest.approx(1.375, abs=5e-4)


def test_solids_for_a_solution():
    """Molar masses of periodictable: GA3 1 mmol/L 250 mL 86.595 mg, 500 mg/L 1.44351 mmol/L; KNO3 0.2 % 19.78 mmol/L."""
    ga3 = MASSES["gibberellic acid GA3"]
    assert 1000 * strength.grams_for(1e-3, 0.25, ga3) == pytest.approx(86.595, abs=5e-4)
    assert strength.millimolar(500, ga3) == pytest.approx(1.44351, abs=5e-6)
    assert strength.millimolar(2000, MASSES["potassium nitrate"]) == pytest.approx(19.78, abs=0.005)


USUAL = {
    "gibberellic acid GA3": 346.379, "abscisic acid": 264.321, "potassium nitrate": 101.102, "karrikinolide KAR1": 150.133,
    "kinetin": 215.216, "6-benzylaminopurine": 225.255, "indole-3-acetic acid": 175.187, "ethephon": 144.491,
    "jasmonic acid": 210.273, "methyl jasmonate": 224.300, "NaCl": 58.443, "mannitol": 182.172, "sucrose": 342.297,
    "sulfuric acid": 98.079, "NaOH": 39.997, "H2O2": 34.014, "TTC (2,3,5-triphenyltetrazolium chloride)": 334.807,
    "thiourea": 76.117, "CaCO3": 100.086, "NaOCl": 74.439, "proline": 115.132, "glycine betaine": 117.148,
    "fluridone": 329.322, "metalaxyl": 279.336, "CaCl2": 110.978,
}  # fmt: skip


@pytest.mark.parametrize("name", USUAL)
def test_a_mole_weighs_what_handbooks_say(name):
    """One litre of 1 mol/L takes the molar mass; the table of periodictable against usual values within 0.01 g/mol."""
    assert strength.grams_for(1.0, 1.0, MASSES[name]) == pytest.approx(USUAL[name], abs=0.01)


@pytest.mark.parametrize(("equation", "celsius", "content", "bar"), [
    (potential.MICHEL, 25, 100, -1.4775), (potential.MICHEL, 25, 200, -5.1100), (potential.MICHEL, 25, 300, -10.8975),
    (potential.MICHEL, 25, 400, -18.8400), (potential.MICHEL, 20, 200, -5.3680), (potential.MICHEL, 20, 300, -11.4780),
    (MK, 25, 100, -1.48273), (MK, 25, 200, -4.90600), (MK, 25, 300, -10.26983), (MK, 20, 200, -5.34080),
    (MK, 20, 300, -11.04780),
])
def test_polyethylene_glycol_in_water(equation, celsius, content, bar):
    """Michel 1983 (equation read in the abstract), Michel & Kaufmann 1973 (from memory), evaluated apart."""
    assert 10 * potential.peg_potential(content, celsius, equation) == pytest.approx(bar, abs=1e-4)


@pytest.mark.parametrize(("equation", "celsius", "bar", "content"), [
    (potential.MICHEL, 20, -5, 192.462), (potential.MICHEL, 20, -10, 278.920), (potential.MICHEL, 20, -15, 345.330),
    (potential.MICHEL, 25, -5, 197.652), (potential.MICHEL, 25, -10, 286.647), (potential.MICHEL, 25, -15, 355.010),
    (MK, 20, -5, 192.624), (MK, 20, -10, 284.021), (MK, 25, -10, 295.713),
    (potential.MICHEL, 20, -4, 170.5), (potential.MICHEL, 30, -4, 179.9),
])
def test_polyethylene_glycol_to_weigh(equation, celsius, bar, content):
    assert potential.peg_for(bar / 10, celsius, equation) == pytest.approx(content, abs=0.06 if bar == -4 else 6e-4)


def test_solution_for_20_degrees_is_weaker_at_30():
    """Michel 1983: -0.4 MPa mixed for 20 Cel is only -0.363 MPa at 30 Cel."""
    assert potential.peg_potential(potential.peg_for(-0.4, 20), 30) == pytest.approx(-0.363, abs=6e-4)


@pytest.mark.parametrize(("least", "most", "apart"), [(120, 300, 0.06), (100, 120, 0.08)])
def test_the_two_equations_agree_within_six_percent(least, most, apart):
    """One published equation against the other at 20 and 25 Cel; below 120 g/kg within 8 %."""
    content = np.linspace(least, most, 21)
    for celsius in (20, 25):
        ratio = potential.peg_potential(content, celsius, MK) / potential.peg_potential(content, celsius)
        assert np.abs(ratio - 1).max() < apart


@pytest.mark.parametrize(("molar", "ions", "celsius", "mpa"), [
    (0.1, 1, 20, -0.24374), (0.1, 1, 25, -0.24790), (0.1, 2, 25, -0.49579),
])
def test_ideal_solutions_of_vant_hoff(molar, ions, celsius, mpa):
    """RT 2.437385 (20 Cel) and 2.478957 L MPa/mol (25 Cel): mannitol, and NaCl as ideal."""
    assert potential.ideal_potential(molar, ions, celsius) == pytest.approx(mpa, abs=6e-6)


@pytest.mark.parametrize(("molal", "phi", "pitzer"), [(0.1, 0.9324, -0.4609), (0.2, 0.9237, -0.9132), (0.3, 0.9211, -1.3660),
                                                      (0.5, 0.9222, -2.2794), (1.0, 0.9376, -4.6345)])  # fmt: skip
def test_real_sodium_chloride(molal, phi, pitzer):
    """pyEQL (Pitzer) at 25 Cel, with its osmotic coefficients to four digits."""
    assert potential.salt_potential(molal, 2, phi, 25) == pytest.approx(pitzer, rel=2e-4)


@pytest.mark.parametrize(("molal", "phi", "lang"), [(0.5, 0.9222, -2.281), (1.0, 0.9376, -4.640)])
def test_real_sodium_chloride_of_lang(molal, phi, lang):
    """Lang 1967 (from memory)."""
    assert potential.salt_potential(molal, 2, phi, 25) == pytest.approx(lang, abs=0.006)


@pytest.mark.parametrize(("celsius", "times"), [(20, 135.053), (25, 137.197)])
def test_kelvin_factor(celsius, times):
    """R T / V_w, computed apart."""
    assert -potential.humidity_potential(100 / np.e, celsius) == pytest.approx(times, abs=2e-3)


def test_kelvin_factor_of_a_published_post():
    """A soil physics list post: 135.294 at 20 Cel with R 8.32 and a molar volume of 18.0 to 18.05 cm3."""
    ours = -potential.humidity_potential(100 / np.e, 20) * 8.32 / potential.GAS_CONSTANT
    assert ours == pytest.approx(135.294, abs=0.2)


@pytest.mark.parametrize(("percent", "mpa"), [(99, -1.379), (98, -2.772), (95, -7.037), (75.3, -38.92)])
def test_water_potential_of_air(percent, mpa):
    assert potential.humidity_potential(percent, 25) == pytest.approx(mpa, abs=0.005 if percent < 80 else 6e-4)


@pytest.mark.parametrize("salt", SALTS.index)
def test_humidity_over_saturated_salts_of_the_crc_table(salt):
    """CRC Handbook (Wexler): the constants give the printed percentage at 25 Cel; one salt is 0.9 off."""
    row = SALTS.loc[salt]
    assert humidity.salt_humidity(row["A"], row["B"], 25) == pytest.approx(row["RH25_table"], abs=0.9)
    assert humidity.salt_humidity(row["A"], row["B"], 25) == pytest.approx(row["RH25_calc"], abs=6e-4)
    assert humidity.salt_humidity(row["A"], row["B"], 20) == pytest.approx(row["RH20_calc"], abs=6e-4)


def test_worked_example_of_the_crc():
    """KCl at 25 Cel: 49.38 exp(159 / 298) = 84.2."""
    assert humidity.salt_humidity(49.38, 159, 25) == pytest.approx(84.2, abs=0.05)


PADFIELD = {  # padfield.org at 5, 10, 15, 20, 25 Cel; NaCl at 20 Cel printed 75.7, probably 75.5
    "LiCl.H2O": [11.3] * 5, "MgCl2.6H2O": [33.6, 33.5, 33.3, 33.1, 32.8], "NaBr.2H2O": [63.5, 62.2, 60.7, 59.1, 57.6],
    "NaCl": [75.7, 75.7, 75.6, 75.5, 75.3], "KCl": [87.7, 86.8, 85.9, 85.1, 84.3], "K2SO4": [98.5, 98.2, 97.9, 97.6, 97.3],
}  # fmt: skip
GREENSPAN = {"LiCl.H2O": 11.30, "MgCl2.6H2O": 32.78, "Mg(NO3)2.6H2O": 52.89, "NaBr.2H2O": 57.57, "NaCl": 75.29, "KCl": 84.34,
             "KNO3": 93.58, "K2SO4": 97.30}  # 25 Cel, from memory  # fmt: skip


@pytest.mark.parametrize("salt", PADFIELD)
def test_humidity_at_other_temperatures(salt):
    """The fit is good to about 2 points of humidity."""
    found = humidity.salt_humidity(SALTS.loc[salt, "A"], SALTS.loc[salt, "B"], [5, 10, 15, 20, 25])
    assert found == pytest.approx(PADFIELD[salt], abs=2)


@pytest.mark.parametrize("salt", GREENSPAN)
def test_humidity_of_greenspan(salt):
    """KNO3: the CRC fit gives 91.9, Greenspan 93.6."""
    assert humidity.salt_humidity(SALTS.loc[salt, "A"], SALTS.loc[salt, "B"], 25) == pytest.approx(GREENSPAN[salt], abs=2)
