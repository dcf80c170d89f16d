"""What the structure of a package says against it: types, limits, words, keys and links. No rule of the trade.

Each table is checked as a whole frame by a pandera schema that is made from its descriptor; the library's report is
then
put into our sentences. Cells that could not be read are told by the reader and not twice.
"""

from difflib import get_close_matches

import pandas as pd

from palea import findings as told
from palea import schema
from palea.tables import custom, formats, journal, profile
from palea.tables.found import Found
from palea.tables.sheet import dtype

DUPLICATE = "multiple_fields_uniqueness"
BLANK = "not_nullable"


def structure(package):
    """All findings about the structure of a package, worst first; [] when it is sound.

    Whatever this calls sound, the reference validator of the Data Package standard calls valid. A table or column that
    is not part of the schema is no fault (`package.extra_names`, `package.extra_columns`), but it must keep to the
    description that the package itself gives of it.
    """
    return told.sort(
        [
            *profile.check(package),
            *tables(package, package.names),
            *custom.check(package),
            *journal.verify(package.folder),
        ]
    )


def tables(package, names):
    """Findings about the rows of these tables."""
    return [finding for name in names for finding in _table(package, package.sheet(name))]


def touched(package):
    """Changed tables, and those that link to them."""
    linking = (n for n in package.names if any(k.table in package.edited for k in schema.table(n).foreign_keys))
    return list(dict.fromkeys([*package.edited, *linking]))


def pandera_schema(table, links=None):
    """The pandera schema of one table, for a typed frame with exactly its columns.

    table : schema.read.Table.  links : {column: allowed keys} for links of one column to other tables, or None.
    The text of each failed check is the rule's id. Missing values pass unless the column is required or a key.
    """
    import pandera.pandas as pa  # 0.4 s, so only where a frame is checked

    columns = {name: _column(pa, of, table, (links or {}).get(name)) for name, of in table.fields.items()}
    return pa.DataFrameSchema(columns, strict=True, unique=list(table.primary_key), report_duplicates="exclude_first")


def _column(pa, of, table, linked):
    checks = list(_checks(pa, of)) + ([pa.Check.isin(linked, error="link.broken")] if linked is not None else [])
    return pa.Column(
        dtype(of), checks, nullable=not (of.required or of.name in table.primary_key), metadata={"unit": of.unit}
    )


def _checks(pa, of):
    """The limits of a field as pandera checks."""
    limits, separated = of.constraints, "separator" in formats.text_form(of)
    ranges = {
        "minimum": pa.Check.ge,
        "maximum": pa.Check.le,
        "exclusiveMinimum": pa.Check.gt,
        "exclusiveMaximum": pa.Check.lt,
    }
    for name, check in ranges.items():
        if name in limits:
            yield check(limits[name], error="value.range")
    if "enum" in limits and not separated:
        yield pa.Check.isin(list(limits["enum"]), error="value.word")
    if "pattern" in limits:
        yield pa.Check(lambda series, pattern=limits["pattern"]: series.str.fullmatch(pattern), error="value.pattern")
    if {"minLength", "maxLength"} & set(limits):
        yield pa.Check.str_length(limits.get("minLength"), limits.get("maxLength"), error="value.length")


def _table(package, sheet):
    """Findings of one table: what its reader found, then what its frame says."""
    if not len(sheet.frame):
        return list(sheet.findings)
    found = Found(sheet.table.name)
    links = {k.fields[0]: package[k.table][k.to[0]].dropna() for k in sheet.table.foreign_keys if len(k.fields) == 1}
    cases = _cases(pandera_schema(sheet.table, {name: ids.unique().tolist() for name, ids in links.items()}), sheet)
    for (rule, column), rows in cases.items():
        _say(found, package, sheet, rule, column, rows)
    for link in sheet.table.foreign_keys:
        if len(link.fields) > 1:
            _say_link_of_several(found, package, sheet, link)
    return [*sheet.findings, *found.findings]


def _cases(checker, sheet):
    """{(rule, column): positions} of what pandera found, without cells and rows that the reader has told of."""
    import pandera.errors

    try:
        checker.validate(sheet.frame, lazy=True)
    except pandera.errors.SchemaErrors as errors:
        report = errors.failure_cases
    else:
        return {}
    report = report[report["index"].notna()]
    report = report.assign(
        index=report["index"].astype(int), check=report["check"].astype(str), column=report["column"].astype(str)
    )
    report.loc[report["check"] == DUPLICATE, "column"] = sheet.table.primary_key[-1]
    grouped = report.drop_duplicates(["check", "column", "index"]).groupby(["check", "column"], sort=False)["index"]
    silent = {f.row - 2 for f in sheet.findings if f.row and f.rule.startswith("table.")}
    cases = {
        key: [p for p in sorted(rows) if p not in silent and (p, key[1]) not in sheet.unread] for key, rows in grouped
    }
    return {key: rows for key, rows in cases.items() if rows}


def _say(found, package, sheet, rule, column, rows):
    """One kind of fault in one column as Findings."""
    of, cells = sheet.table.fields[column], sheet.frame[column].iloc[rows].tolist()
    if rule == BLANK:
        found.cells(
            "value.required",
            column,
            rows,
            lambda _: f"{of.title} is blank, and every row needs it.",
            lambda _: f"Fill it in, as in {of.example}.",
        )
    elif rule == DUPLICATE:
        _say_duplicates(found, sheet, rows)
    elif rule == "link.broken":
        _say_link(found, package, sheet.table.link(column), of, rows, cells)
    elif rule == "value.range":
        misfits = [formats.beyond(of, value) for value in cells]
        found.cells(rule, column, rows, lambda i: misfits[i].message, lambda i: misfits[i].remedy, cells)
    else:
        misfits = [formats.read(of, str(value))[1] for value in cells]
        found.cells(rule, column, rows, lambda i: misfits[i].message, lambda i: misfits[i].remedy, cells)


def _say_duplicates(found, sheet, rows):
    keys = list(sheet.table.primary_key)
    whole = sheet.frame[keys].notna().all(axis=1)
    rows = [p for p in rows if whole.iloc[p]]  # a blank in the key is told as a blank
    first = _first_of_key(sheet.frame[keys])
    shown = sheet.frame[keys].iloc[rows].astype(str).agg(", ".join, axis=1).tolist() if rows else []
    titles = " with ".join(sheet.table.fields[k].title.lower() for k in keys)
    found.cells(
        "key.duplicate",
        keys[-1],
        rows,
        lambda i: f"“{shown[i]}” is there already, in row {first[rows[i]] + 2}.",
        lambda _: f"Each {titles} may be there once: delete this row, or correct its key.",
        shown,
    )


def _first_of_key(keys):
    """For each row the position of the first row with its key."""
    code = keys.groupby(list(keys.columns), dropna=False, sort=False).ngroup()
    return code.map(code.drop_duplicates().reset_index().set_index(0)["index"]).tolist()


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
