"""Word lists: every word is defined and sourced, and says what the code relies on."""

import re

import pytest

from palea import schema
from palea.calc import terms

LISTS = list(schema.vocabularies().values())
WORDS = [(v, w) for v in LISTS for w in v.words.values()]
OWN = {"our own word", "common practice, no source"}
each_list = pytest.mark.parametrize("found", LISTS, ids=lambda v: v.name)
each_word = pytest.mark.parametrize(("found", "word"), WORDS, ids=lambda x: x.name if hasattr(x, "name") else x["name"])


@each_word
def test_a_word_is_defined_and_sourced(found, word):
    assert word["title"]
    assert word["definition"].endswith(".")
    assert word["source"] in OWN or word["source"] in schema.references()
    assert set(word.get("see", ())) <= set(schema.references())


@each_list
def test_no_two_words_of_a_list_share_a_title(found):
    titles = [w["title"].casefold() for w in found.words.values()]
    assert len(set(titles)) == len(titles)


@each_list
def test_a_list_says_what_it_is_and_is_used(found):
    assert found.title
    assert found.description.endswith(".")
    fields = [f for t in schema.tables().values() for f in t.fields.values()]
    used = {name for f in fields for name in (f.vocabulary, f.list_of, f.suggested)}
    assert found.name in used | {"text_format"}, "a list that no column uses"


@each_list
def test_words_are_unchanged_by_trimming(found):
    """A word with blanks around it, or a semicolon inside, could not stand in a list of a cell."""
    assert not [w for w in found.words if w != w.strip() or ";" in w or "  " in w]


@pytest.mark.parametrize(("enum", "name"), [
    (terms.Verdict, "verdict"), (terms.Denominator, "denominator"), (terms.Kind, "contrast_kind"), (terms.Rung, "rung"),
])
def test_words_that_calculations_branch_on_are_those_of_the_list(enum, name):
    assert [member.value for member in enum] == list(schema.vocabulary(name).words)


ONE_SIGN = {"received": 1, "made": 1, "returned": 1, "weighed": 0}


def test_movements_add_take_or_weigh():
    for name, word in schema.vocabulary("movement_kind").words.items():
        assert word["sign"] == ONE_SIGN.get(name, -1)
        assert set(word["needs"]) <= set(schema.table("movements").fields)


def test_what_a_seed_can_come_to():
    """After the germination categories of seed testing: normal, abnormal, hard, fresh and dead; 7 CFR 201.57a calls the
    dormant and the hard viable. Empty units hold no seed."""
    assert set(schema.words("outcome", germinated=True)) >= {"normal", "abnormal"}
    assert schema.words("outcome", waiting=True) == ["hard", "fresh"]
    assert not schema.word("outcome", "dead")["viable"]
    assert not schema.word("outcome", "empty")["filled"]
    for word in schema.vocabulary("outcome").words.values():
        assert not word["germinated"] or word["viable"], "what germinated was alive"
        assert not word["viable"] or word["filled"], "what is alive lies in a filled unit"
        assert not word["waiting"] or not word["germinated"]


def test_every_share_counts_outcomes():
    for name in schema.words("quantity", is_share=True):
        word = schema.word("quantity", name)
        assert word["unit"] == "%"
        assert set(word["numerator"]) <= set(schema.vocabulary("outcome").words)


def test_every_quantity_can_be_said_and_drawn():
    for word in schema.vocabulary("quantity").words.values():
        assert word["axis"]
        assert word["higher_called"] != word["lower_called"]


def test_steps_ask_for_columns_of_the_table():
    for word in schema.vocabulary("step_action").words.values():
        assert set(word["asks"]) <= set(schema.table("run_steps").fields)


def test_tests_suggest_readings_that_are_on_the_list():
    items = {i for w in schema.vocabulary("test_quantity").words.values() for i in w["items"]}
    assert items == set(schema.vocabulary("reading_item").words)


def test_factors_and_units_know_their_rung():
    assert {w["rung"] for w in schema.vocabulary("asks_about").words.values()} <= set(schema.vocabulary("rung").words)


def test_a_place_is_made_coarser_as_it_is_more_sensitive():
    """Chapman 2020, categories: low 0.001, medium 0.01, high 0.1 degree; extreme is not released."""
    grids = {name: w["grid_deg"] for name, w in schema.vocabulary("place_sensitivity").words.items()}
    assert grids == {"none": 0, "low": 0.001, "medium": 0.01, "high": 0.1, "extreme": None}


def test_the_four_denominators_are_said_with_of():
    assert all(w["of"].startswith("of ") for w in schema.vocabulary("denominator").words.values())


@pytest.mark.parametrize(("good", "bad"), [
    (("https://orcid.org/0000-0002-1825-0097",), ("0000-0002-1825-0097", "https://orcid.org/0000-0002-1825-009")),
])
def test_an_orcid_is_a_full_address(good, bad):
    pattern = schema.word("text_format", "orcid")["pattern"]
    assert all(re.fullmatch(pattern, text) for text in good)
    assert not [text for text in bad if re.fullmatch(pattern, text)]


def test_ror_and_cas_are_written_as_their_registries_write_them():
    """ROR: 0, six characters without i l o u, two digits. CAS: 2 to 7 digits, 2 digits, a check digit."""
    ror, cas = (schema.word("text_format", n)["pattern"] for n in ("ror", "cas"))
    assert re.fullmatch(ror, "https://ror.org/0examp765")
    assert not re.fullmatch(ror, "https://ror.org/0exampl65")
    assert re.fullmatch(cas, "7664-93-9")
    assert not re.fullmatch(cas, "7664939")


def test_words_having_a_property():
    assert schema.words("movement_kind", sign=0) == ["weighed"]
    assert schema.words("movement_kind", sign=7) == []
