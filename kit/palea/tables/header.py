"""What can be wrong with the first line of a table."""

from difflib import get_close_matches

from palea.tables.paths import printable

_ENOUGH = 2  # names that make a line a header: one alone may be a value
_OTHERS = {";": "semicolons", "\t": "tabs", "|": "bars"}


def is_other_delimiter(found, table, labels):
    """Whether the columns are parted by something other than commas; a Finding if so."""
    if len(set(labels) & set(table.fields)) > 1:
        return False
    line = ",".join(labels)
    for sign, name in _OTHERS.items():
        parts = [part.strip().strip('"') for part in line.split(sign)]
        if len(parts) > 1 and len(set(parts) & set(table.fields)) > 0:
            found.whole(
                "table.delimiter",
                f"The columns are parted by {name}, so nothing was read.",
                "Save the file as CSV with commas and decimal points; `palea take-in` reads other sheets.",
            )
            return True
    return False


def is_further_down(found, table, labels, below):
    """Whether the names of the columns stand below the first line: under a title, or under merged cells."""
    if _named(table, labels):
        return False
    line = next((n for n, cells in enumerate(below, 2) if len(_named(table, cells)) >= _ENOUGH), 0)
    if not line:
        return False
    above = printable(", ".join(filter(None, (label.strip() for label in labels))))
    found.whole(
        "table.header-place",
        f"The names of the columns stand in line {line}; line 1 {f'holds “{above}”' if above else 'is blank'}. Nothing was read.",
        "Take away the lines above the names; undo merged cells, and write the name above each column.",
    )
    return True


def is_repeated(found, table, first):
    """Whether the first row, {label: text}, is a second header: names, titles or units of its columns."""
    filled = {name: text.strip() for name, text in first.items() if text and text.strip()}
    says = [name for name, text in filled.items() if text in _headings(table, name)]
    if len(says) < _ENOUGH or len(says) * 2 < len(filled):
        return False
    found.row(
        0,
        "table.second-header",
        f"This row is a second header: “{printable(', '.join(filled.values()))}”. It was not read.",
        "Delete it; names and units of the columns stand in the schema.",
        broken=True,
    )
    return True


def _named(table, cells):
    return {cell.strip() for cell in cells} & set(table.fields)


def _headings(table, name):
    """What may stand in a second header above a column."""
    of = table.fields.get(name)
    return {name, *((of.title, of.label, of.unit, f"({of.unit})", f"[{of.unit}]") if of else ())} - {"", "1", "()", "[]"}


def check(found, table, labels, described):
    """Findings about missing, unknown, blank, repeated and misplaced labels."""
    _blank_and_repeated(found, labels)
    wanted = list(dict.fromkeys([*table.fields, *described]))
    missing = [name for name in wanted if name not in labels]
    extra = [label for label in labels if label and label not in wanted]
    for name in missing:
        _missing(found, table, name)
    for label in extra:
        _extra(found, label, missing)
    there = list(dict.fromkeys(labels))
    if not missing and not extra and there != wanted and "" not in labels:
        first = next(label for label, name in zip(there, wanted, strict=True) if label != name)
        found.whole(
            "table.column-order",
            f"The columns stand in another order than in the schema, from “{first}” on.",
            f"Put them in this order: {', '.join(wanted)}.",
            broken=False,
        )


def _missing(found, table, name):
    of = table.fields.get(name)
    title, need = (f" ({of.title})", of.required) if of else ("", False)
    found.whole(
        "table.column-missing",
        f"The column “{name}”{title} is not there.",
        "Add it to the header and fill it in." if need else "Add it to the header; its cells may stay blank.",
        field=name,
        broken=False,
    )


def _blank_and_repeated(found, labels):
    for position, label in enumerate(labels, 1):
        if not label.strip():
            found.whole("table.header", f"Column {position} has no name.", "Name it, or delete it.")
        if "\N{REPLACEMENT CHARACTER}" in label:
            found.whole(
                "table.header",
                f"The name of column {position} is no clean UTF-8 text: “{printable(label)}”.",
                "Save the file as CSV in UTF-8.",
            )
    for label in dict.fromkeys(label for label in labels if label and labels.count(label) > 1):
        found.whole(
            "table.header",
            f"The column “{printable(label)}” is there {labels.count(label)} times; only the first was read.",
            "Delete or rename the others.",
            field=label,
        )


def _extra(found, label, missing):
    near = get_close_matches(label.strip().casefold(), missing, 1, 0.7)
    remedy = (
        f"If it is “{near[0]}”, name it so."
        if near
        else (f"Keep it by describing it under fields in schema/{found.table}.json, or take it out.")
    )
    found.whole(
        "table.column-extra",
        f"The column “{printable(label)}” is described neither by the schema nor by the package.",
        remedy,
        field=label,
        broken=not label.isprintable(),
    )
