"""Terms of other vocabularies: full addresses, and only such as were read in the ontology's own file."""

import re

import pytest

from palea import schema

# Read in the files of PO 2026-01-09, TO 2026-01-14, PATO 2025-05-14, and OBI as imported there; label beside each.
READ = {
    "PO_0009051": "spikelet", "PO_0009082": "spikelet floret", "PO_0009001": "fruit", "PO_0030107": "achene fruit",
    "PO_0030104": "caryopsis fruit", "PO_0009010": "seed", "PO_0007015": "radicle emergence",
    "PO_0007131": "seedling development",
    "PO_0007030": "seedling shoot emergence", "TO_0000181": "seed weight", "TO_0001157": "seed moisture content",
    "TO_0000345": "seed viability", "TO_0010001": "percent germination", "TO_0000391": "seed size",
    "TO_0000146": "seed length",
    "TO_0000149": "seed width", "TO_0000253": "seed dormancy", "TO_0000430": "germination rate", "PATO_0000125": "mass",
    "PATO_0000122": "length", "PATO_0001323": "area", "PATO_0001334": "diameter", "PATO_0000146": "temperature",
    "PATO_0001309": "duration", "PATO_0001019": "mass density", "OBI_0000968": "device",
}
# Read in the list of Darwin Core terms.
DARWIN_CORE = {
    "scientificName", "scientificNameAuthorship", "scientificNameID", "taxonID", "identifiedBy", "eventDate",
    "countryCode",
    "locality", "decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters", "recordedByID",
    "materialEntityID",
    "measurementID", "measurementType", "measurementValue", "measurementUnit", "measurementMethod",
    "measurementDeterminedBy",
    "measurementDeterminedDate",
}
# Code names of MIAPPE 1.2.
MIAPPE = {
    "studyId", "studyTitle", "studyDescription", "expeDesignType", "personName", "personId", "personRole",
    "personAffiliation",
    "biologicalMaterialId", "organism", "biologicalMaterialPreprocessing", "materialSourceDesc",
    "materialSourceLatitude",
    "materialSourceLongitude", "expeFactorType", "expeFactorDesc", "obsUnitId", "obsUnitType", "obsUnitFactorValue",
    "traitName",
    "methodDesc",
}
FIELDS = [(f"{t.name}.{f.name}", f.terms) for t in schema.tables().values() for f in t.fields.values()]
WORDS = [(f"{v.name}.{w['name']}", w) for v in schema.vocabularies().values() for w in v.words.values()]
TERMS = [(at, k, term) for at, has in FIELDS + WORDS for k, term in has.items() if ":" in k or k == "miappe"]


@pytest.mark.parametrize(("where", "kind", "term"), TERMS)
def test_a_term_is_a_full_address_that_was_read(where, kind, term):
    if kind == "miappe":
        assert term in MIAPPE | {"pot", "plot"}, "the code names, and values of obsUnitType"
    elif kind == "dcterms:isVersionOf":
        assert term.removeprefix("http://rs.tdwg.org/dwc/terms/") in DARWIN_CORE
    else:
        assert kind in {"skos:exactMatch", "skos:closeMatch", "skos:broadMatch"}
        assert re.fullmatch(r"http://purl\.obolibrary\.org/obo/[A-Z]+_[0-9]{7}", term)
        assert term.rsplit("/", 1)[1] in READ


def test_percent_germination_is_not_the_ratio():
    """TO:0000202 is germinated to not germinated; percent germination is TO:0010001."""
    assert schema.word("quantity", "germinated")["skos:exactMatch"].endswith("TO_0010001")
