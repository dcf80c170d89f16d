"""A copy of a package that is fit to leave the house: places on a grid by sensitivity, names by consent, permits where
somebody said so, and without the columns that the one who shares it leaves out.
"""

import json
from functools import partial

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.places import on_grid, uncertainty_m
from palea.derived.facts import plain
from palea.words.prose import counted

WITHHELD_NAME = "name withheld"
WITHHELD_PLACE = "place withheld"
WITHHELD_PERMIT = "number withheld"
# How the reason begins why there is no permit; “No. 4711” is a number.
NONE_NEEDED = r"(?i)\s*(?:none|not|no\s+(?:permit|licen[cs]e|need))\b"
FINEST_NAMED = 0.001  # degrees: a place name says about as much as this; on a coarser grid it is left out


def redacted(package, leave_out=()):
    """(package as it may be shared, sentences that say what was done). The package handed in is left alone.

    leave_out : "table.column" of columns of `asked_of` that are to stay here.
    """
    sentences = []
    for step in (_lots, _sites, _permits, _files, _people, *(partial(_column, left=name) for name in leave_out)):
        package, said = step(package)
        sentences += said
    return package, sentences


def asked_of(package):
    """{"table.column": number of cells} of filled columns of which the schema says that one is to be asked: prices ..."""
    asked = (name.partition(".") for name in may_be_left_out())
    filled = {f"{table}.{column}": int(package[table][column].notna().sum()) for table, _, column in asked}
    return {name: many for name, many in filled.items() if many}


def may_be_left_out():
    """"table.column" of all columns of which the schema says that one is to be asked."""
    return [f"{table}.{column}" for table in schema.tables() for column in marked(table, "ask")]


def marked(table, sharing):
    """Columns of a table that the schema marks for sharing with this word: blur, consent or ask."""
    return [name for name, field in schema.table(table).fields.items() if field.sharing == sharing]


def _lots(package):
    """Where seed was collected, by the sensitivity of its taxon."""
    told = plain(package["taxa"])
    sensitivity = plain(package["lots"])["taxon_id"].map(told.set_index("taxon_id")["place_sensitivity"])
    return _places(package, "lots", "place", sensitivity, "lots of sensitive taxa")


def _sites(package):
    """Where trials stand, by the sensitivity that the site itself is said to have."""
    return _places(package, "sites", "name", plain(package["sites"])["place_sensitivity"], "sensitive sites")


def _places(package, table, named_in, sensitivity, of_what):
    """Coordinates on a grid whose cell depends on the sensitivity; never jittered (Chapman 2020)."""
    rows, told = package[table].copy(), plain(package[table])
    withheld = sensitivity.isin(schema.words("place_sensitivity", grid_deg=None))
    cell = sensitivity.map(_cells()).astype(float).where(~withheld)
    coarse = cell.gt(0) & told["latitude"].notna()
    named = told[named_in].notna() & (withheld | cell.gt(FINEST_NAMED))
    touched = coarse | named | (withheld & told["latitude"].notna())
    if not touched.any():
        return package, []
    for column in ("latitude", "longitude"):
        rows.loc[coarse, column] = on_grid(told.loc[coarse, column], cell[coarse])
        rows.loc[withheld, column] = pd.NA
    widest = uncertainty_m(cell[coarse], told.loc[coarse, "latitude"])
    rows.loc[coarse, "coordinate_uncertainty_m"] = np.maximum(
        widest.round(), told.loc[coarse, "coordinate_uncertainty_m"].fillna(0)
    )
    required = schema.table(table)[named_in].required
    rows.loc[named, named_in] = WITHHELD_PLACE if required else pd.NA
    key = schema.table(table).primary_key[0]
    names = ", ".join(sorted(rows.loc[touched, key]))
    return package.replacing(table, rows), [
        f"Places of {of_what} were generalised on a grid, or withheld, and their place names left out: {names}."
    ]


def _permits(package):
    """The number of a permit leaves only where it was said that it may; why none is needed may always be read."""
    lots = package["lots"]
    silent = (
        lots["permit"].notna()
        & ~lots["permit_may_share"].fillna(value=False).astype(bool)
        & ~lots["permit"].str.match(NONE_NEEDED).fillna(value=False).astype(bool)
        & lots["permit"].ne(WITHHELD_PERMIT).fillna(value=False)
    )
    if not silent.any():
        return package, []
    lots = lots.copy()
    lots.loc[silent, "permit"] = WITHHELD_PERMIT
    of = ", ".join(sorted(lots.loc[silent, "lot_id"]))
    return package.replacing("lots", lots), [f"Permit numbers were withheld where nobody said that they may be shared: {of}."]


def _column(package, left):
    """One column left out by choice, with the answers that rest on it; where it must be filled, its rows."""
    table, _, column = left.partition(".")
    rows = package[table]
    filled = rows[column].notna()
    if not filled.any():
        return package, []
    field = schema.table(table)[column]
    rest = rows[~filled].reset_index(drop=True) if field.required else rows.assign(**{column: pd.NA})
    package = package.replacing(table, rest)
    resting = _resting_on(package["analyses"], table, column)
    said = f"{schema.table(table).title}: the column “{field.title}” was left out by choice ({counted(filled.sum(), 'cell')})"
    if resting:
        for name in ("analyses", "results"):
            kept = package[name][~package[name]["analysis_id"].isin(resting)].reset_index(drop=True)
            package = package.replacing(name, kept)
        said += f", and {counted(len(resting), 'answer')} that rest on it: {', '.join(resting)}"
    return package, [f"{said}."]


def _resting_on(analyses, table, column):
    """Ids of kept answers that rest on a column."""
    reads = analyses.set_index("analysis_id")["reads"].dropna()
    return sorted(key for key, text in reads.items() if column in json.loads(text).get(table, ()))


def _files(package):
    """Attached files of which nobody said that they may be shared stay here, with their rows."""
    rows = package["attachments"]
    stay = ~rows["may_share"].fillna(value=False).astype(bool)
    if not stay.any():
        return package, []
    kept = rows[~stay].reset_index(drop=True)
    return package.replacing("attachments", kept), [
        f"Attached files that may not be shared were left out: {', '.join(sorted(rows.loc[stay, 'attachment_id']))}."
    ]


def _cells():
    return {w: schema.word("place_sensitivity", w)["grid_deg"] for w in schema.words("place_sensitivity")}


def _people(package):
    people = package["people"]
    silent = ~people["consent_to_publish"].fillna(value=False).astype(bool) & people["name"].notna()
    if not silent.any():
        return package, []
    people = people.copy()
    people.loc[silent, marked("people", "consent")] = pd.NA
    people.loc[silent, "name"] = WITHHELD_NAME
    return package.replacing("people", people), [
        f"Names were withheld where no consent was given: {', '.join(sorted(people.loc[silent, 'person_id']))}."
    ]
