"""Laws of solutions: what is conserved, what is monotone, what is refused, and what a preparation is."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from palea.calc.results import Refusal
from palea.calc.solutions import humidity, made, potential, strength
from palea.errors import UnfitValue

NAN = float("nan")
EQUATIONS = st.sampled_from([potential.MICHEL, potential.MICHEL_KAUFMANN])


@given(st.floats(1, 95), st.floats(0, 1), st.floats(1, 5000))
def test_diluting_acid_keeps_acid_and_mass(stock, part, total):
    wanted = stock * part
    found = strength.acid_by_mass(wanted, stock, 1.8, total_g=total)
    assert found.acid_g + found.water_g == pytest.approx(total)
    assert found.acid_g * stock == pytest.approx(total * wanted)
    assert found.caution == strength.ACID_CAUTION


@given(st.floats(0.1, 20), st.floats(0, 1), st.floats(1, 1000))
def test_diluting_keeps_what_is_dissolved(stock, part, volume):
    assert strength.diluted(stock, stock * part, volume) * stock == pytest.approx(stock * part * volume)


@given(st.floats(0.1, 98), st.floats(0.8, 2), st.floats(20, 400))
def test_molarity_and_mass_percent_are_inverse(percent, density, molar):
    assert strength.mass_percent(strength.molarity(percent, density, molar), density, molar) == pytest.approx(percent)


@given(st.floats(1, 1000), st.floats(1, 5000), st.floats(0.5, 100), st.floats(0.1, 1), st.floats(0.1, 1))
def test_volume_and_strength_for_a_dose_agree(seed_g, dose, g_l, purity, stays):
    ml = strength.volume_for_dose(seed_g, dose, g_l, purity, stays)
    assert ml * g_l * purity * stays / seed_g * 1000 == pytest.approx(dose)  # mg/kg that is on the seed
    assert strength.strength_for_dose(dose, 1000 * ml / seed_g, purity, stays) == pytest.approx(g_l)


@pytest.mark.parametrize(("call", "says"), [
    (lambda: strength.diluted(1, 2, 10), "cannot make it stronger"), (lambda: strength.molarity(101, 1, 98), "0 to 100"),
    (lambda: strength.acid_by_mass(75, 50, 1.4, total_g=1), "cannot make it stronger"),
    (lambda: strength.acid_by_mass(50, 98, 1.84), "How much is wanted"),
    (lambda: strength.acid_by_mass(50, 98, 1.84, litres=1), "density_g_ml of the finished acid"),
    (lambda: strength.volume_for_dose(40, 200, 20, purity=0), "purity is 0"),
    (lambda: strength.volume_for_dose(40, 200, [20, 0]), r"strength_g_l\[1\] is 0"),
    (lambda: potential.peg_potential(100, 41), "5 to 40"), (lambda: potential.peg_potential(900, 20), "0 to 800"),
    (lambda: potential.peg_potential(100, 20, "another"), "michel-1983"), (lambda: potential.peg_for(0.4, 20), "negative"),
    (lambda: potential.peg_for(-20, 20), "at most 800"), (lambda: potential.humidity_potential(0, 20), "above 0"),
    (lambda: potential.humidity_potential(101, 20), "100"), (lambda: humidity.salt_humidity(69.2, 25, 2), "5 to 60"),
    (lambda: strength.mass_percent(25, 1.0, 98), "look again"),
])
def test_what_cannot_be_is_refused_in_words(call, says):
    with pytest.raises(UnfitValue, match=says):
        call()


@given(EQUATIONS, st.floats(0, 400), st.floats(15, 35))
def test_content_and_potential_of_peg_are_inverse(equation, content, celsius):
    there = potential.peg_potential(content, celsius, equation)
    assert potential.peg_for(there, celsius, equation) == pytest.approx(content, abs=1e-6)


@given(EQUATIONS, st.floats(5, 395), st.floats(15, 34))
def test_more_peg_is_drier_and_warmth_makes_it_wetter(equation, content, celsius):
    here = potential.peg_potential(content, celsius, equation)
    assert here < 0
    assert potential.peg_potential(content + 5, celsius, equation) < here
    assert potential.peg_potential(content, celsius + 1, equation) > here


def test_pure_water_and_saturated_air_have_no_potential():
    assert potential.peg_potential(0, 20) == 0
    assert potential.peg_for(0, 20) == 0
    assert potential.ideal_potential(0, 2, 20) == 0
    assert potential.humidity_potential(100, 20) == 0


@given(st.floats(0.001, 1), st.floats(0, 40))
def test_a_coefficient_of_one_is_ideal_but_for_the_density_of_water(molal, celsius):
    ideal, real = potential.ideal_potential(molal, 2, celsius), potential.salt_potential(molal, 2, 1.0, celsius)
    assert real == pytest.approx(float(ideal * potential.water_density(celsius)), rel=1e-12)


def test_water_is_densest_at_four_degrees():
    at = np.linspace(0, 40, 401)
    assert at[np.argmax(potential.water_density(at))] == pytest.approx(4.0, abs=0.1)


# --- preparations

PART = {"material": "P", "part": "x", "amount": NAN, "unit": "g", "basis": "in all", "purity": 1.0, "density_g_ml": NAN,
        "molar_mass_g_mol": NAN, "made_density_g_ml": NAN, "acid": False}  # fmt: skip


def strengths(*rows):
    return made.strengths(pd.DataFrame([PART | row for row in rows]))


def values(result, part="x"):
    return {e.quantity: e.value for e in result.estimates if e.of["part"] == part}


@pytest.mark.parametrize("written", [
    {"amount": 2, "unit": "%", "basis": "w/v"}, {"amount": 2, "unit": "%{w/v}", "basis": "w/v"},
    {"amount": 20, "unit": "g", "basis": "per L of preparation"}, {"amount": 20, "unit": "g/L", "basis": "per L of preparation"},
    {"amount": 20_000, "unit": "mg", "basis": "per L of preparation"},
    {"amount": 1.6, "unit": "%", "basis": "w/w", "made_density_g_ml": 1.25},
    {"amount": 25, "unit": "mL/kg", "basis": "per kg of preparation", "density_g_ml": 0.64, "made_density_g_ml": 1.25},
    {"amount": 2.5, "unit": "%", "basis": "v/v", "density_g_ml": 0.8},
    {"amount": 0.2, "unit": "mol/L", "basis": "per L of preparation", "molar_mass_g_mol": 100.0},
])
def test_one_strength_however_it_was_written(written):
    assert values(strengths(written))[made.BY_VOLUME] == pytest.approx(2)


def test_parts_in_all_count_against_their_sum_by_mass():
    found = strengths({"part": "x", "amount": 10}, {"part": "water", "amount": 90, "unit": "mL", "density_g_ml": 1.0})
    assert values(found)[made.BY_MASS] == pytest.approx(10)
    assert values(found, "water")[made.BY_MASS] == pytest.approx(90)
    assert made.BY_VOLUME not in values(found)  # no density of the preparation, so no strength by volume


def test_a_millilitre_without_density_makes_the_sum_unknown_and_says_so():
    found = strengths({"part": "x", "amount": 10}, {"part": "water", "amount": 90, "unit": "mL"},
                      {"material": "Q", "amount": 1, "unit": "%", "basis": "w/v"})  # fmt: skip
    assert found.warnings[0].startswith("P: water: mL does not become g without a density")
    assert {e.of["material"] for e in found.estimates} == {"Q"}


def test_a_percentage_without_a_basis_is_told_and_not_guessed():
    found = strengths({"amount": 75, "unit": "%", "basis": "", "acid": True})
    assert isinstance(found, Refusal)
    assert "75 % with the basis “” is no strength" in found.warnings[0]
    assert strength.ACID_CAUTION in found.warnings[1]


def test_purity_is_allowed_for_and_missing_purity_is_told():
    assert values(strengths({"amount": 2, "unit": "%", "basis": "w/v", "purity": 0.9}))[made.BY_VOLUME] == pytest.approx(1.8)
    assert values(strengths({"amount": 2, "unit": "%", "basis": "w/w", "purity": 0.9})) == {made.BY_MASS: pytest.approx(1.8)}
    assert "taken as pure" in strengths({"amount": 2, "unit": "%", "basis": "w/v", "purity": NAN}).warnings[0]


def test_density_of_the_preparation_leads_both_ways():
    there = values(strengths({"amount": 2, "unit": "%", "basis": "w/v", "made_density_g_ml": 1.25}))
    assert there == {made.BY_MASS: pytest.approx(1.6), made.BY_VOLUME: pytest.approx(2)}


def test_nothing_put_in_has_no_strength():
    assert isinstance(strengths({"amount": 0.0}), Refusal)


def test_moles_need_a_molar_mass():
    row = {"amount": 2, "unit": "g", "basis": "per L of preparation"}
    assert made.MOLAR not in values(strengths(row))
    assert values(strengths(row | {"molar_mass_g_mol": 101.102}))[made.MOLAR] == pytest.approx(19.78, abs=0.005)
