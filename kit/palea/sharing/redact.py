"""A copy of a package that is fit to leave the house: places on a grid by sensitivity, names by consent."""

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.places import on_grid, uncertainty_m
from palea.derived.facts import plain

WITHHELD_NAME = "name withheld"
FINEST_NAMED = 0.001  # degrees: a place name says about as much as this; on a coarser grid it is left out


def redacted(package):
    """(package as it may be shared, sentences that say what was done). The package handed in is left alone."""
    sentences = []
    for step in (_places, _people):
        package, said = step(package)
        sentences += said
    return package, sentences


def _places(package):
    """Coordinates on a grid whose cell depends on the taxon's sensitivity; never jittered (Chapman 2020)."""
    lots, told = package["lots"].copy(), plain(package["lots"])
    sensitivity = told["taxon_id"].map(plain(package["taxa"]).set_index("taxon_id")["place_sensitivity"])
    withheld = sensitivity.isin(schema.words("place_sensitivity", grid_deg=None))
    cell = sensitivity.map(_cells()).astype(float).where(~withheld)
    coarse = cell.gt(0) & told["latitude"].notna()
    named = told["place"].notna() & (withheld | cell.gt(FINEST_NAMED))
    touched = coarse | named | (withheld & told["latitude"].notna())
    if not touched.any():
        return package, []
    for column in ("latitude", "longitude"):
        lots.loc[coarse, column] = on_grid(told.loc[coarse, column], cell[coarse])
        lots.loc[withheld, column] = pd.NA
    widest = uncertainty_m(cell[coarse], told.loc[coarse, "latitude"])
    lots.loc[coarse, "coordinate_uncertainty_m"] = np.maximum(
        widest.round(), told.loc[coarse, "coordinate_uncertainty_m"].fillna(0)
    )
    lots.loc[named, "place"] = pd.NA
    names = ", ".join(sorted(lots.loc[touched, "lot_id"]))
    return package.replacing("lots", lots), [
        f"Places of lots of sensitive taxa were generalised on a grid, or withheld, and their place names left out: {names}."
    ]


def _cells():
    return {w: schema.word("place_sensitivity", w)["grid_deg"] for w in schema.words("place_sensitivity")}


def _people(package):
    people = package["people"]
    silent = ~people["consent_to_publish"].fillna(value=False).astype(bool) & people["name"].notna()
    if not silent.any():
        return package, []
    people = people.copy()
    people.loc[silent, ["name"]] = WITHHELD_NAME
    for column in ("orcid", "organisation"):
        people.loc[silent, column] = pd.NA
    return package.replacing("people", people), [
        f"Names were withheld where no consent was given: {', '.join(sorted(people.loc[silent, 'person_id']))}."
    ]
