"""The one way in: what was typed becomes the package as it would be, is judged there, and only then written.

A proposal writes nothing. It holds what the entry would bring: the cells that cannot be read, and whatever the checks
find in the package as it would be that they do not find in it now. Errors that were there before do not stand in the
way of an entry; errors that it brings do.
"""

from collections import Counter
from dataclasses import dataclass, field
from functools import cached_property

import pandas as pd

from palea import schema
from palea.checks.rule import HEADER_ROWS
from palea.checks.run import RULES, findings_of, ruled
from palea.derived.view import View
from palea.errors import EntryError
from palea.findings import Finding, sort
from palea.stamp import Stamp
from palea.tables import formats, saving, validate
from palea.tables.package import Package
from palea.tables.writing import cell_text


@dataclass(frozen=True)
class Proposal:
    """An entry that is not yet kept.

    package : as it would be.  base : as it is on disk.  rows : {table: rows with typed values}, in the order proposed.
    as_typed : {(table, key, column): text} where the text is not simply the value written out.
    unread : findings of cells that could not be read.
    """

    package: Package
    base: Package
    rows: dict = field(repr=False)
    as_typed: dict = field(repr=False)
    unread: tuple[Finding, ...] = ()

    @cached_property
    def findings(self):
        """What the entry brings, worst first: cells that cannot be read, then what the checks newly find."""
        # A cell that cannot be read is blank in the package as it would be; that it is blank need not be said as well.
        known = {(f.table, f.row, f.field) for f in self.unread if f.row}
        brought = (f for f in _brought(self.base, self.package) if (f.table, f.row, f.field) not in known)
        return tuple(sort([*self.unread, *brought]))

    @cached_property
    def new_errors(self):
        """Those of the findings that stand in the way of saving."""
        return tuple(f for f in self.findings if f.severity == "error")

    def then(self, table, rows):
        """The same entry with rows of one more table: a new visit and its counts are kept together or not at all."""
        more = propose(self.package, table, rows)
        return Proposal(more.package, self.base, {**self.rows, **more.rows}, self.as_typed | more.as_typed,
                        self.unread + more.unread)


def propose(package, table, rows):
    """The package as it would be with these rows, and what is to be said of them. Nothing is written.

    rows : list of {column: text as typed}; blank text is a missing value. A row with a primary key that is there
    already changes that row; a column that is not named keeps its value.
    Raises SchemaError for a table or column that the schema does not know.
    """
    known = schema.table(table)
    read = [_read(known, row) for row in rows]
    values = [{name: value for name, (value, _) in cells.items()} for cells in read]
    typed = {(table, _key(known, value), name): str(text) for row, value in zip(rows, values, strict=True)
             for name, text in row.items() if text is not None and str(text).strip() not in _written(value[name])}
    proposed = package.having(table, values) if values else package
    unread = [_unread(proposed, known, row, name, misfit)
              for row, cells in zip(rows, read, strict=True) for name, (_, misfit) in cells.items() if misfit]
    return Proposal(proposed, package, {table: values}, typed, tuple(unread))


def _written(value):
    """Texts that say a value as it is kept, so that the journal need not repeat them: 1800 is 1800.0, and blank is blank."""
    whole = str(int(value)) if isinstance(value, float) and value.is_integer() else ""
    return "", whole, str(value), cell_text(value)


def save(proposal, stamp, reason, words="", *, as_typed=None, files=None):
    """Keep the entry in one transaction with its lines in the journal -> the Package, opened anew.

    stamp : Stamp.  reason : a word of the list change_reason.  words : anything more to say of it.
    as_typed, files : as `saving.save` takes them, beside what was typed here.
    Raises EntryError, with the findings, where the entry brings errors; nothing is written then.
    Raises ChangedOutside where the files are no longer what was read.
    """
    if not isinstance(stamp, Stamp) or not stamp.who.strip():
        msg = "Say who enters this: every line of the journal carries a name."
        raise EntryError(msg)
    schema.word("change_reason", reason)
    wrong = proposal.new_errors
    if wrong:
        more = "" if len(wrong) == 1 else f" There are {len(wrong)} such errors, listed here."
        msg = f"Not saved: {wrong[0].message}{more} Nothing was written."
        raise EntryError(msg, proposal.findings)
    typed, told = _for_the_journal(proposal)
    return saving.save(proposal.package, stamp, reason, words=" ".join(filter(None, (words, told))),
                       as_typed=typed | (as_typed or {}), files=files)


def fill(package, source, stamp, words):
    """Put all rows of `source` into an empty package -> the package, opened anew; for a first look at the demo.

    Kept answers are left behind, since their figures lie in files of the source. Raises EntryError where the package
    already holds rows: invented seed is never mixed with real seed.
    """
    if any(len(package[name]) for name in package.names):
        msg = f"“{package.title}” already holds rows, and the demo is never mixed with them. Take a folder of its own."
        raise EntryError(msg)
    filled = package
    for name in source.names:
        if len(source[name]) and "analysis_id" not in schema.table(name).primary_key:
            filled = filled.replacing(name, source[name])
    attached = source["attachments"]["path"].dropna()
    files = {path: source.file(path).read_bytes() for path in attached if source.file(path).is_file()}
    return saving.save(filled, stamp, "import", words=words, files=files)


def _read(table, row):
    """{column: (value, Misfit or None)} of one row as typed."""
    return {name: _cell(table[name], text) for name, text in row.items()}


def _cell(column, text):
    text = "" if text is None else str(text).strip()
    if not text:
        return None, None  # whether it may be blank is for the checks to say
    value, misfit = formats.read(column, text, comma=True)
    misfit = misfit or formats.beyond(column, value)
    return (None, misfit) if misfit else (value, None)


def _unread(proposed, table, row, name, misfit):
    """The Finding of a cell that cannot be read, at the row that it would have."""
    of = ", ".join(str(row[k]) for k in table.primary_key if k != name and row.get(k))
    message = f"{of}: {misfit.message}" if of else misfit.message
    line = _line(proposed[table.name], table, row)
    return Finding(f"entry.{misfit.rule}", "error", table.name, line, name, str(row[name]), message, misfit.remedy)


def _line(frame, table, row):
    """The spreadsheet row with that primary key; None where the key itself is not whole."""
    same = pd.Series(data=True, index=frame.index)
    for key in table.primary_key:
        same &= frame[key].eq(str(row.get(key) or "").strip()).fillna(value=False)
    return int(same.idxmax()) + HEADER_ROWS if same.any() else None


def _key(table, values):
    return tuple(values.get(k) for k in table.primary_key)


def _for_the_journal(proposal):
    """(as_typed by column, words): the journal keeps one text a column; what was typed in many rows goes into words."""
    single = {t for t, rows in proposal.rows.items() if len(rows) == 1}
    by_column = {c: text for (t, _, c), text in proposal.as_typed.items() if t in single}
    many = {at: text for at, text in proposal.as_typed.items() if at[0] not in single}
    others = [f"{'/'.join(map(str, key))}, {c}: “{text}”" for (_, key, c), text in many.items()]
    return by_column, f"As typed: {'; '.join(others)}." if others else ""


def _brought(base, proposed):
    """Findings of `proposed` that `base` does not have, as far as they can rest on a changed table."""
    touched = set(proposed.changed)
    if not touched:
        return []
    before = Counter(map(_same, findings_of(base)))
    rules = [r for r in RULES if touched & _tables_of(r)]
    new = []
    for finding in [*validate.tables(proposed, validate.touched(proposed)), *ruled(proposed, rules)]:
        before[_same(finding)] -= 1
        if before[_same(finding)] < 0:
            new.append(finding)
    return new


def _same(finding):
    """What makes two findings the same one; rows may move, so they are not part of it."""
    return finding.rule, finding.table, finding.field, finding.value, finding.message


def _tables_of(rule):
    return {table for read in rule.reads for table in (read.reads if isinstance(read, View) else (read,))}
