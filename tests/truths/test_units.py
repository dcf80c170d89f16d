"""Units against ucumvert with pint, and against published conversions."""

import pytest

from palea import schema
from palea.calc import units
from palea.calc.solutions import strength

# what a factor alone cannot turn (a scale with an offset), what is no physical unit, what pint gives no factor (a note
# alone) or another meaning (a percentage of a basis)
NOT_READ = {"Cel", "bit"} | {c for c in schema.words("unit") if c.startswith("%{") or (c[0] + c[-1] == "{}")}
CODES = sorted(set(schema.words("unit")) - NOT_READ)


@pytest.fixture(scope="module")
def registry():
    ucumvert = pytest.importorskip("ucumvert")
    return ucumvert.PintUcumRegistry()


def _in_pint(registry, unit):
    """Factor of pint to g, m, s: its base is kg, so mass to the power p differs by 1000^p."""
    mass = unit.powers.get("mass", 0)
    return (1 * registry.from_ucum(unit.code)).to_base_units().magnitude * 1000.0**mass


@pytest.mark.parametrize("code", CODES)
def test_every_unit_of_the_list_has_the_factor_of_ucumvert_and_pint(registry, code):
    unit = units.read(code)
    assert unit.factor == pytest.approx(_in_pint(registry, unit), rel=1e-12)


@pytest.mark.parametrize("code", ["kL", "dag", "hPa", "mbar", "kN/m2", "umol/m2/s", "cm2", "mm3", "g.cm-3", "m/s2", "wk-1",
                                  "[lb_av]/[acr_us]", "10*3/m2", "kJ", "cS/m", "[ft_i]2", "[oz_av]", "a", "mK"])  # fmt: skip
def test_other_codes_have_the_factor_of_ucumvert_and_pint(registry, code):
    unit = units.read(code)
    assert unit.factor == pytest.approx(_in_pint(registry, unit), rel=1e-9)


def test_pound_an_acre_is_1_1209_kilogram_a_hectare():
    """International pound 0.45359237 kg; US survey acre 4046.8726 m2 (NIST Handbook 44, App. C)."""
    assert units.convert(1, "[lb_av]/[acr_us]", "kg/har") == pytest.approx(0.45359237 / 0.40468726, rel=1e-7)


def test_a_percentage_of_mass_in_volume_is_10_g_a_litre():
    """UCUM annotations carry no meaning; by definition 1 % w/v is 1 g in 100 mL."""
    assert units.convert(2, "%{w/v}", "g/L") == pytest.approx(20)


def test_half_strong_sulphuric_acid_in_grams_a_litre():
    """Handbook density 1.3952 g/mL at 20 Cel: 50 % w/w is 697.6 g/L and 7.1131 mol/L."""
    grams = units.convert(50, "%{w/w}", "g/L", density_g_ml=1.3952)
    assert grams == pytest.approx(697.6)
    assert units.convert(grams, "g/L", "mol/L", molar_mass_g_mol=98.072) == pytest.approx(
        float(strength.molarity(50, 1.3952, 98.072))
    )


def test_thousand_units_of_two_grams_at_a_gram_a_kilogram_carry_two_micrograms():
    """Units check: 1 g/kg, TSW 2.0 g."""
    assert units.per_mass_to_per_unit(units.convert(1, "g/kg", "mg/kg"), 2.0) == pytest.approx(0.002)
