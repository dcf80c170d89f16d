"""README.md lists every check with its source, and nothing is older than the tests."""

import importlib.util
from pathlib import Path

import pytest

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def made():
    spec = importlib.util.spec_from_file_location("truths_page", HERE / "__main__.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_is_what_the_tests_say(made):
    assert (HERE / "README.md").read_text(encoding="utf-8") == made.page(), "write it anew: python tests/truths"


def test_every_file_and_every_data_file_says_where_it_is_from(made):
    sources = (HERE / "data" / "SOURCES.md").read_text(encoding="utf-8")
    data = {path.name for path in (HERE / "data").iterdir()} - {"SOURCES.md"}
    assert {name for name in data if f"- {name}:" not in sources} == set()
    assert [path.name for path in HERE.glob("test_*.py") if len(made._opening(path)) < 20] == []


def test_cases_values_and_sources_are_read_off_the_tests(made):
    found = {check.test: check for check in made.checks(HERE / "test_proportions.py")}
    one = found["test_proportions.py:test_one_share_agrees_with_newcombe_1998"]
    assert one.cases == 4
    assert "0.2553, 0.3662" in one.value
    assert "Newcombe 1998, Stat. Med. 17:857" in one.source
    assert one.tolerance == "abs 5.1e-05"
