"""The sentences of the rules as a person reads them: place, value and words, for the example that fires each rule.

They stand in said/<stage>.json, a row a rule: rule, row as a spreadsheet shows it, column, value found there, sentence.
"""

import json
from pathlib import Path

import pytest

from palea.checks.run import RULES
from palea.derived.facts import Facts

PAGES = sorted(Path(__file__).with_name("said").glob("*.json"))
SAID = [tuple(row) for page in PAGES for row in json.loads(page.read_text(encoding="utf-8"))]


@pytest.mark.parametrize(("rule_id", "row", "field", "value", "sentence"), SAID, ids=[s[0] for s in SAID])
def test_a_finding_reads_as_it_should(rule_id, row, field, value, sentence, frames):
    rule = next(r for r in RULES if r.id == rule_id)
    (found,) = rule.findings(Facts(frames(rule.fires)))
    assert (found.row, found.field, found.value, found.message) == (row, field, value, sentence)


def test_no_rule_is_without_a_tested_sentence():
    assert sorted(s[0] for s in SAID) == sorted(r.id for r in RULES)


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_a_page_holds_the_rules_of_its_stage(page):
    assert {row[0].partition(".")[0] for row in json.loads(page.read_text(encoding="utf-8"))} == {page.stem}
