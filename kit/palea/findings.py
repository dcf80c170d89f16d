"""A finding: one thing that is wrong, doubtful or not reported, said so that a person can act on it."""

from collections import defaultdict
from dataclasses import asdict, dataclass, replace

SEVERITIES = ("error", "warning", "gap")  # worst first
SHOWN_ROWS = 5


@dataclass(frozen=True)
class Finding:
    """What is wrong, where, and what to do next.

    rule : id of the rule that found it.
    severity : one of SEVERITIES.
    table, field : names as in the schema; "" where none.
    row : line as a spreadsheet shows it (the header is line 1); None where no single row is meant.
    value : what was found there, as text; None where none.
    message, remedy : sentences.
    count, rows : how many equal faults this one stands for, and the first of their rows.
    """

    rule: str
    severity: str
    table: str
    row: int | None
    field: str
    value: str | None
    message: str
    remedy: str
    count: int = 1
    rows: tuple[int, ...] = ()

    def __str__(self):
        """Table, row, sentence, remedy: one paragraph."""
        place = ", ".join(filter(None, (self.table, f"row {self.row}" if self.row else "", self.field)))
        more = f" ({self.count} rows: {', '.join(map(str, self.rows))}{' ...' if self.count > len(self.rows) else ''})"
        return f"{self.severity.capitalize()} · {place}: {self.message}{more if self.count > 1 else ''} {self.remedy}"

    def as_json(self):
        """The shape that `palea check --json` prints."""
        return asdict(self) | {"rows": list(self.rows)}


def sort(findings):
    """Worst first, then by table, row and rule."""
    return sorted(findings, key=lambda f: (SEVERITIES.index(f.severity), f.table, f.row or 0, f.field, f.rule))


def counted(findings):
    """How many there are of each severity, as "2 errors, 1 warning, 0 gaps."."""
    number = {s: sum(f.count for f in findings if f.severity == s) for s in SEVERITIES}
    return ", ".join(f"{n} {s}{'' if n == 1 else 's'}" for s, n in number.items()) + "."


def group(findings, at_most=SHOWN_ROWS):
    """Fold more than `at_most` equal faults (same rule, table and field) into one with a count and its first rows.

    Ten thousand equal faults are one thing to mend, so they read as one finding.
    """
    alike = defaultdict(list)
    for finding in findings:
        alike[finding.rule, finding.table, finding.field, finding.severity].append(finding)
    return sort(kept for same in alike.values() for kept in _fold(same, at_most))


def _fold(same, at_most):
    if len(same) <= at_most:
        return same
    rows = sorted({f.row for f in same if f.row})
    return [replace(same[0], count=sum(f.count for f in same), rows=tuple(rows[:at_most]))]
