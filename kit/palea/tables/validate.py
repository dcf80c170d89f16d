"""What the structure of a package says against it: types, limits, words, keys and links. No rule of the trade.

Each table is checked as a whole, column by column, from its descriptor. Cells that could not be read are told by the
reader and not twice.
"""

from difflib import get_close_matches

import pandas as pd

from palea import findings as told
from palea import schema
from palea.tables import constraints, custom, formats, journal, profile, versions
from palea.tables.found import MANY, Found

DUPLICATE = "key.duplicate"
BLANK = "value.required"


def structure(package):
    """All findings about the structure of a package, worst first; [] when it is sound.

    Whatever this calls sound, the reference validator of the Data Package standard calls valid. A table or column that
    is not part of the schema is no fault (`package.extra_names`, `package.extra_columns`), but it must keep to the
    description that the package itself gives of it.
    """
    return told.sort(
        [
            *profile.check(package),
            *(f for f in tables(package, package.names) if not _came_later(package, f)),
            *custom.check(package),
            *journal.verify(package.folder),
        ]
    )


def tables(package, names):
    """Findings about the rows of these tables."""
    return [finding for name in names for finding in _table(package, package.sheet(name))]


def _came_later(package, finding):
    """Whether only the age of a package is told again: a column that its own, older schema does not have is not there."""
    if finding.rule != "table.column-missing" or versions.age(package) != versions.OLDER:
        return False
    fields = package.own_schema(finding.table).get("fields")
    return isinstance(fields, list) and all(not isinstance(f, dict) or f.get("name") != finding.field for f in fields)


def touched(package):
    """Changed tables, and those that link to them."""
    linking = (n for n in package.names if any(k.table in package.edited for k in schema.table(n).foreign_keys))
    return list(dict.fromkeys([*package.edited, *linking]))


def _table(package, sheet):
    """Findings of one table: what its reader found, then what its frame says."""
    if not len(sheet.frame) or not sheet.whole:
        return list(sheet.findings)
    found = Found(sheet.table.name)
    for (rule, column), rows in _cases(package, sheet).items():
        _say(found, package, sheet, rule, column, rows)
    for link in sheet.table.foreign_keys:
        if len(link.fields) > 1:
            _say_link_of_several(found, package, sheet, link)
    return [*sheet.findings, *found.findings]


def _cases(package, sheet):
    """{(rule, column): positions} of what is wrong, without cells and rows that the reader has told of.

    Words, patterns and lengths are the reader's: a cell that breaks one never gets here unread.
    """
    table, silent = sheet.table, _silent(sheet)
    cases = {}
    for name, of in table.fields.items():
        if of.required or name in table.primary_key:
            cases[BLANK, name] = constraints.blank(sheet, name)
        cases["value.range", name] = constraints.beyond(sheet, of)
    cases[DUPLICATE, table.primary_key[-1]] = constraints.repeated(sheet, table.primary_key)
    for link in table.foreign_keys:
        if len(link.fields) == 1:
            cases["link.broken", link.fields[0]] = constraints.unknown(sheet, link.fields[0], _ids(package, link))
    told = {key: [p for p in at.tolist() if p not in silent and (p, key[1]) not in sheet.unread] for key, at in cases.items()}
    return {key: rows for key, rows in told.items() if rows}


def _silent(sheet):
    """Positions of rows that were told as a whole."""
    return {f.row - 2 for f in sheet.findings if f.row and f.rule.startswith("table.")}


def _ids(package, link):
    return package[link.table][link.to[0]]


def _say(found, package, sheet, rule, column, rows):
    """One kind of fault in one column as Findings."""
    of, cells = sheet.table.fields[column], sheet.frame[column].iloc[rows].tolist()
    if rule == BLANK:
        found.cells(
            BLANK,
            column,
            rows,
            lambda _: f"{of.title} is blank, and every row needs it.",
            lambda _: f"Fill it in, as in {of.example}.",
        )
    elif rule == DUPLICATE:
        _say_duplicates(found, sheet, rows)
    elif rule == "link.broken":
        _say_link(found, package, sheet.table.link(column), of, rows, cells)
    else:
        found.cells(
            rule,
            column,
            rows,
            lambda i: formats.beyond(of, cells[i]).message,
            lambda i: formats.beyond(of, cells[i]).remedy,
            cells,
        )


def _say_duplicates(found, sheet, rows):
    """Beyond MANY only the first is told, so only that one is looked up."""
    keys = list(sheet.table.primary_key)
    told = rows if len(rows) <= MANY else rows[:1]
    first = constraints.first_of_key(sheet, keys, told)
    shown = sheet.frame[keys].iloc[told].astype(str).agg(", ".join, axis=1).tolist()
    titles = " with ".join(sheet.table.fields[k].title.lower() for k in keys)
    found.cells(
        DUPLICATE,
        keys[-1],
        rows,
        lambda i: f"“{shown[i]}” is there already, in row {first[i] + 2}.",
        lambda _: f"Each {titles} may be there once: delete this row, or correct its key.",
        shown,
    )


def _say_link(found, package, link, of, rows, cells):
    known = package[link.table][link.to[0]].dropna().unique().tolist() if len(rows) <= 200 else []
    found.cells(
        "link.broken",
        of.name,
        rows,
        lambda i: f"{of.title} “{cells[i]}” is not in the table {link.table}.",
        lambda i: _how_to_link(cells[i], known, link.table),
        cells,
    )


def _how_to_link(cell, known, table):
    near = get_close_matches(str(cell), known, 1, 0.75) if len(known) <= 20_000 else []
    return (
        f"The nearest there is “{near[0]}”; correct it, or add a row to {table}."
        if near
        else f"Add it to {table}, or correct it."
    )


def _say_link_of_several(found, package, sheet, link):
    """A link of several columns: all filled in and found there together, or all blank."""
    cells = sheet.frame[list(link.fields)]
    there = pd.MultiIndex.from_frame(package[link.table][list(link.to)].dropna())
    broken = cells.notna().any(axis=1).to_numpy() & ~pd.MultiIndex.from_frame(cells).isin(there)
    broken &= ~_unread_rows(sheet, link.fields)
    rows = broken.nonzero()[0].tolist()
    shown = [
        ", ".join("blank" if pd.isna(v) else str(v) for v in row) for row in cells.iloc[rows].itertuples(index=False)
    ]
    found.cells(
        "link.broken",
        link.fields[-1],
        rows,
        lambda i: f"“{shown[i]}” is not in the table {link.table}.",
        lambda _: f"Fill in all of {', '.join(link.fields)} as they stand together in {link.table}, or none.",
        shown,
    )


def _unread_rows(sheet, columns):
    """Rows in which one of these columns could not be read; (n,) bool."""
    rows = {p for p, column in sheet.unread if column in columns}
    return sheet.frame.index.isin(rows)
