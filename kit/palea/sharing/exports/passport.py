"""Wild-collected lots as passport rows of a gene bank.

Source: FAO and Bioversity, Multi-Crop Passport Descriptors V.2.1, December 2015.
"""

import json
from functools import cache
from pathlib import Path

import pandas as pd

from palea import schema
from palea.derived.facts import plain
from palea.derived.lookup import TEXT, texts
from palea.sharing.exports.fit import name_parts, wild
from palea.sharing.exports.sheet import Sheet
from palea.sharing.redact import WITHHELD_NAME

DESCRIPTORS = (
    "PUID", "INSTCODE", "ACCENUMB", "COLLNUMB", "COLLCODE", "COLLNAME", "COLLINSTADDRESS", "COLLMISSID", "GENUS", "SPECIES",
    "SPAUTHOR", "SUBTAXA", "SUBTAUTHOR", "CROPNAME", "ACCENAME", "ACQDATE", "ORIGCTY", "COLLSITE", "DECLATITUDE", "LATITUDE",
    "DECLONGITUDE", "LONGITUDE", "COORDUNCERT", "COORDDATUM", "GEOREFMETH", "ELEVATION", "COLLDATE", "BREDCODE", "BREDNAME",
    "SAMPSTAT", "ANCEST", "COLLSRC", "DONORCODE", "DONORNAME", "DONORNUMB", "OTHERNUMB", "DUPLSITE", "DUPLINSTNAME", "STORAGE",
    "MLSSTAT", "REMARKS",
)  # fmt: skip
WILD_STATUS, WILD_HABITAT = "100", "10"  # SAMPSTAT wild; COLLSRC wild habitat, for finer codes are not recorded
DATUM = "WGS84"
ASKED = ("INSTCODE", "COLLNUMB")  # what a gene bank asks for first and a package never holds


def sheets(package):
    """(the passport rows, what has no place in a package left blank; sentences about what is missing or left out)."""
    found, others = wild(package)
    rows = Sheet.of("passport", _rows(package, found))
    said = [f"{' and '.join(ASKED)} are blank: a package holds no code of an institute and no number of a collector."]
    if others:
        said.append(f"{len(others)} lots that were received, but not from the wild, have no row: {', '.join(others)}.")
    return [rows], said


def _rows(package, found):
    """One row a lot with all descriptors in the order of the standard, as text."""
    parts = name_parts(found["scientific_name"])
    here = found["latitude"].notna()
    whole = parts["rest"].isna()
    said = {
        "ACCENUMB": found["lot_id"],
        "GENUS": parts["genus"],
        "SPECIES": parts["epithet"].fillna("sp."),
        "SPAUTHOR": found["authorship"].where(whole),  # of a name with a rank below the species it is that rank's
        "SUBTAXA": parts["rest"],
        "SUBTAUTHOR": found["authorship"].where(~whole),
        "ACQDATE": _date(_received(package, found)),
        "ORIGCTY": texts(found["country"], countries()),
        "COLLSITE": found["place"],
        "DECLATITUDE": _number(found["latitude"]),
        "DECLONGITUDE": _number(found["longitude"]),
        "COORDUNCERT": _number(found["coordinate_uncertainty_m"].round()),
        "COORDDATUM": pd.Series(DATUM, found.index, TEXT).where(here),
        "COLLDATE": _date(found["collected_from"]),
        "SAMPSTAT": pd.Series(WILD_STATUS, found.index, TEXT),
        "COLLSRC": pd.Series(WILD_HABITAT, found.index, TEXT),
        "DONORNAME": _donor(package, found),
        "REMARKS": _remarks(found),
    }
    blank = pd.Series(pd.NA, found.index, TEXT)
    return pd.DataFrame({name: said.get(name, blank) for name in DESCRIPTORS})


@cache
def countries():
    """Codes of countries of three letters by those of two (ISO 3166-1)."""
    return json.loads(Path(__file__).with_name("countries.json").read_text(encoding="utf-8"))


def _arrivals(package):
    """Movements by which lots came in, the first of each lot, by lot."""
    moves = plain(package["movements"])
    came = moves[moves["kind"].isin(schema.words("movement_kind", sign=1)) & moves["run_id"].isna()]
    return came.sort_values("moved_at", kind="stable").drop_duplicates("lot_id").set_index("lot_id")


def _received(package, found):
    return texts(found["lot_id"], _arrivals(package)["moved_at"])


def _donor(package, found):
    """Who gave the seed, where a movement says so and the name may be told."""
    people = plain(package["people"])
    named = people[people["name"].ne(WITHHELD_NAME)].drop_duplicates("person_id").set_index("person_id")["name"]
    return texts(texts(found["lot_id"], _arrivals(package)["counterpart_person"]), named)


def _date(written):
    """A date, or what is known of it, as YYYYMMDD with hyphens for what is not known."""
    parts = written.astype(TEXT).str.extract(r"^(\d{4})(?:-(\d\d))?(?:-(\d\d))?").astype(TEXT)
    return parts[0] + parts[1].fillna("--") + parts[2].fillna("--")


def _number(values):
    return values.map("{:.10g}".format, na_action="ignore").astype(TEXT)


def _remarks(found):
    """What no descriptor has a place for: the last day of collecting, mother plants, what was done to the place."""
    until = found["collected_to"].where(found["collected_to"].ne(found["collected_from"]))
    parts = (
        "Collected until " + until.astype(TEXT) + ".",
        found["mother_plants"].map("{:g} mother plants.".format, na_action="ignore").astype(TEXT),
        "Received as: " + found["seed_unit"].astype(TEXT) + ".",
        found["generalised"],
        found["withheld"],
    )
    said = [[text for text in row if isinstance(text, str)] for row in zip(*parts, strict=True)]
    return pd.Series([" ".join(row) for row in said], found.index, TEXT)
