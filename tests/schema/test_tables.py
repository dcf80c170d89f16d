"""Every table of the schema: valid by the official standard, whole, and true to its own limits."""

import json
import re

import jsonschema
import pytest
from referencing import Registry, Resource
from referencing.jsonschema import DRAFT7

from palea import schema
from palea.schema import travel
from palea.shipped import folder

TABLES = list(schema.tables().values())
FIELDS = [(t, f) for t in TABLES for f in t.fields.values()]
FILES = {name: folder("schema") / f"tables/{name}.json" for name in schema.tables()}
RAW = {name: json.loads(path.read_text(encoding="utf-8")) for name, path in FILES.items()}
KNOWN = {
    "name", "type", "title", "description", "example", "constraints", "parse", "unit", "vocabulary", "list_of",
    "suggested",
    "sharing", "miappe",
}
each_field = pytest.mark.parametrize(("table", "field"), FIELDS, ids=lambda x: getattr(x, "name", ""))
each_table = pytest.mark.parametrize("table", TABLES, ids=lambda t: t.name)


def official(kind):
    """A validator of one official profile that never looks outside the bundled files."""
    addresses = travel.official()
    registry = Registry().with_resources((a, Resource(p, DRAFT7)) for a, p in addresses.items())
    return jsonschema.Draft7Validator(addresses[f"https://datapackage.org/profiles/2.0/{kind}.json"], registry=registry)


@each_table
def test_a_descriptor_is_valid_by_the_official_profile(table):
    """Truth from outside: Data Package 2.0, tableschema.json, as published."""
    checker = official("tableschema")
    assert not [e.message for e in checker.iter_errors(RAW[table.name])]
    assert not [e.message for e in checker.iter_errors(travel.table_schema(table.name))]


def test_the_official_profile_finds_fault():
    wrong = {"fields": [{"name": "mass_g", "type": "number", "constraints": {"minimum": [0]}}]}
    assert list(official("tableschema").iter_errors(wrong))


def test_the_order_of_work_names_every_table_once():
    order = json.loads((folder("schema") / "tables.json").read_text(encoding="utf-8"))["order"]
    files = {p.stem for p in (folder("schema") / "tables").glob("*.json")}
    assert sorted(order) == sorted(files)


@each_table
def test_a_table_says_what_it_is(table):
    assert table.title
    assert table.description.endswith(".")
    assert table.name == RAW[table.name]["name"]
    assert set(table.label_fields) <= set(table.fields)
    assert len(RAW[table.name]["fields"]) == len(table.fields), "a column is listed twice"
    titles = [f.title for f in table.fields.values()]
    assert len(set(titles)) == len(titles), "two columns of a table may not share a title"


@each_field
def test_a_field_is_whole(table, field):
    raw = next(f for f in RAW[table.name]["fields"] if f["name"] == field.name)
    assert re.fullmatch(r"[a-z][a-z0-9_]*", field.name)
    assert field.title
    assert field.description[-1] in ".?", field.description
    assert field.example is not None
    assert field.type in {"string", "integer", "number", "boolean"}
    assert not {k for k in raw if ":" not in k} - KNOWN, "a property that nobody reads"
    for name in filter(None, (field.vocabulary, field.list_of, field.suggested)):
        assert name in schema.vocabularies()
    if field.parse:
        assert field.parse in schema.vocabulary("text_format").words
    if field.vocabulary:
        assert "enum" not in raw.get("constraints", {}), "the list is in the vocabulary, not here"


@each_field
def test_an_example_passes_its_own_limits(table, field):
    limits, value = field.constraints, field.example
    text = str(value)
    if "pattern" in limits:
        assert re.fullmatch(limits["pattern"], text)
    if "enum" in limits:
        assert value in limits["enum"]
    if field.type in {"integer", "number"}:
        assert limits.get("minimum", value) <= value <= limits.get("maximum", value)
        assert "exclusiveMinimum" not in limits or value > limits["exclusiveMinimum"]
        assert "exclusiveMaximum" not in limits or value < limits["exclusiveMaximum"]
    if field.suggested:
        assert value in schema.vocabulary(field.suggested).words


@each_field
def test_an_example_can_be_read_as_a_cell_of_a_file(table, field):
    """The parsers of the tables layer are another reading of the same words: both must agree."""
    from palea.tables import formats

    text = str(field.example).lower() if field.type == "boolean" else str(field.example)
    assert formats.read(field, text)[1] is None


@each_table
def test_a_primary_key_is_of_columns_that_must_be_filled(table):
    assert table.primary_key
    assert all(table[name].required for name in table.primary_key)


@each_table
def test_a_text_key_is_fit_for_file_names_and_formulas(table):
    """An id that begins with = + - @ would be run by a spreadsheet; one with / or .. would leave its folder."""
    own = [n for n in table.primary_key if table[n].type == "string" and not table[n].vocabulary and n.endswith("_id")]
    for name in own:
        pattern = table[name].constraints["pattern"]
        assert re.fullmatch(pattern, "AV-T05_1.b")
        bad = ("=A1", "-1", "+x", "@x", "../x", "a/b", "a b", ".x", "", "a" * 65)
        assert not [text for text in bad if re.fullmatch(pattern, text)]


@each_table
def test_a_foreign_key_leads_to_a_row(table):
    for key in table.foreign_keys:
        there = schema.table(key.table)
        unique = {there.primary_key} | {(n,) for n, f in there.fields.items() if f.constraints.get("unique")}
        assert key.to in unique, f"{table.name}.{key.fields} leads to columns that may repeat"
        assert [table[n].type for n in key.fields] == [there[n].type for n in key.to]
        raw = next(k for k in RAW[table.name]["foreignKeys"] if tuple(k["fields"]) == key.fields)
        elsewhere = key.table != table.name
        assert ("resource" in raw["reference"]) == elsewhere, "version 2 leaves out resource for a key to itself"


@each_table
def test_a_column_that_names_a_row_elsewhere_has_its_key(table):
    """A column called like the key of another table leads there, unless that table is still to come."""
    keys = {t.primary_key[0]: t.name for t in TABLES if len(t.primary_key) == 1 and t.name != table.name}
    for name in set(table.fields) & set(keys) - {"person_id"}:
        links = {k.table for k in table.foreign_keys if name in k.fields}
        assert keys[name] in links, f"{table.name}.{name}"


@pytest.mark.parametrize(("table", "column", "to"), [
    ("units", "parent_unit_id", "units"), ("contrasts", "a", "treatments"), ("contrasts", "b", "treatments"),
    ("counts", "observer", "people"), ("environments", "chamber", "equipment"), ("runs", "keep_lot_id", "lots"),
    ("movements", "counterpart_lot_id", "lots"), ("material_parts", "part_material_id", "materials"),
])
def test_keys_under_another_name(table, column, to):
    assert schema.table(table).link(column).table == to


def test_a_contrast_asks_for_an_outcome_of_its_trial():
    keys = [k for k in schema.table("contrasts").foreign_keys if k.table == "trial_outcomes"]
    assert [(k.fields, k.to) for k in keys] == [(("trial_id", "outcome"), ("trial_id", "outcome"))]


def test_counts_have_the_five_part_key():
    assert schema.table("counts").primary_key == ("visit_id", "unit_id", "outcome", "taxon_id", "observer")


@pytest.mark.parametrize("bad", [
    "2024-5", "24-05-01", "07/08/2023", "2024-05-01 09:00", "2024-05-01T9:00", "2024-05-01T09:00 ", "٢٠٢٤",
])
def test_the_pattern_of_dates_refuses(bad):
    assert not re.fullmatch(schema.table("visits")["visited_at"].constraints["pattern"], bad)


@pytest.mark.parametrize("good", [
    "2024", "2024-05", "2024-05-01", "2024-05-01T09:00", "2024-05-01T09:00:30Z", "2024-05-01T09:00+02:00",
])
def test_the_pattern_of_dates_takes(good):
    assert re.fullmatch(schema.table("visits")["visited_at"].constraints["pattern"], good)


def test_a_list_takes_allowed_words_alone():
    pattern = schema.table("visits")["looked_for"].constraints["pattern"]
    assert re.fullmatch(pattern, "normal; abnormal")
    assert not [bad for bad in ("normal;", "normal, abnormal", "normals", "; normal") if re.fullmatch(pattern, bad)]


def test_a_reason_for_a_blank_stands_after_its_column():
    pattern = schema.table("runs")["why_blank"].constraints["pattern"]
    assert re.fullmatch(pattern, "room_rh: not recorded; machine_min: not looked")
    bad = ("not recorded", "room_rh: forgot", "room_rh: not recorded,")
    assert not [text for text in bad if re.fullmatch(pattern, text)]


def test_what_is_private_says_so():
    """After Chapman 2020: places are generalised, names need consent; permits and prices are asked about."""
    marks = {f"{t.name}.{f.name}": f.sharing for t, f in FIELDS if f.sharing}
    assert marks["lots.latitude"] == marks["lots.longitude"] == marks["lots.place"] == "blur"
    assert marks["people.name"] == marks["people.orcid"] == "consent"
    assert marks["lots.permit"] == "ask"
    assert set(marks.values()) == {"blur", "consent", "ask"}


def test_an_unknown_name_is_answered_with_the_nearest():
    from palea.errors import SchemaError

    with pytest.raises(SchemaError, match="nearest is “movements”"):
        schema.table("movement")
    with pytest.raises(SchemaError, match=r"field of movements called “mass”.*“mass_g”"):
        schema.table("movements")["mass"]


def test_signs_in_a_word_of_a_list_stand_for_themselves():
    from palea.schema import read

    pattern = read._list_pattern("list", ["a.b", "c (d)"])
    assert re.fullmatch(pattern, "a.b; c (d)")
    assert not re.fullmatch(pattern, "axb")
