"""One-step answers of the bench against worked examples, published equations and tables; the source beside each number."""

import math
from pathlib import Path

import pandas as pd
import pytest

from palea.calc.cleaning.asked import machine_or_hands
from palea.calc.coating.pan import pan_speed
from palea.calc.decision.bag_asked import bag_of
from palea.calc.handling.asked import rate, setting
from palea.calc.lots.asked import dry_to, humidity_over, live_share
from palea.calc.planning.best import dishes
from palea.calc.solutions.asked import soak_for_dose, stock_for_dose, weaker_acid
from palea.calc.solutions.densities import SALTS, sulphuric_density
from palea.calc.solutions.osmotic import osmotic

DATA = Path(__file__).parent / "data"
ACID = pd.read_csv(DATA / "sulfuric_acid_density_20C.csv", comment="#")
HUMID = pd.read_csv(DATA / "constant_humidity_salts_crc.csv", comment="#")


def values(result):
    return [e.value for e in result.estimates]


@pytest.mark.parametrize(("given", "ml"), [
    ({}, 0.400), ({"purity_pct": 90.0}, 0.444), ({"purity_pct": 90.0, "stays_pct": 85.0}, 0.523),
])  # fmt: skip
def test_stock_for_8_mg_on_40_g(given, ml):
    """40 g x 200 mg/kg = 8 mg; over 20 mg/mL; over 0.9; over 0.85: derived by hand."""
    assert values(stock_for_dose(**given))[0] == pytest.approx(ml, abs=5e-4)


def test_the_binder_then_holds_a_tenth_of_a_percent():
    """8 mg in 8 mL are 1 mg/mL, 0.1 % w/v: by hand."""
    assert values(stock_for_dose(carrier_ml=8.0))[1] == pytest.approx(0.1)


def test_soak_for_200_mg_a_kg():
    """200 / 0.42 = 476.19 mg/L; over 346.379 g/mol (GA3, from the formula by periodictable 2.1.0) 1.3748 mmol/L: by hand."""
    strength, moles, mass = values(soak_for_dose(molar_mass=346.379, volume_ml=250.0))
    assert (strength, moles) == (pytest.approx(476.19, abs=0.005), pytest.approx(1.375, abs=5e-4))
    assert mass == pytest.approx(119.05, abs=0.005)


@pytest.mark.parametrize(("mpa", "cel", "michel", "both"), [
    (-0.5, 20, 192.462, 192.624), (-1.0, 20, 278.920, 284.021), (-1.0, 25, 286.647, 295.713),
])  # fmt: skip
def test_glycol_by_both_published_equations(mpa, cel, michel, both):
    """Michel 1983 (abstract read) and Michel & Kaufmann 1973 (from memory), solved for C by an independent root-finder."""
    found = osmotic(mpa, cel)
    assert [e.value for e in found.estimates[::2]] == [pytest.approx(michel, abs=0.001), pytest.approx(both, abs=0.001)]


@pytest.mark.parametrize(("solute", "cel", "mpa"), [
    ("mannitol", 20, -0.243738), ("mannitol", 25, -0.247896), ("sodium chloride", 25, -0.495791),
])  # fmt: skip
def test_salts_by_van_t_hoff(solute, cel, mpa):
    """0.1 mol/L at i R T: R T = 2.437385 (20 Cel) and 2.478957 (25 Cel) L MPa/mol from the SI's R."""
    assert values(osmotic(mpa, cel, solute))[0] == pytest.approx(100, abs=0.001)


def test_a_litre_of_half_strength_acid_from_the_table():
    """711.837 g = 387.690 mL of 98 % (1.8361, from memory) and 683.363 g of water; 7.1131 mol/L: by hand from 1.3952."""
    acid, ml, water, molar = values(weaker_acid())
    assert (acid, ml) == (pytest.approx(711.837, abs=0.001), pytest.approx(387.690, abs=0.001))
    assert (water, molar) == (pytest.approx(683.363, abs=0.001), pytest.approx(7113.1, abs=0.1))


def test_densities_are_the_handbook_s():
    for row in ACID[ACID["mass_pct"] <= 70].itertuples():
        assert sulphuric_density(row.mass_pct) == pytest.approx(row.density_g_cm3)


def test_humidities_are_the_handbook_s():
    """The table's own column at 25 Cel, which it rounds to whole points."""
    known = {constants: name for name, constants in SALTS.items()}
    rows = [row for row in HUMID.itertuples() if (row.A, row.B) in known]
    assert len(rows) == len(SALTS)
    for row in rows:
        assert values(humidity_over(known[row.A, row.B], 25.0))[0] == pytest.approx(row.RH25_table, abs=1.0)


def test_a_pan_three_times_as_wide():
    """40 a minute in 0.30 m is 52 % of 77.21; the same share in 0.90 m is 23.1: 40 / sqrt(3), by hand."""
    speed, share = values(pan_speed(0.9, from_diameter_m=0.3, from_rpm=40.0))
    assert (speed, share) == (pytest.approx(40 / math.sqrt(3)), pytest.approx(51.8, abs=0.05))


def test_the_brush_is_quicker_from_7_grams():
    """30 / (4.5 - 0.25) = 7.0588: by hand."""
    assert values(machine_or_hands())[0] == pytest.approx(7.0588, abs=1e-4)


def test_pure_live_seed_of_the_worked_example():
    """Germination 92, hard 5, purity 98: 95.06 %; 3.00 lb of it are 3.16 lb in bulk (ec3grp.com, PLS against bulk)."""
    live, bulk = values(live_share(wanted_g=3.0))
    assert (live, round(bulk, 2)) == (pytest.approx(95.06), 3.16)


def test_drying_of_the_worked_example():
    """1000 kg at 25 % dried to 14 %: 872 kg (IRRI Rice Knowledge Bank)."""
    assert round(values(dry_to())[0]) == 872


def test_rate_and_turns_of_the_worked_examples():
    """220 seeds/m2 are 5 kg/ha at 440 000 seeds/kg (published inputs); 100 square feet are 20 turns of 8 ft x 0.625 ft."""
    assert values(rate(220.0, 1e6 / 440_000, 100.0))[0] == pytest.approx(5.0)
    assert values(setting(area_m2=100.0, width_m=8.0, wheel_m=0.625))[1] == pytest.approx(20.0)


def test_coat_is_no_seed():
    """2.0 kg/ha of a product with 60 % build-up are 1.25 kg/ha of seed: 2 / 1.6, by hand."""
    product, bare = values(rate(125 / 3, build_up_pct=60.0))
    assert (product, bare) == (pytest.approx(2.0), pytest.approx(1.25))


def test_a_bag_by_hand():
    """5000 live of 90 % live at 0.9 g are 5 g; 5000 of 50 % at 1.45 g are 14.5 g."""
    assert values(bag_of()) == [pytest.approx(5.0), pytest.approx(14.5)]


def test_four_hundred_seeds_in_dishes():
    """DE = 1 + (m - 1) rho (Kish 1965): 16 x 25 at rho 0.02 has 1.48, so 270.3 seeds count; 4 x 100 has 2.98, 134.2."""
    table = dishes().units.set_index("dishes")
    assert table.loc[16, "effective_seeds"] == pytest.approx(270.27, abs=0.01)
    assert table.loc[4, "effective_seeds"] == pytest.approx(134.23, abs=0.01)
    # 70 to 80 % with dishes of 25 needs 17.2 dishes (Fleiss 1981 with the design effect): 16 fall just short of 80 %
    assert 76 < table.loc[16, "power"] < 80 < table.loc[25, "power"]
