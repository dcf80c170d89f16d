"""What any export is made from: the package as it may be shared, never the package as it lies in the house."""

import tempfile
from contextlib import contextmanager
from pathlib import Path

import pandas as pd

from palea import schema
from palea.derived.facts import plain
from palea.derived.lookup import TEXT
from palea.sharing import archive, redact
from palea.tables.opening import open_package

WILD = "wild harvest"  # the source of lots that were collected from plants which nobody sowed


@contextmanager
def fit(package, leave_out=()):
    """The package that a colleague would open: shared in a place of its own, checked and made coarse as `share` does it.

    Raises SharingRefused with the findings while errors stand.
    """
    with tempfile.TemporaryDirectory(prefix="palea-export-") as place:
        yield open_package(archive.share(package, Path(place) / "shared.zip", leave_out=leave_out))


def wild(package):
    """(lots collected from the wild, each with its taxon and with what is said of its place; the ids of all others that
    were received). A frame of the columns of lots, those of taxa, and `cell`, `generalised`, `withheld`.
    """
    lots, taxa = plain(package["lots"]), plain(package["taxa"]).drop_duplicates("taxon_id")
    here = lots["source_kind"].eq(WILD).fillna(value=False).astype(bool)
    received = lots["source_kind"].isin(schema.words("source_kind", received=True))
    found = lots[here].merge(taxa, on="taxon_id", how="left", suffixes=("", "_of_taxon"))
    return pd.concat([found, _places(found)], axis="columns"), lots.loc[received & ~here, "lot_id"].tolist()


def _places(found):
    """What may be said of the place of each lot: width of its cell [degrees], what was made coarse, what is held back."""
    words = {w: schema.word("place_sensitivity", w) for w in schema.words("place_sensitivity")}
    sensitivity = found["place_sensitivity"]
    cell = sensitivity.map({w: told["grid_deg"] for w, told in words.items()}).astype(float)
    closed = sensitivity.isin([w for w, told in words.items() if told["grid_deg"] is None])
    coarse = cell.gt(0) & found["latitude"].notna()
    generalised = [
        f"Coordinates are the centre of a cell of a grid of {width:g} degree; the uncertainty covers the cell."
        if yes
        else None
        for width, yes in zip(cell, coarse, strict=True)
    ]
    withheld = [_held_back(width, no) for width, no in zip(cell, closed, strict=True)]
    return pd.DataFrame(
        {"cell": cell.where(coarse), "generalised": pd.array(generalised, TEXT), "withheld": pd.array(withheld, TEXT)},
        index=found.index,
    )


def _held_back(cell, closed):
    if closed:
        return "The place is withheld, for the population is sensitive."
    name = ", the name of the place included," if cell > redact.FINEST_NAMED else ""
    return (
        f"Anything more exact than {cell:g} degree{name} is withheld, for the population is sensitive."
        if cell > 0
        else None
    )


def name_parts(names):
    """Scientific names as (genus, epithet, what follows), missing where there is none. A cross keeps its sign.

    >>> name_parts(pd.Series(["Rumex acetosa subsp. hibernicus", "Salix × fragilis", "Carex"])).values.tolist()
    [['Rumex', 'acetosa', 'subsp. hibernicus'], ['Salix', '× fragilis', <NA>], ['Carex', <NA>, <NA>]]
    """
    found = names.astype(TEXT).str.extract(r"^(?P<genus>\S+)(?:\s+(?P<epithet>(?:[×x]\s+)?\S+))?(?:\s+(?P<rest>.+))?$")
    return found.astype(TEXT).mask(found.isna())
