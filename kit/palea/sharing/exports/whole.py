"""The whole package for a spreadsheet: every table a sheet, with what its columns and words mean."""

import csv

import pandas as pd

from palea import schema
from palea.sharing.exports.sheet import Sheet

FIRST, MEANING, WORDS = "about", "columns", "words"
HEADS = ("Table", "Column", "Title", "Meaning", "Written as", "Unit", "Words of", "Must be filled in")
WRITTEN = {"string": "text"}
SUMMED = "{} is too long for a sheet: its rows here are sums and means by day, the readings are in the package's own file."


def sheets(package):
    """(a sheet about the package, every table, the meaning of columns and words; sentences about what is left out)."""
    tables = [_table(package, name) for name in package.names if len(package[name])]
    own, said = _own(package)
    said += [SUMMED.format(name) for name in package.names if not package.sheet(name).whole]
    used = [schema.table(name) for name in package.names]
    made = [*tables, *own, _meaning(used), _words(used)]
    return [_about(package, made, said), *made], said


def _about(package, made, said):
    """What the package says of itself, what is not in the sheets, and which sheets there are."""
    told = package.descriptor
    facts = {
        "Title": package.title,
        "Description": told.get("description"),
        "Version": told.get("version"),
        "Licence": ", ".join(x.get("name", "") for x in told.get("licenses", ())),
        "By": "; ".join(str(x.get("title", "")) for x in told.get("contributors", ())),
        "Schema": package.schema_version,
        "Made coarse or withheld": told.get("informationWithheld", "nothing"),
        "Dates and times": "are text as they were written, for some are known to the month or year alone",
        "Blank": "is not zero: nothing was recorded",
        "Left out or summed up": " ".join(said),
    }
    rows = [(what, str(text)) for what, text in facts.items() if text]
    return Sheet(FIRST, ("What", "Is"), (*rows, *((f"Sheet {s.name}", f"{len(s.rows)} rows") for s in made)))


def _table(package, name):
    """One table with the columns that the package adds to it."""
    extra = package.extra_columns(name)
    frame = package[name]
    return Sheet.of(name, pd.concat([frame, extra], axis="columns") if len(extra.columns) else frame)


def _own(package):
    """(sheets of the package's own tables that are CSV files, as text; sentences about those that are not)."""
    made, said = [], []
    for name in package.extra_names:
        path = package.resources[name].get("path")
        if isinstance(path, str) and path.lower().endswith(".csv") and package.file(path).is_file():
            with package.file(path).open(encoding="utf-8-sig", errors="replace", newline="") as source:
                head, *rows = list(csv.reader(source)) or [[]]
            width = max([len(head), *map(len, rows)])
            cells = tuple(_padded([x or None for x in row], width, None) for row in rows)
            made.append(Sheet(name, _padded(head, width, ""), cells))
        elif name != "journal":
            said.append(f"{name} is a resource of the package's own, not a CSV file, and has no sheet.")
    return made, said


def _padded(cells, width, blank):
    return (*cells, *[blank] * (width - len(cells)))


def _meaning(tables):
    """A row a column of the schema: how it is written, its unit, what it means."""
    rows = [
        (t.name, f.name, f.title, f.description, f.parse or WRITTEN.get(f.type, f.type), f.unit or None,
         f.vocabulary or f.list_of or None, "yes" if f.required else None)
        for t in tables for f in t.fields.values()
    ]  # fmt: skip
    return Sheet(MEANING, HEADS, tuple(rows))


def _words(tables):
    """A row an allowed word of the lists that these tables use."""
    names = dict.fromkeys(
        n for t in tables for f in t.fields.values() for n in (f.vocabulary, f.list_of, f.suggested) if n
    )
    rows = [(n, w["name"], w["title"], w["definition"]) for n in names for w in schema.vocabulary(n).words.values()]
    return Sheet(WORDS, ("List", "Word", "Title", "Meaning"), tuple(rows))
