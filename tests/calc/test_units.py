"""Laws of units and money, and what is refused with a clear sentence."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from palea import schema
from palea.calc import money, units
from palea.calc.money import Money
from palea.errors import UnfitValue

CODES = st.sampled_from(sorted(set(schema.words("unit")) - {"Cel", "bit"}))
NUMBERS = st.floats(1e-6, 1e6)


@given(NUMBERS, CODES, CODES)
def test_there_and_back_is_the_same(value, code, to):
    try:
        there = units.convert(value, code, to)
    except UnfitValue:
        assert not units.read(code).is_like(units.read(to))
        return
    assert units.convert(there, to, code) == pytest.approx(value, rel=1e-12)


@given(NUMBERS, st.floats(0.1, 20))
def test_volume_and_mass_meet_through_density_alone(value, density):
    grams = units.convert(value, "mL", "g", density_g_ml=density)
    assert grams == pytest.approx(value * density)
    assert units.convert(grams, "g", "mL", density_g_ml=density) == pytest.approx(value)
    assert units.convert(value, "mL/kg", "mg/kg", density_g_ml=density) == pytest.approx(1000 * value * density)


@given(NUMBERS, st.floats(10, 500))
def test_moles_and_mass_meet_through_molar_mass_alone(value, molar):
    assert units.convert(value, "mmol/L", "mg/L", molar_mass_g_mol=molar) == pytest.approx(value * molar)
    assert units.convert(value, "g/L", "mol/L", molar_mass_g_mol=molar) == pytest.approx(value / molar)


@pytest.mark.parametrize(("code", "to", "says"), [
    ("mL", "g", "without a density in g/mL"), ("mol/L", "g/L", "without a molar mass"), ("%", "g/L", "without a basis"),
    ("%", "%{w/w}", "without a basis"), ("%{w/w}", "%{v/v}", "do not count the same"), ("mg/{seed}", "mg", "count the same"),
    ("%{w/v}", "%{w/w}", "without a density"), ("g", "m", "different things"), ("", "g", "blank"), ("Kg", "g", "“Kg”"),
    ("ml/l x", "g", "cannot be read"), ("g//L", "g", "cannot be read"), ("rpm", "/min", "no unit known"), ("gg", "g", "“gg”"),
    ("%{v/v}", "g/L", "different things"), ("d", "Cel", "no unit known"), ("mL/kg", "mL", "different things"),
])
def test_what_cannot_be_told_is_refused_in_words(code, to, says):
    with pytest.raises(UnfitValue, match=says):
        units.convert(1.0, code, to)


@pytest.mark.parametrize("density", [0, -1.0])
def test_a_density_must_be_above_zero(density):
    with pytest.raises(UnfitValue, match="allowed is a number above 0"):
        units.convert(1.0, "mL", "g", density_g_ml=density)


def test_a_density_does_not_give_a_bare_percentage_its_basis():
    with pytest.raises(UnfitValue, match="without a basis"):
        units.convert(75, "%", "g/L", density_g_ml=1.7)


def test_mass_in_mass_and_volume_in_volume_keep_their_basis():
    assert units.convert(1, "%{w/w}", "g/kg") == pytest.approx(10)
    assert units.convert(1, "%{v/v}", "mL/L") == pytest.approx(10)
    with pytest.raises(UnfitValue):
        units.convert(1, "mL/L", "g/kg")


def test_the_same_unit_needs_nothing():
    assert units.convert(21.5, "Cel", "Cel") == 21.5


def test_more_units_can_be_handed_in():
    assert units.convert(1, "bag", "kg", more={"bag": (25_000.0, {units.MASS: 1})}) == 25


def test_sums_of_money_keep_currency_and_days():
    both = Money(95.0, "EUR", ("2024-05-01",)) + Money(5.0, "EUR", ("2023-01-01",))
    assert (both.amount, both.currency, both.dates) == (100.0, "EUR", ("2023-01-01", "2024-05-01"))
    assert (both - Money(40.0, "EUR")).amount == 60
    assert (2 * both / 4).amount == 50
    assert both / Money(50.0, "EUR") == 2


@pytest.mark.parametrize("act", [
    lambda: Money(1.0, "EUR") + Money(1.0, "USD"), lambda: Money(1.0, "EUR") - Money(1.0, "USD"),
    lambda: Money(1.0, "EUR") / Money(1.0, "USD"), lambda: money.one_currency(["EUR", "AUD"]),
])
def test_two_currencies_are_never_mixed(act):
    with pytest.raises(UnfitValue, match="they cannot be added or compared"):
        act()


@pytest.mark.parametrize("act", [
    lambda: Money(1.0, "eur"), lambda: Money(1.0, "EUR") + 1, lambda: Money(1.0, "EUR") * Money(1.0, "EUR"),
    lambda: Money(1.0, "EUR").exchanged(0, "USD", "2024-01-01"), lambda: money.mass_price(1, 0),
    lambda: money.mass_price(1, 1, 1.5),
])
def test_what_is_no_money_is_refused(act):
    with pytest.raises(UnfitValue):
        act()


def test_a_stated_rate_changes_the_currency_and_adds_its_day():
    there = Money(100.0, "EUR", ("2024-05-01",)).exchanged(1.6, "AUD", "2024-06-01")
    assert (there.amount, there.currency, there.dates) == (160.0, "AUD", ("2024-05-01", "2024-06-01"))


def test_a_price_of_pure_live_seed_buys_the_pure_live_part():
    assert money.mass_price(100, 1000, 0.25) == pytest.approx(0.025)


@given(st.lists(st.sampled_from(["", "EUR"]), max_size=4))
def test_blanks_have_no_currency(codes):
    assert money.one_currency(codes) == ("EUR" if "EUR" in codes else "")


def test_units_of_money_are_read_by_ucumvert():
    registry = pytest.importorskip("ucumvert").PintUcumRegistry()
    for code in (money.unit("EUR"), money.unit("EUR", "1000"), money.unit("EUR", "kg")):
        registry.from_ucum(code)
