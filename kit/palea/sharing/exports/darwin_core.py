"""Wild-collected lots in Darwin Core: an archive of occurrences with the tests of their seed, for a register of species.

A lot that was made here is no occurrence in nature, and where bought seed grew nobody in the package can say, so those
stay out. Terms of single columns are those that the schema names (`dcterms:isVersionOf`).
Source: http://rs.tdwg.org/dwc/terms/ (terms); http://rs.tdwg.org/dwc/text/ (the archive's meta.xml).
"""

from xml.sax.saxutils import quoteattr

import pandas as pd

from palea import schema
from palea.derived.facts import plain
from palea.derived.lookup import TEXT, texts
from palea.sharing.exports.fit import name_parts, wild
from palea.sharing.exports.sheet import Sheet
from palea.sharing.metadata import about
from palea.sharing.redact import WITHHELD_NAME

DWC = "http://rs.tdwg.org/dwc/terms/"
TERMS_ELSEWHERE = {"license": "http://purl.org/dc/terms/license"}
MARK = "dcterms:isVersionOf"
FIRST = ("occurrenceID", "basisOfRecord")  # what must be there, in every archive
CORE, EXTENSION = "occurrence", "measurementorfact"
DATUM = "EPSG:4326"  # of all coordinates of a package, as the schema says of them
META = """<?xml version="1.0" encoding="UTF-8"?>
<archive xmlns="http://rs.tdwg.org/dwc/text/">
{parts}
</archive>
"""


def sheets(package):
    """(the occurrences, the tests of their seed as measurements; sentences about what is not among them)."""
    found, others = wild(package)
    occurrences = Sheet.of(CORE, _occurrences(package, found))
    said = [
        f"No occurrence was made of {len(others)} lots that were received, but not from the wild: {', '.join(others)}."
    ]
    return [occurrences, Sheet.of(EXTENSION, _measurements(package, found))], said if others else []


def files(made):
    """{name: bytes} of the archive that `sheets` lay out, the description of its columns first."""
    core, extension = made
    parts = [_part("core", core, "Occurrence"), _part("extension", extension, "MeasurementOrFact")]
    meta = META.format(parts="\n".join(parts)).encode()
    return {"meta.xml": meta, f"{CORE}.csv": core.csv(), f"{EXTENSION}.csv": extension.csv()}


def term(name):
    """The address of a term by its short name."""
    return TERMS_ELSEWHERE.get(name, DWC + name)


def _occurrences(package, found):
    """One row a lot; columns are short names of terms, those without any value left out."""
    told = about.of(package, "")
    parts = name_parts(found["scientific_name"])
    said = {
        **_marked("taxa", found),
        **_marked("lots", found),
        "occurrenceID": _key(package, found["lot_id"]),
        "basisOfRecord": _all(found, "MaterialEntity"),
        "occurrenceStatus": _all(found, "present"),
        "datasetName": _all(found, package.title),
        "license": _all(found, about.LICENCE_URL.format(told.licence) if told.licence else None),
        "scientificName": _with_author(found),
        "kingdom": _all(found, "Plantae"),
        "family": found["family"],
        "genus": parts["genus"],
        "specificEpithet": parts["epithet"],
        "verbatimIdentification": found["name_as_received"],
        "identifiedBy": _people(package, found["identified_by"]),
        "eventDate": _span(found["collected_from"], found["collected_to"]),
        "samplingEffort": _counted(found["mother_plants"], "mother plants"),
        "geodeticDatum": _all(found, DATUM).where(found["latitude"].notna()),
        "coordinatePrecision": found["cell"],
        "materialEntityType": found["seed_unit"],
        "materialEntityRemarks": found["notes"],
        "dataGeneralizations": found["generalised"],
        "informationWithheld": found["withheld"],
    }
    used = sorted(name for name, values in said.items() if name not in FIRST and values.notna().any())
    return pd.DataFrame({name: said[name] for name in (*FIRST, *used)})


def _measurements(package, found):
    """One row a reading of a test of such a lot that stands, by the id of its occurrence."""
    tests, readings = plain(package["tests"]), plain(package["readings"])
    valid = tests["status"].isna() | tests["status"].isin(schema.words("test_status", counts=True))
    of = tests[valid & tests["lot_id"].isin(found["lot_id"])].merge(
        readings, on="test_id", suffixes=("", "_of_reading")
    )
    of = of[of["value"].notna()].reset_index(drop=True)
    titles = {w: schema.word("test_quantity", w)["title"] for w in schema.words("test_quantity")}
    item = of["item"].astype(TEXT)
    kind = texts(of["quantity"], titles)
    number = of["replicate"].map("{:g}".format, na_action="ignore").astype(TEXT)
    return pd.DataFrame(
        {
            "occurrenceID": _key(package, of["lot_id"]),
            "measurementID": of["test_id"] + ":" + number.fillna("") + ":" + item.fillna(""),
            "measurementType": (kind + ": " + item).fillna(kind),
            "measurementValue": of["value"],
            "measurementUnit": of["unit"],
            "measurementMethod": of["method"],
            "measurementDeterminedDate": of["tested_at"],
            "measurementDeterminedBy": _people(package, of["tested_by"]),
            "measurementRemarks": of["notes_of_reading"],
        }
    )


def _marked(table, found):
    """Columns of a table for which the schema names a term, by the term's short name."""
    fields = schema.table(table).fields.values()
    return {f.terms[MARK].removeprefix(DWC): found[f.name] for f in fields if f.terms.get(MARK, "").startswith(DWC)}


def _key(package, ids):
    """Ids that are unique beyond the package: its own identifier, or its name, before each."""
    return f"{package.descriptor.get('id') or package.descriptor.get('name') or package.title}:" + ids.astype(TEXT)


def _all(found, value):
    return pd.Series(value, index=found.index, dtype=TEXT)


def _with_author(found):
    both = found["scientific_name"] + " " + found["authorship"]
    return both.fillna(found["scientific_name"])


def _span(first, last):
    """An interval of dates as ISO 8601 writes it; one date alone where there is no other."""
    both = first.astype(TEXT) + "/" + last.astype(TEXT)
    return both.where(first.ne(last)).fillna(first)


def _counted(numbers, of_what):
    return numbers.map(lambda n: f"{n:g} {of_what}", na_action="ignore").astype(TEXT)


def _people(package, ids):
    """Names of people by id; blank for those who are not named in a shared copy."""
    people = plain(package["people"])
    named = people[people["name"].ne(WITHHELD_NAME)].drop_duplicates("person_id").set_index("person_id")["name"]
    return texts(ids, named)


def _part(kind, sheet, row_type):
    """The description of one file of the archive: its first column is the id, every column has its term."""
    own = "id" if kind == "core" else "coreid"
    fields = [f'    <field index="{n}" term={quoteattr(term(name))}/>' for n, name in enumerate(sheet.columns)]
    fields = fields if kind == "core" else fields[1:]
    written = 'encoding="UTF-8" fieldsTerminatedBy="," linesTerminatedBy="\\n" fieldsEnclosedBy="&quot;" ignoreHeaderLines="1"'
    return "\n".join([
        f'  <{kind} {written} rowType="{DWC}{row_type}">',
        f"    <files><location>{sheet.name}.csv</location></files>",
        f'    <{own} index="0"/>',
        *fields,
        f"  </{kind}>",
    ])  # fmt: skip
