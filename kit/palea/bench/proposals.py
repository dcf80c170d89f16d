"""What a new entry may begin with: an identifier that is free, and what the last one of its kind said.

Nothing here is kept; a person sees every proposal in its box and may write another.
"""

import re

from palea import schema
from palea.derived.facts import plain
from palea.tables.writing import cell_text

NAMED_AFTER = {  # columns whose text begins the id of a row, the first that is filled in
    "lots": ("keep_of", "taxon_id"), "movements": ("lot_id",), "tests": ("lot_id",), "storage": ("lot_id",),
    "treatments": (), "units": ("trial_id",), "visits": ("trial_id",), "environments": ("trial_id", "site_id"),
    "plants": ("unit_id",), "measurements": ("plant_id", "unit_id"), "handling_runs": ("lot_id",), "attachments": ("about_id",),
    "contrasts": ("trial_id",),
}  # fmt: skip
PLAIN_NAMES = ("taxa", "people", "materials", "equipment", "sites", "protocols", "treatments")
SERIES = 2  # ids that differ in their number alone, from which they are taken for a series
BETWEEN = " / "  # the parts of a key of several columns
LAST_NUMBER = re.compile(r"(.*?)(\d+)(\D*)", re.DOTALL)


def next_id(package, table, texts=None):
    """A free identifier for a new row of a table with a key of one column.

    texts : {column: text} of what is typed so far. A row that belongs to another is named after it ("AV-0-m3" for the
    third movement of lot AV-0); else the last id of the table is counted on, and the first of all is the table's name
    with a 1.

    >>> import palea
    >>> package = palea.open_package("datapackages_demo/journey")  # doctest: +SKIP
    >>> next_id(package, "movements", {"lot_id": "AV-0"})  # doctest: +SKIP
    'AV-0-m19'
    """
    known = schema.table(table)
    taken = set(package[table][known.primary_key[0]].dropna())
    of = _named_after(known, texts or {})
    if of is None:
        return ""
    if of:
        letter = "" if known.name == "lots" else known.name[0]
        number = sum(other.startswith(f"{of}-{letter}") for other in taken) + 1
        return _free(taken, lambda n: f"{of}-{letter}{n}", number)
    numbered = [LAST_NUMBER.fullmatch(other).groups() for other in _in_order(package, known)]
    if not numbered:
        return "" if taken or known.name in PLAIN_NAMES else _free(taken, lambda n: f"{known.name.removesuffix('s')}-{n}", 1)
    head, digits, tail = numbered[-1]
    if sum((h, t) == (head, tail) for h, _, t in numbered) < SERIES:
        return ""  # a name that happens to hold a number is no series
    return _free(taken, lambda n: f"{head}{n:0{len(digits)}d}{tail}", int(digits) + 1)


def row_as_texts(package, table, key):
    """{column: text} of the saved row with that key, as a person would type it; {} where there is none.

    key : as `key_text` gives it.
    """
    frame = package[table]
    for name, text in zip(schema.table(table).primary_key, str(key).split(BETWEEN), strict=False):
        frame = frame[frame[name].map(typed).eq(text)]
    return {} if frame.empty else {name: typed(value) for name, value in frame.iloc[0].items()}


def key_text(table, row):
    """The key of a row as one text: its id, or the parts of its key one after another."""
    return BETWEEN.join(typed(row[name]) for name in schema.table(table).primary_key)


def like_last(package, table, fields, **having):
    """{column: text} of these fields in the last row of a table in which `having` is so; {} where there is none."""
    frame = plain(package[table])
    for name, value in having.items():
        frame = frame[frame[name].eq(value).fillna(value=False)]
    if frame.empty:
        return {}
    return {name: typed(frame.iloc[-1][name]) for name in fields}


def _named_after(table, texts):
    """Id of the row that this one is named after; "" where it has a name of its own, None where that is not yet said."""
    after = NAMED_AFTER.get(table.name, ())
    return next((texts[name] for name in after if texts.get(name)), None) if after else ""


def _in_order(package, table):
    """Ids that end in a number, in the order of the table."""
    ids = package[table.name][table.primary_key[0]].dropna()
    return [other for other in ids if LAST_NUMBER.fullmatch(other)]


def _free(taken, name, number):
    while name(number) in taken:
        number += 1
    return name(number)


def typed(value):
    """A stored value as a person would type it; "" where it is missing."""
    text = cell_text(value) or ""
    return text.removesuffix(".0") if isinstance(value, float) else text
