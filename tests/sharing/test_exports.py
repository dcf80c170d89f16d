"""A package in the forms of others: names held against the standards (official/SOURCES.md), places withheld, no formula."""

import csv
import io
import json
import shutil
import xml.etree.ElementTree as ET
import zipfile
from pathlib import Path

import openpyxl
import pytest
from babel.core import get_global

from palea.derived.facts import Facts
from palea.errors import PackageError, PaleaError, SharingRefused
from palea.sharing.exports import book, darwin_core, fit, miappe, miappe_material, passport, whole
from palea.sharing.exports import write as door
from palea.sharing.exports.sheet import Sheet
from palea.tables import conditions
from palea.tables.opening import open_package

OFFICIAL = Path(__file__).parent / "official"
TEXT = "{http://rs.tdwg.org/dwc/text/}"


def published(name):
    return json.loads((OFFICIAL / name).read_text(encoding="utf-8"))


def rows(sheet):
    """Rows as mappings, blank cells left out."""
    return [{k: v for k, v in zip(sheet.columns, row, strict=True) if v is not None} for row in sheet.rows]


def by(sheet, column):
    return {row[column]: row for row in rows(sheet)}


def said(sheets):
    return "\n".join(sheet.csv().decode() for sheet in sheets)


@pytest.fixture(scope="module", params=sorted(door.FORMS))
def form(request, open_copy):
    return request.param, door.FORMS[request.param], door.FORMS[request.param].sheets(open_copy)[0]


# -- every form ---------------------------------------------------------------


def shared_before(monkeypatch, archive):
    """Take the archive that was shared of this package before, by the same function, for sharing again takes seconds."""
    monkeypatch.setattr(fit.archive, "share", lambda _, path, **__: shutil.copy(archive, path))


def test_no_form_tells_what_is_withheld(small, small_archive, secrets, form, tmp_path, monkeypatch):
    """Written from the package as it lies in the house, with every secret in it."""
    name, told, _ = form
    if name != "miappe":
        shared_before(monkeypatch, small_archive)
    path = tmp_path / f"out{told.endings[0]}"
    door.write(small, name, path)
    inside = zipfile.ZipFile(path) if zipfile.is_zipfile(path) else None
    parts = [inside.read(n) for n in inside.namelist()] if inside else [path.read_bytes()]
    text = b"\n".join(parts).decode()
    assert [secret for secret in secrets if secret in text] == []
    assert "vulneraria" in text


def test_the_same_package_gives_the_same_bytes(form):
    _, told, made = form
    for ending in told.endings:
        assert door._laid(told, made, ending)[0] == door._laid(told, made, ending)[0]


def test_a_shared_archive_goes_out_as_the_package_itself_does(small, open_copy, small_archive, tmp_path, monkeypatch):
    door.write(open_copy, "darwin-core", tmp_path / "b.zip")
    shared_before(monkeypatch, small_archive)
    door.write(small, "darwin-core", tmp_path / "a.zip")
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_what_may_not_be_shared_is_not_exported(small, tmp_path):
    closed = small.describing(licenses=None)
    with pytest.raises(SharingRefused) as refusal:
        door.write(closed, "workbook", tmp_path / "x.xlsx")
    assert [f.severity for f in refusal.value.findings] == ["error"]
    assert not (tmp_path / "x.xlsx").exists()


def test_forms_endings_and_files_that_are_there_are_refused_in_words(small, tmp_path):
    with pytest.raises(PaleaError, match=r"There is no form “dwc”. Choose one of: miappe, darwin-core, mcpd, workbook."):
        door.write(small, "dwc", tmp_path / "x.zip")
    with pytest.raises(PaleaError, match=r"ends in “.csv”. The form darwin-core is written as .zip."):
        door.write(small, "darwin-core", tmp_path / "x.csv")
    with pytest.raises(PackageError, match=r"“lots.notes” cannot be left out"):
        door.write(small, "mcpd", tmp_path / "x.csv", leave_out=("lots.notes",))
    (tmp_path / "there.csv").write_text("mine")
    with pytest.raises(PaleaError, match="is there already"):
        door.write(small, "mcpd", tmp_path / "there.csv")


# -- Darwin Core --------------------------------------------------------------


@pytest.fixture(scope="module")
def occurrences(open_copy):
    return by(darwin_core.sheets(open_copy)[0][0], "materialEntityID")


def test_every_term_is_one_of_the_standard_and_stands_at_its_column(open_copy):
    made, _ = darwin_core.sheets(open_copy)
    laid = darwin_core.files(made)
    meta = ET.fromstring(laid["meta.xml"])
    for kind, allowed in (("core", "occurrence core"), ("extension", "measurement or fact extension")):
        terms = {space + name for space, names in published("dwc-terms.json")[allowed].items() for name in names}
        part = meta.find(TEXT + kind)
        head = next(csv.reader(io.StringIO(laid[part.find(f"{TEXT}files/{TEXT}location").text].decode())))
        named = {int(f.get("index")): f.get("term") for f in part.iter(f"{TEXT}field")}
        assert set(named.values()) <= terms
        assert all(address.rpartition("/")[2] == head[n] for n, address in named.items())
        assert set(range(len(head))) - set(named) == (set() if kind == "core" else {0})
        assert part.get("rowType").startswith("http://rs.tdwg.org/dwc/terms/")


def test_only_what_was_collected_from_the_wild_is_an_occurrence(open_copy, occurrences):
    assert set(occurrences) == {"AV-0", "CC-0", "RA-0"}
    assert darwin_core.sheets(open_copy)[1] == ["No occurrence was made of 1 lots that were received, but not from the wild: AV-B."]


def test_an_open_lot_tells_all(occurrences):
    lot = occurrences["AV-0"]
    assert lot["eventDate"] == "2024-07-24/2024-07-29"
    assert (lot["decimalLatitude"], lot["decimalLongitude"], lot["locality"]) == (52.41, -5.62, "Open Down (invented)")
    assert (lot["scientificName"], lot["genus"], lot["specificEpithet"]) == ("Anthyllis vulneraria L.", "Anthyllis", "vulneraria")
    assert lot["geodeticDatum"] == "EPSG:4326"
    assert lot["samplingEffort"] == "340 mother plants"
    assert not {"dataGeneralizations", "informationWithheld", "coordinatePrecision", "identifiedBy"} & set(lot)


def test_a_coarse_place_says_how_coarse_and_a_withheld_one_that_it_is(occurrences):
    coarse, closed = occurrences["CC-0"], occurrences["RA-0"]
    assert (coarse["decimalLatitude"], coarse["decimalLongitude"], coarse["coordinatePrecision"]) == (52.15, 4.95, 0.1)
    assert coarse["coordinateUncertaintyInMeters"] > 6000
    assert coarse["dataGeneralizations"].startswith("Coordinates are the centre of a cell of a grid of 0.1 degree;")
    assert coarse["informationWithheld"].startswith("Anything more exact than 0.1 degree, the name of the place included, is")
    assert "locality" not in coarse
    assert closed["informationWithheld"] == "The place is withheld, for the population is sensitive."
    assert not {"decimalLatitude", "decimalLongitude", "locality", "geodeticDatum", "dataGeneralizations"} & set(closed)


def test_tests_of_the_seed_belong_to_their_occurrence(open_copy, occurrences):
    found = rows(darwin_core.sheets(open_copy)[0][1])
    assert [r["measurementValue"] for r in found] == [0.31, 0.32]
    assert {r["occurrenceID"] for r in found} == {occurrences["AV-0"]["occurrenceID"]}
    assert found[0]["measurementType"] == "Mass of units: mass"
    assert found[0]["measurementUnit"] == "g"
    assert "measurementDeterminedBy" not in found[0], "P2 gave no consent"


# -- passport -----------------------------------------------------------------


def test_the_passport_has_the_descriptors_of_the_standard_in_their_order(open_copy):
    (sheet,), told = passport.sheets(open_copy)
    assert list(sheet.columns) == list(published("mcpd-2.1.json")["descriptors"])
    assert told[0].startswith("INSTCODE and COLLNUMB are blank")
    for row in rows(sheet):
        assert row["SAMPSTAT"] in published("mcpd-2.1.json")["SAMPSTAT"]
        assert row["COLLSRC"] in published("mcpd-2.1.json")["COLLSRC"]


def test_a_passport_row_is_written_as_the_standard_writes(open_copy):
    found = by(passport.sheets(open_copy)[0][0], "ACCENUMB")
    assert found["AV-0"] == {
        "ACCENUMB": "AV-0", "GENUS": "Anthyllis", "SPECIES": "vulneraria", "SPAUTHOR": "L.", "ACQDATE": "20240805",
        "ORIGCTY": "IRL", "COLLSITE": "Open Down (invented)", "DECLATITUDE": "52.41", "DECLONGITUDE": "-5.62", "COORDUNCERT": "250",
        "COORDDATUM": "WGS84", "COLLDATE": "20240724", "SAMPSTAT": "100", "COLLSRC": "10",
        "REMARKS": "Collected until 2024-07-29. 340 mother plants. Received as: legume.",
    }  # fmt: skip
    assert (found["CC-0"]["COLLDATE"], found["CC-0"]["ACQDATE"]) == ("202408--", "202409--")
    assert found["CC-0"]["DONORNAME"] == "Hollow Workshop (invented)"
    assert found["RA-0"]["COLLDATE"] == "2024----"
    assert (found["RA-0"]["SUBTAXA"], found["RA-0"]["SUBTAUTHOR"]) == ("subsp. hibernicus", "(Rech.f.) Akeroyd")
    assert not {"DECLATITUDE", "COLLSITE", "COORDDATUM", "SPAUTHOR"} & set(found["RA-0"])
    assert found["RA-0"]["REMARKS"].endswith("The place is withheld, for the population is sensitive.")


def test_codes_of_countries_are_those_of_iso_3166():
    """Two letters: the list of the citation format. Three: territory aliases of the Unicode CLDR, as babel holds them."""
    two = published("cff-1.2.0.json")["definitions"]["country"]["enum"]
    assert sorted(passport.countries()) == sorted(two)
    aliases = get_global("territory_aliases")
    assert [(a, b) for a, b in passport.countries().items() if aliases.get(b) != [a]] == []
    assert len(set(passport.countries().values())) == 249
    # Germany, France, the two Congos and Timor-Leste once had others.
    assert [passport.countries()[x] for x in ("DE", "FR", "CD", "CG", "TL")] == ["DEU", "FRA", "COD", "COG", "TLS"]


@pytest.mark.parametrize(("name", "parts"), [
    ("Carex", ("Carex", None, None)), ("Salix × fragilis", ("Salix", "× fragilis", None)),
    ("Rumex acetosa subsp. hibernicus", ("Rumex", "acetosa", "subsp. hibernicus")), (None, (None, None, None)),
])  # fmt: skip
def test_a_name_has_its_parts(name, parts):
    import pandas as pd

    found = fit.name_parts(pd.Series([name], dtype=pd.StringDtype("pyarrow"))).iloc[0]
    assert tuple(None if pd.isna(x) else x for x in found) == parts


# -- MIAPPE -------------------------------------------------------------------


@pytest.fixture(scope="module")
def sections(open_copy):
    return {sheet.name: sheet for sheet in miappe.sheets(open_copy)[0]}


def test_names_order_and_duties_are_those_of_the_checklist():
    with (OFFICIAL / "miappe-1.1.csv").open(encoding="utf-8") as source:
        official = [(r["line"], r["section"], r["attribute"], r["cardinality"][0] != "0") for r in csv.DictReader(source)]
    ours = [(line, section, name, must) for section, those in miappe.attributes().items() for line, name, must in those]
    assert ours == [x for x in official if x[1] != "Sample"]  # no tissue is kept as a sample of a unit


def test_every_section_has_its_attributes_in_order(sections):
    for section, those in miappe.attributes().items():
        names = [name for _, name, _ in those]
        assert [c for c in sections[section].columns if c in names] == names


def test_the_study_is_told_from_the_tables(sections):
    (study,) = rows(sections["Study"])
    assert study["Start date of study"] == "2024-10-20"
    assert study["End date of study"] == "2024-12-20"
    assert study["Contact institution"] == "Hollow Workshop (invented)"
    assert study["Geographic location (country)"] == "GB"
    assert study["Geographic location (altitude)"] == "31 m"
    assert (study["Geographic location (latitude)"], study["Experimental site name"]) == ("52.15", "place withheld")
    assert study["Observation unit level hierarchy"] == "block>main plot>row"
    assert "4 units, each a row, 50 seed units in each" in study["Observation unit description"]
    (person,) = rows(sections["Person"])
    assert person["Person ID"] == "https://orcid.org/0000-0002-1825-0097"


def test_the_material_says_what_was_done_to_it_and_where_it_came_from(sections):
    found = by(sections["Biological Material"], "Biological material ID")
    assert found["AV-1"]["Biological material preprocessing"] == "Threshed by the collector.; Cleaning R1"
    assert found["AV-1"]["Material source ID (Holding institute/stock centre, accession)"] == "AV-0"
    assert found["AV-1"]["Material source latitude"] == "52.41"
    assert found["AV-0"]["Biological material preprocessing"] == "Threshed by the collector."


def test_factors_are_what_differs_and_a_part_has_what_was_set_on_its_plot(sections):
    factors = by(sections["Experimental Factor"], "Experimental Factor type")
    assert set(factors) == {"Treatment", "Cleaning method", "Fence"}, "nothing was soaked, so a soak is no factor"
    assert factors["Treatment"]["Experimental Factor values"] == "T1 (In the pod); T2 (Brushed)"
    assert factors["Cleaning method"]["Experimental Factor description"] == "Applied to: batch"
    assert factors["Cleaning method"]["Experimental Factor values"] == "hand; brush machine"
    assert factors["Fence"]["Experimental Factor values"] == "fenced; open"
    units = by(sections["Observation Unit"], "Observation unit ID")
    assert units["U1"]["Observation Unit factor value"] == "Treatment:T2 (Brushed); Cleaning method:brush machine; Fence:fenced"
    assert units["U2"]["Observation Unit factor value"].endswith("Fence:open")
    assert units["U1"]["Spatial distribution"] == "block:1; row:2; column:1; within:M1"
    assert units["M1"]["Observation unit type"] == "plot"
    assert units["U1-1"]["Observation unit type"] == "plant"
    assert units["U1-1"]["Spatial distribution"] == "within:U1; Xmm:120; Ymm:40"
    assert units["U1-1"]["Biological material ID"] == "AV-1"


def test_every_observation_has_a_unit_and_a_variable_that_are_described(sections):
    seen = rows(sections["Observation"])
    variables, units = by(sections["Observed Variable"], "Variable ID"), by(sections["Observation Unit"], "Observation unit ID")
    assert len(seen) == 8 + 2
    assert {r["Variable ID"] for r in seen} == set(variables) == {"count: emerged", "height", "height 2"}
    assert {r["Observation unit ID"] for r in seen} <= set(units)
    assert variables["height 2"]["Method"] == "by eye"
    missing = [r for r in seen if "Value" not in r]
    assert [(r["Observation unit ID"], r["Reason for no value"]) for r in missing] == [("U3", "not looked")]
    assert seen[0] == {
        "Study unique ID": "F", "Observation unit ID": "U0", "Variable ID": "count: emerged", "Observation date": "2024-11-20",
        "Value": 1, "Counting": "New since the last visit", "Organism": "Anthyllis vulneraria",
    }  # fmt: skip


def test_what_the_standard_asks_for_and_nobody_wrote_down_is_listed(sections, open_copy):
    planned = open_copy.having("trials", [{"trial_id": "X", "title": "Not begun", "question": "Will it?"}])
    (told,) = miappe.sheets(planned)[1]
    assert "Study: Start date of study (blank in 1 of 2 rows)" in told
    assert "Environment: Environment parameter (blank in 0 of 0 rows)" in told
    missing = {(r["Section"], r["Attribute"]): r for r in rows(sections[miappe.MISSING])}
    assert missing["Investigation", "Submission date"]["Asked for"] == "may be there"
    assert ("Study", "Study title") not in missing
    assert missing["Environment", "Environment parameter"] == {
        "Section": "Environment", "Line": "DM-58", "Attribute": "Environment parameter", "Asked for": "must be there",
        "Blank rows": 0, "Rows": 0,
    }  # fmt: skip


# -- workbook -----------------------------------------------------------------


@pytest.fixture(scope="module")
def workbook(open_copy):
    data, cut = book.workbook(whole.sheets(open_copy)[0])
    assert cut == []
    return openpyxl.load_workbook(io.BytesIO(data))


def test_every_table_is_a_sheet_with_its_heading_frozen(workbook, open_copy):
    filled = [name for name in open_copy.names if len(open_copy[name])]
    assert workbook.sheetnames == [whole.FIRST, *filled, "own", whole.MEANING, whole.WORDS]
    for name in filled:
        ws = workbook[name]
        assert ws.freeze_panes == "A2"
        assert ws.max_row == len(open_copy[name]) + 1
        assert [c.value for c in ws[1]] == [*open_copy[name].columns]


def test_numbers_truths_and_texts_keep_their_kind(workbook):
    units = {c.value: n for n, c in enumerate(workbook["units"][1])}
    row = workbook["units"][4]
    assert (row[units["sown_n"]].value, row[units["sown_n"]].data_type) == (50, "n")
    assert row[units["block"]].data_type == "s", "a block called 1 is a name"
    people = {c.value: n for n, c in enumerate(workbook["people"][1])}
    assert workbook["people"][2][people["consent_to_publish"]].value is True
    assert row[units["reason"]].value is None


def test_no_text_is_ever_a_formula(workbook, formulas):
    notes = [c for c in workbook["equipment"]["I"][1:] if c.value is not None]
    assert [c.value for c in notes] == list(formulas)
    assert {c.data_type for c in notes} == {"s"}
    assert [c.quotePrefix for c in notes] == [text != "#N/A" for text in formulas]
    assert [(c.value, c.data_type, c.quotePrefix) for c in workbook["own"]["B"][1:2]] == [("=2+2", "s", True)]
    every = [c for ws in workbook for line in ws.iter_rows() for c in line]
    assert not [c.coordinate for c in every if c.data_type in ("f", "e")]


def test_the_dictionary_goes_along(workbook):
    meaning = [[c.value for c in line] for line in workbook[whole.MEANING].iter_rows()]
    assert ["lots", "latitude", "Latitude"] in [line[:3] for line in meaning]
    assert "deg" in next(line for line in meaning if line[1] == "latitude")
    words = [[c.value for c in line] for line in workbook[whole.WORDS].iter_rows()]
    assert ["outcome", "emerged", "Emerged"] in [line[:3] for line in words]


def test_a_table_that_is_read_in_blocks_says_that_it_is_summed_up(small_archive, monkeypatch):
    monkeypatch.setattr(conditions, "LARGE", 10)
    made, told = whole.sheets(open_package(small_archive))
    found = {sheet.name: sheet for sheet in made}
    assert [r["of_the_day"] for r in rows(found["conditions"])] == ["lowest", "mean", "highest"]
    assert told == [
        "conditions is too long for a sheet: its rows here are sums and means by day, the readings are in the package's own file."
    ]
    assert dict(found[whole.FIRST].rows)["Left out or summed up"] == told[0]


def test_what_does_not_fit_is_said(monkeypatch):
    monkeypatch.setattr(book, "MOST_ROWS", 3)
    monkeypatch.setattr(book, "LONGEST", 5)
    data, told = book.workbook([Sheet("long", ("a",), ((1,), (2,), (3,))), Sheet("wide", ("a",), (("abcdefg",), ("ok",)))])
    assert told == ["long has 3 rows, more than a sheet holds, and was left out.", "wide: 1 texts were cut at 5 characters."]
    assert [c.value for c in openpyxl.load_workbook(io.BytesIO(data))["wide"]["A"]] == ["a", "abcde", "ok"]


def test_names_of_sheets_fit_and_differ():
    taken = set()
    long = "a/very[long]name:of*a?table\\that nobody would give"
    names = [book._name(n, taken) for n in (long, long, "Lots", "lots", "''")]
    assert all(len(n) <= 31 and not set(n) & set("[]:*?/\\") for n in names)
    assert len({n.casefold() for n in names}) == 5


def test_characters_that_xml_cannot_hold_do_not_stop_it():
    data, _ = book.workbook([Sheet("x", ("a",), (("a\x00b\x1f",), ("\r=1",)))])
    cells = openpyxl.load_workbook(io.BytesIO(data))["x"]["A"]
    assert cells[1].value == "a\ufffdb\ufffd"
    assert cells[2].quotePrefix


def test_an_empty_package_can_go_out_in_every_form(tmp_path, stamp):
    import palea

    folder = tmp_path / "empty"
    palea.new_package(folder, "Empty (invented)", stamp, licence="CC0-1.0", invented=True)
    package = open_package(folder)
    for name, told in door.FORMS.items():
        made, _ = told.sheets(package)
        for ending in told.endings:
            assert door._laid(told, made, ending)[0], name


def test_factors_of_the_whole_journey_are_laid_out_where_a_treatment_leaves_columns_blank(journey):
    """A treatment that was not cleaned says nothing of a method: its level is none, and no cell stops the export."""
    laid = miappe_material.factors(Facts(journey)).set_index(["Study unique ID", "Experimental Factor type"])
    values = laid["Experimental Factor values"]
    cleaned = next(v for (trial, factor), v in values.items() if trial == "G1" and factor == "Cleaning method")
    assert {"none", "hand", "brush machine"} <= set(cleaned.split("; "))
