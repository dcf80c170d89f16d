"""What is let pass as our own hand holds to the standard. Outside: frictionless 5.21, and the official profile by jsonschema."""

import json
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from palea.stamp import Stamp
from palea.tables import aswritten, descriptor, profile
from palea.tables.opening import open_package

TEXT = st.text(st.characters(codec="utf-8"), max_size=20)
MOMENT = st.sampled_from(["2024-02-29T00:00:00+00:00", "2023-02-29T00:00:00Z", "2024-01-01", "2024-01-01T25:00:00Z", ""])


def test_what_palea_wrote_needs_no_other_reader(small):
    assert aswritten.is_as_written(small)


@settings(max_examples=60, deadline=None)
@given(TEXT, TEXT, st.lists(TEXT, max_size=3), st.none() | TEXT | st.just("CC-BY-4.0"), MOMENT)
def test_whatever_is_let_pass_is_valid_outside(built, title, description, keywords, licence, when):
    """Titles, keywords and licences as anybody may type them, with the resources of a real package."""
    fresh = descriptor.new(title, Stamp("x", when), licence=licence, description=description, keywords=keywords)
    whole = descriptor.freeze({**fresh, "resources": open_package(built).descriptor["resources"]})
    package = SimpleNamespace(descriptor=whole, folder=built, names=("people",))
    if aswritten.is_as_written(package):
        assert profile._against_profile(package) == []
        assert profile._against_reference(package) == []
    elif title and when.startswith("2024-02"):
        assert not (licence is None and all(keywords) and title.isascii()), "an ordinary one is let pass"


@pytest.mark.parametrize(
    "change",
    [
        lambda raw: raw.update(homepage="nowhere"),
        lambda raw: raw.update(created="2024-02-30T00:00:00Z"),
        lambda raw: raw.update(licenses=[{"name": "CC BY"}]),
        lambda raw: raw.update(licenses=[{"name": "CC-BY-4.0", "path": "x"}]),
        lambda raw: raw.update(keywords=[]),
        lambda raw: raw.update(title=7),
        lambda raw: raw.update(schemaProfile=7),
        lambda raw: raw.update(schemaVersion="0.0.1"),
        lambda raw: raw.pop("name"),
        lambda raw: raw["resources"][2].update(encoding="latin-1"),
        lambda raw: raw["resources"][2].update(bytes="7"),
        lambda raw: raw["resources"][2].update(bytes=True),
        lambda raw: raw["resources"].pop(1),
        lambda raw: raw["resources"].append(raw["resources"][0]),
        lambda raw: raw["resources"].append({"name": "own", "path": "data/own.csv"}),
    ],
)
def test_anything_else_is_left_to_the_libraries(build, small, change):
    build.edit(small.folder, change)
    assert not aswritten.is_as_written(open_package(small.folder))


@pytest.mark.parametrize("load", ["from palea import lean\nlean.jsonschema()", "from palea import figures\nimport altair"])
def test_a_library_is_loaded_without_its_grammar_of_addresses(load):
    import subprocess
    import sys

    script = (
        f"import sys\n{load}\nimport jsonschema\njsonschema.Draft7Validator({{}}).validate(1)\n"
        "assert 'lark' not in sys.modules and 'rfc3987_syntax' not in sys.modules\nimport rfc3987_syntax"
    )
    assert subprocess.run([sys.executable, "-c", script], check=False, capture_output=True).returncode == 0


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(st.sampled_from(["name", "title", "zeta", "palea"]), TEXT | st.lists(TEXT, max_size=2), max_size=3),
    st.lists(st.dictionaries(TEXT, TEXT | st.dictionaries(TEXT, TEXT, max_size=2), max_size=3), max_size=3),
)
def test_the_file_is_laid_out_as_the_json_library_does(head, resources):
    """Outside: Python's own json with one space of indent, keys in our order."""
    order = [*(k for k in ("name", "title", "palea", "zeta") if k in head), "resources"]
    whole = {**head, "resources": resources}
    expected = json.dumps({key: whole[key] for key in order}, indent=1, ensure_ascii=False) + "\n"
    assert descriptor.text(whole).decode("utf-8", "surrogatepass") == expected
