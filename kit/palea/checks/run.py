"""The list of all rules, and running them over a package."""

from weakref import WeakKeyDictionary

from palea.checks import (
    attached,
    cleaning,
    coating,
    decision,
    field,
    germination,
    handling,
    lots,
    outsourced,
    planning,
    record,
    results,
)
from palea.derived.facts import Facts
from palea.findings import group, sort

STAGES = (lots, planning, cleaning, coating, outsourced, handling, germination, field, decision, results)
RULES = tuple(rule for stage in STAGES for rule in stage.RULES)

_KNOWN = WeakKeyDictionary()  # a Package never changes, so what was found in it once holds


def check(package):
    """All findings of a package, worst first; more than a handful of equal faults read as one with a count."""
    return group(findings_of(package))


def findings_of(package):
    """All findings, one a row, ungrouped: structure first, then the rules that no single table can state."""
    if package not in _KNOWN:
        _KNOWN[package] = tuple(sort([*structural(package), *ruled(package)]))
    return _KNOWN[package]


def structural(package):
    """What a single table, a key, the journal or the kept results can state."""
    from palea.tables import journal, validate

    return [
        *validate.structure(package), *journal.verify(package.folder), *record.stale_results(package), *attached.findings(package),
    ]


def ruled(package, rules=RULES):
    """What the rules find. Misfits were read as missing, so a rule never stumbles over them."""
    facts = Facts(package)
    return [finding for one in rules for finding in one.findings(facts)]
