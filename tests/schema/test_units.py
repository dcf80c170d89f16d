"""Units are UCUM codes that a UCUM reader takes. Truth from outside: ucumvert (the UCUM grammar) with pint."""

import pytest

from palea import schema

# Codes that are valid UCUM and that ucumvert cannot turn into a unit, each with its reason. None is needed now: a bare
# annotation such as {seed} would be one, and is written 1.
CANNOT_BE_READ = {}
UNITS = {f.unit for t in schema.tables().values() for f in t.fields.values() if f.unit}
WORDS = schema.vocabulary("unit").words


def of_words(name):
    """Units that the words of a list carry."""
    return {word["unit"] for word in schema.vocabulary(name).words.values()}


@pytest.fixture(scope="module")
def registry():
    import ucumvert

    return ucumvert.PintUcumRegistry()


USED = UNITS | set(WORDS) | of_words("quantity") | of_words("reading_item")


@pytest.mark.parametrize("code", sorted(USED - set(CANNOT_BE_READ)))
def test_a_unit_is_ucum(registry, code):
    registry.from_ucum(code)


@pytest.mark.parametrize("code", ["rpm", "degC", "ppm", "°C", "grams"])
def test_what_is_not_ucum_is_refused(registry, code):
    with pytest.raises(Exception, match=r"(?s)."):
        registry.from_ucum(code)


def test_units_of_columns_are_on_the_list():
    assert set(WORDS) >= UNITS


# By the code, pint's name of its dimension, where one word of ours has one.
DIMENSIONS = {
    "mass": "[mass]", "volume": "[length] ** 3", "length": "[length]", "area": "[length] ** 2", "time": "[time]",
    "temperature": "[temperature]", "mass per volume": "[mass] / [length] ** 3",
    "amount per volume": "[substance] / [length] ** 3",
}
OF_A_DIMENSION = [c for c, w in WORDS.items() if w["dimension"] in DIMENSIONS and not c.startswith("%")]


@pytest.mark.parametrize("code", OF_A_DIMENSION)
def test_a_unit_is_of_its_dimension(registry, code):
    unit = registry.from_ucum(code)
    assert unit.check(DIMENSIONS[WORDS[code]["dimension"]]), unit.dimensionality


@pytest.mark.parametrize("code", [c for c, w in WORDS.items() if "in_base" in w])
def test_the_factor_to_the_base_is_the_registrys(registry, code):
    """Each factor against pint, with the unit of the same dimension whose factor is 1."""
    word = WORDS[code]
    base = next(c for c, w in WORDS.items() if w["dimension"] == word["dimension"] and w.get("in_base") == 1)
    ratio = (1 * registry.from_ucum(code)).to(registry.from_ucum(base)).magnitude
    assert word["in_base"] == pytest.approx(ratio, rel=1e-12)


@pytest.mark.parametrize(("suffix", "unit"), [
    ("_g", "g"), ("_mm", "mm"), ("_m", "m"), ("_m2", "m2"), ("_pct", "%"), ("_c", "Cel"), ("_rpm", "{rev}/min"),
    ("_min", "min"),
    ("_s", "s"), ("_mpa", "MPa"), ("_days", "d"), ("_hours", "h"), ("_g_ml", "g/mL"), ("_g_mol", "g/mol"),
    ("_g_per_kg", "g/kg"),
    ("_l_min", "L/min"), ("_ml", "mL"),
])
def test_a_name_that_ends_in_a_unit_has_it(suffix, unit):
    """A longer suffix comes before a shorter one: density_g_ml ends in _ml and is no volume."""
    longer = [s for s in ("_g_ml", "_g_mol", "_g_per_kg", "_l_min") if s != suffix and s.endswith(suffix)]
    named = [f for t in schema.tables().values() for f in t.fields.values()
             if f.name.endswith(suffix) and f.type in {"number", "integer"} and not f.name.endswith(tuple(longer))]
    assert named
    assert {f.unit for f in named} == {unit}
