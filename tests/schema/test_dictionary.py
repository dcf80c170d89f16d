"""The schema in words."""

import json
import re

import pytest

from palea import schema
from palea.errors import SchemaError
from palea.schema import dictionary
from palea.shipped import folder


def test_the_page_is_current():
    text = (folder("schema") / "DICTIONARY.md").read_text(encoding="utf-8")
    behind = "schema/DICTIONARY.md is behind the JSON: run `python -m palea.schema.dictionary`"
    assert text == dictionary.dictionary(), behind


@pytest.mark.parametrize("table", schema.tables().values(), ids=lambda t: t.name)
def test_a_table_in_words_names_every_column_and_every_allowed_word(table):
    text = dictionary.dictionary(table.name)
    for field in table.fields.values():
        assert f"| `{field.name}`" in text
        assert field.description in text.replace("\\|", "|")
        for word in schema.vocabulary(field.vocabulary).words if field.vocabulary else ():
            assert f"| `{word}` |" in text


def test_one_table_leaves_the_others_out():
    text = dictionary.dictionary("counts")
    assert "### counts" in text
    assert "### lots" not in text
    assert "### List outcome" in text
    assert "### List seed unit" not in text


def test_every_row_of_a_grid_has_the_width_of_its_head():
    for block in dictionary.dictionary().strip().split("\n\n"):
        if block.startswith("|"):
            widths = {line.replace("\\|", "").count("|") for line in block.split("\n")}
            assert len(widths) == 1, block[:200]


def test_links_lead_to_headings():
    text = dictionary.dictionary()
    headings = {line[4:].lower().replace(" ", "-") for line in text.split("\n") if line.startswith("### ")}
    assert set(re.findall(r"\]\(#([^)]+)\)", text)) <= headings


def test_an_unknown_table_is_answered_with_the_nearest():
    with pytest.raises(SchemaError, match="nearest is “counts”"):
        dictionary.dictionary("count")


def test_as_data_it_can_be_written_as_json():
    data = json.loads(json.dumps(dictionary.as_json("counts")))
    assert data["schemaVersion"] == schema.version()
    assert [t["name"] for t in data["tables"]] == ["counts"]
    assert {v["name"] for v in data["vocabularies"]} == {"outcome", "missing_reason", "count_method"}
    assert len(dictionary.as_json()["tables"]) == len(schema.tables())
