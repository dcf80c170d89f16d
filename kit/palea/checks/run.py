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
        plain = structural(package)
        _KNOWN[package] = tuple(sort([*plain, *_beyond(ruled(package), plain)]))
    return _KNOWN[package]


def _beyond(found, plain):
    """What the rules found, without what only says again that a cell could not be read: that is one fault, and told."""
    unread = [f for f in plain if f.rule.startswith("cell.")]
    cells, rows = {(f.table, f.row, f.field) for f in unread}, {(f.table, f.row) for f in unread}
    for f in found:
        again = (f.table, f.row, f.field) in cells or (f.severity == "gap" and (f.table, f.row) in rows)
        if not again:
            yield f


def structural(package):
    """What a single table, a key, the journal or the kept results can state."""
    from palea.tables import validate

    return [*validate.structure(package), *record.stale_results(package), *attached.findings(package)]


def ruled(package, rules=RULES):
    """What the rules find. Misfits were read as missing, so a rule never stumbles over them."""
    facts = Facts(package)
    return [finding for one in rules for finding in one.findings(facts)]
