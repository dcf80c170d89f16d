"""Findings as they are collected while one table is read or checked. Many alike become one that counts them."""

from palea.findings import SHOWN_ROWS, Finding

MANY = 200  # equal faults of one column that are still worth a Finding each


class Found:
    """Findings of one table. `broken`: the file cannot be written again without losing something that it holds."""

    def __init__(self, table):
        self.table = table
        self.findings = []
        self.broken = False

    def whole(self, rule, message, remedy, *, field="", value=None, broken=True, severity="error"):
        """About the file or a column, not about a row."""
        self.findings.append(Finding(rule, severity, self.table, None, field, value, message, remedy))
        self.broken |= broken

    def row(self, position, rule, message, remedy, *, broken=False):
        """About one row; position counts from 0 after the header."""
        self.findings.append(Finding(rule, "error", self.table, position + 2, "", None, message, remedy))
        self.broken |= broken

    def cells(self, rule, field, positions, says, remedy, values=None):
        """About cells of one column; says and remedy take the index within `positions` -> text. Beyond MANY they
        fold into one.
        """
        rows = [int(p) + 2 for p in positions]
        if not rows:
            return
        shown = range(len(rows)) if len(rows) <= MANY else [0]
        count, first = (1, ()) if len(rows) <= MANY else (len(rows), tuple(rows[:SHOWN_ROWS]))
        for i in shown:
            value = None if values is None else str(values[i])
            self.findings.append(
                Finding(rule, "error", self.table, rows[i], field, value, says(i), remedy(i), count, first)
            )
