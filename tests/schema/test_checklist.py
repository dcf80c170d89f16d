"""Checklist, hazard notes and references: every name in them exists, and every claim has its source."""

import re

import pytest

from palea import schema
from palea.shipped import folder

ITEMS = schema.checklist()
HAZARDS = schema.hazards()
TAGGED = ("step_action", "material_role", "equipment_kind", "clean_method")
each_item = pytest.mark.parametrize("item", ITEMS, ids=lambda i: i["id"])
KEYS = {
    "id", "stage", "weight", "question", "each", "subject", "table", "columns", "link", "link_from", "link_via",
    "having", "columns_from", "property", "when", "source",
}


def conditions(item):
    """(table, condition) of everything that an item asks of a row."""
    for one in item.get("when", ()):
        start = schema.table(item["subject"])
        yield (schema.table(start.link(one["via"]).table) if "via" in one else start), one
    for one in item.get("having", ()):
        yield schema.table(item["table"]), one


@each_item
def test_an_item_asks_a_plain_question_with_a_source(item):
    assert set(item) <= KEYS
    assert item["question"].endswith("?")
    assert item["weight"] in {"essential", "recommended"}
    assert item["source"] == "common practice, no source" or item["source"] in schema.references()
    assert item["subject"] in {"", *schema.tables()}


@each_item
def test_an_item_looks_where_something_is(item):
    if "property" in item:
        assert item["subject"] == ""
        return
    table = schema.table(item["table"])
    assert set(item["columns"]) <= set(table.fields)
    assert item["columns"] or "columns_from" in item
    if "columns_from" in item:
        how = item["columns_from"]
        assert table[how["column"]].vocabulary == how["vocabulary"]
        for word in schema.vocabulary(how["vocabulary"]).words.values():
            assert set(word[how["property"]]) <= set(table.fields)


@each_item
def test_a_link_leads_from_the_row_to_the_answer(item):
    if "link" not in item:
        assert item["table"] in {item["subject"], ""} or item["subject"] == ""
        return
    subject = schema.table(item["subject"])
    start = item.get("link_from", subject.primary_key[0])
    assert start in subject.fields
    linking = schema.table(item.get("link_via", item["table"]))
    key = linking.link(item["link"])
    if "link_from" in item:
        assert subject.link(start).table == item["table"]
    else:
        assert key.table == item["subject"]
        assert item["link"] in linking.fields
    if "link_via" in item:
        assert any(k.table == item["link_via"] for k in schema.table(item["table"]).foreign_keys)


@each_item
def test_a_condition_uses_words_that_exist(item):
    for table, one in conditions(item):
        field = table[one["column"]]
        assert len({"in", "filled", "below"} & set(one)) == 1
        if "in" in one:
            assert set(one["in"]) <= set(field.constraints["enum"])
        if "below" in one:
            assert field.type in {"number", "integer"}


def test_no_item_is_there_twice():
    ids = [i["id"] for i in ITEMS]
    assert len(set(ids)) == len(ids)
    asks = ("each", "table", "columns", "when", "having", "property", "columns_from")
    places = [repr([i.get(key) for key in asks]) for i in ITEMS]
    assert len(set(places)) == len(places)


def test_every_stage_of_the_path_is_asked_about():
    assert {i["stage"] for i in ITEMS} == set(schema.words("stage"))


def test_a_binder_is_asked_for_its_parts():
    """Coating studies leave out the binder solution most often: a preparation must say its parts."""
    item = next(i for i in ITEMS if i["table"] == "material_parts")
    assert item["weight"] == "essential"


# ---------------------------------------------------------------- hazards
def test_a_code_stands_beside_its_text_and_the_edition():
    """GHS A3.1.1.3: codes are for reference and may not replace the text."""
    assert re.search(r"Rev\.[0-9]+", HAZARDS["edition"])
    assert HAZARDS["source"] in schema.references()
    for code, statement in HAZARDS["statements"].items():
        assert re.fullmatch(r"[HP][0-9]{3}(\+P[0-9]{3})*", code)
        assert statement["text"]
        assert ("signal" in statement) == code.startswith("H")
        assert statement.get("signal", "Danger") in {"Danger", "Warning"}


# The texts of GHS Rev.9, Annex 3, as read for this project; the others are marked "from memory".
READ = {
    "H220": "Extremely flammable gas", "H225": "Highly flammable liquid and vapour",
    "H280": "Contains gas under pressure; may explode if heated", "H290": "May be corrosive to metals",
    "H314": "Causes severe skin burns and eye damage", "H315": "Causes skin irritation",
    "H318": "Causes serious eye damage",
    "H319": "Causes serious eye irritation", "H335": "May cause respiratory irritation",
    "H372": "Causes damage to organs through prolonged or repeated exposure",
    "P210": "Keep away from heat, hot surfaces, sparks, open flames and other ignition sources. No smoking.",
    "P260": "Do not breathe dust/fume/gas/mist/vapours/spray.",
    "P280": "Wear protective gloves/protective clothing/eye protection/face protection.",
    "P377": "Leaking gas fire: do not extinguish, unless leak can be stopped safely.",
    "P381": "In case of leakage, eliminate all ignition sources.", "P403": "Store in a well-ventilated place.",
}


@pytest.mark.parametrize("code", HAZARDS["statements"])
def test_a_text_was_read_or_says_that_it_was_not(code):
    statement = HAZARDS["statements"][code]
    assert READ.get(code) == statement["text"] or statement["note"] == "from memory"


@pytest.mark.parametrize("entry", HAZARDS["step_precautions"], ids=lambda e: e["id"])
def test_precautions_are_codes_that_exist_or_sentences(entry):
    assert entry["when"] == {"hazard": entry["id"]}
    for line in (*entry["statements"], *entry["precautions"]):
        assert line in HAZARDS["statements"] or line.endswith((".", ":")), line


def test_every_kind_of_danger_has_its_precautions():
    tags = {tag for name in TAGGED for word in schema.vocabulary(name).words.values() for tag in word["hazard"]}
    assert tags == {e["id"] for e in HAZARDS["step_precautions"]}


@pytest.mark.parametrize(("name", "word", "tag"), [
    ("step_action", "soak in acid", "acid"), ("material_role", "acid", "acid"), ("step_action", "flame", "flame"),
    ("material_role", "fuel", "flame"), ("step_action", "powder", "dust"), ("material_role", "active", "active"),
    ("step_action", "brush", "machinery"), ("clean_method", "acid", "acid"), ("clean_method", "flame", "flame"),
])
def test_dangerous_steps_are_marked(name, word, tag):
    assert tag in schema.word(name, word)["hazard"]


def test_acid_goes_into_water():
    acid = next(e for e in HAZARDS["step_precautions"] if e["id"] == "acid")
    assert any(line.startswith("Add acid to water") for line in acid["precautions"])


def test_nothing_is_called_safe():
    """GHS: no statement may imply the absence of hazard. “Stopped safely” is the text of P377."""
    text = (folder("schema") / "hazards.json").read_text(encoding="utf-8").replace("stopped safely", "")
    assert not re.search(r"\b(safe|safely|harmless|non-toxic)\b", text, re.IGNORECASE)


def test_the_local_assessment_and_the_data_sheet_come_first():
    text = " ".join(HAZARDS["always"])
    assert "risk assessment" in text
    assert "safety data sheet" in text
    for table, columns in HAZARDS["asks"].items():
        assert set(columns) <= set(schema.table(table).fields)


# ---------------------------------------------------------------- references
CSL_TYPES = {"article-journal", "book", "chapter", "dataset", "legislation", "report", "standard", "webpage"}


CSL_KEYS = {
    "id", "type", "author", "issued", "title", "container-title", "volume", "issue", "page", "DOI", "URL", "publisher",
    "edition", "note",
}


@pytest.mark.parametrize("key", schema.references())
def test_a_reference_is_csl(key):
    """CSL-JSON 1.0: id, type of its list, names with family or literal, dates as date-parts."""
    item = schema.references()[key]
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", key)
    assert item["type"] in CSL_TYPES
    assert item["title"]
    assert all(set(a) <= {"family", "given", "literal"} for a in item.get("author", ()))
    assert all(isinstance(part, int) for part in item.get("issued", {"date-parts": [[2000]]})["date-parts"][0])
    assert set(item) <= CSL_KEYS
