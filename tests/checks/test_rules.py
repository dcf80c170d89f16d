"""Every rule finds what it is for, leaves alone what nearly is, and says so in a sentence with a place and a remedy."""

import pytest

from palea import schema
from palea.checks.run import RULES
from palea.derived.facts import Facts
from palea.derived.view import View
from palea.findings import SEVERITIES


def name_of(read):
    return read.name if isinstance(read, View) else read


each = pytest.mark.parametrize("rule", RULES, ids=lambda r: r.id)


@each
def test_a_rule_finds_what_it_is_for(rule, frames):
    found = rule.findings(Facts(frames(rule.fires)))
    assert len(found) == 1, [f.message for f in found]
    assert found[0].row is not None
    assert "{" not in found[0].message + found[0].remedy
    assert "nan" not in found[0].message
    assert "<NA>" not in found[0].message


@each
def test_a_rule_leaves_alone_what_nearly_is(rule, frames):
    assert rule.findings(Facts(frames(rule.nearly))) == []


@each
def test_a_rule_is_silent_on_an_empty_package(rule, frames):
    assert rule.findings(Facts(frames({}))) == []


@pytest.mark.parametrize("rule", [r for r in RULES if r.needs], ids=lambda r: r.id)
def test_what_a_rule_needs_it_reads_and_finds_nothing_without(rule, frames):
    for needed in rule.needs:
        assert needed != rule.table
        assert needed in {*rule.read, *(name_of(r) for r in rule.reads)}
        for example in (rule.fires, rule.nearly):
            facts = Facts(frames({table: rows for table, rows in example.items() if table != needed}))
            read = {name_of(r): facts[r] for r in rule.reads}
            bad = rule.function(**read | {name: frame.iloc[:0] for name, frame in read.items() if name == needed})
            assert bad is None or bad.empty


@each
def test_a_rule_is_well_told(rule):
    assert rule.severity in SEVERITIES
    assert rule.says.rstrip().endswith((".", "?"))
    assert rule.remedy.rstrip().endswith(".")
    assert rule.table in schema.tables()
    assert not rule.field_name or schema.table(rule.table)[rule.field_name]


def test_ids_are_unique():
    assert len({r.id for r in RULES}) == len(RULES)


def test_each_kind_of_rule_occurs():
    """Order in time, ledger, lineage, counts, design, contrast."""
    ids = {r.id for r in RULES}
    assert {
        "germination.counted-before-sowing", "lots.more-drawn-than-held", "lots.lineage-loop",
        "germination.cumulative-falls", "planning.block-incomplete", "planning.two-factors",
    } <= ids
    assert len(RULES) >= 15
