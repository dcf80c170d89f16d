"""What a rule is: data, and one vectorised function that returns the rows it finds fault with.

The function gets what the rule reads (tables by name, views by theirs) and returns a frame whose index is that of the
table named in `at`, with a column for every value that the sentence names. Row numbers, grouping, the page of rules and
the rule's two tests are made from this data.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from string import Formatter

import numpy as np
import pandas as pd

from palea.derived.view import View
from palea.findings import Finding

HEADER_ROWS = 2  # index 0 is line 2 of the file: the header is line 1


@dataclass(frozen=True)
class Rule:
    """One thing that can be wrong with a package beyond a single cell.

    id : "stage.what-is-wrong".  severity : error, warning or gap.
    reads : table names and views.  at : "table.field", where the finding points.
    says, remedy : sentences; {name} is filled in from the columns of what the function returns.
    needs : what it reads without a row of which there is nothing to find fault with, so that nothing need be worked out.
    fires, nearly : small sets of tables: one that the rule finds fault with, one that it almost does.
    """

    id: str
    severity: str
    reads: tuple
    at: str
    says: str
    remedy: str
    fires: Mapping = field(repr=False)
    nearly: Mapping = field(repr=False)
    function: Callable = field(repr=False)
    needs: tuple = ()

    @property
    def table(self):
        """The table that its findings point into."""
        return self.at.partition(".")[0]

    @property
    def field_name(self):
        """The column that its findings point at; "" where the whole row is meant."""
        return self.at.partition(".")[2]

    @cached_property
    def read(self):
        """Names of all tables that it rests on, those of its views included."""
        return frozenset(name for r in self.reads for name in (r.reads if isinstance(r, View) else (r,)))

    def findings(self, facts):
        """All faults of that kind, one Finding a row.

        facts : Facts, or a mapping of the frames that the rule reads.
        """
        if hasattr(facts, "is_empty") and self._finds_nothing(facts):
            return []
        frames = {(r.name if isinstance(r, View) else r): facts[r] for r in self.reads}
        if any(name in frames and frames[name].empty for name in self.needs):
            return []
        bad = self.function(**frames)
        if bad is None or not len(bad):
            return []
        whole = facts[self.table]
        rows = np.where(bad.index.isin(whole.index), bad.index, -1)
        found = whole[self.field_name].reindex(bad.index).tolist() if self.field_name in whole else [None] * len(bad)
        said = bad[list(self._named)].to_dict("records")
        return [self._finding(*one) for one in zip(rows.tolist(), found, said, strict=True)]

    @cached_property
    def _named(self):
        """The columns that its sentences name."""
        parts = (part for text in (self.says, self.remedy) for part in Formatter().parse(text))
        return tuple(dict.fromkeys(name for _, name, _, _ in parts if name))

    def _finds_nothing(self, facts):
        """Whether a table is empty that it needs or points into (a rule points at rows), or all that it reads is.

        An empty package has no findings, and a rule knows nothing but what it reads.
        """
        if any(facts.is_empty(name) for name in self.read.intersection(self.needs)):
            return True
        empty = {name for name in {*self.read, self.table} if facts.is_empty(name)}
        return empty >= self.read or (self.table in empty and bool(self.fires.get(self.table)))

    def _finding(self, line, found, values):
        row = int(line) + HEADER_ROWS if line >= 0 else None
        value = None if found is None or pd.isna(found) else _text(found)
        said = {name: _text(v) for name, v in values.items()}
        says, remedy = (_capital(text.format_map(said)) for text in (self.says, self.remedy))
        return Finding(self.id, self.severity, self.table, row, self.field_name, value, says, remedy)


def _capital(sentence):
    return sentence[:1].upper() + sentence[1:]


def rule(id, severity, reads, at, says, remedy, fires, nearly, needs=""):  # noqa: A002 - the word that everyone uses
    """Make a Rule of the function below. needs : names of tables and views, with a space between."""
    return lambda function: Rule(id, severity, reads, at, says, remedy, fires, nearly, function, tuple(needs.split()))


def _text(value):
    """A value as a sentence shows it: whole numbers without a point, others with four digits that count."""
    if isinstance(value, float):
        return f"{value:.0f}" if value.is_integer() else f"{value:.4g}"
    return str(value)
