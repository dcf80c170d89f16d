"""Side-files of an archive: required parts of each format, names by consent alone, links that lead somewhere.

What the publishers' own schemas and contexts say of these files stands in test_official.py; here the crate is also read by
the `rocrate` library.
"""

import json
import zipfile

import pytest
import yaml

import palea
from palea.analyses import keep
from palea.shipped import folder
from palea.tables.opening import open_package


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    """The journey with one analysis kept, shared twice."""
    import shutil

    place = tmp_path_factory.mktemp("meta")
    package = palea.open_package(shutil.copytree(folder("datapackages_demo") / "journey", place / "journey"))
    by = palea.Stamp("C. Sorrel", "2025-08-12T10:00:00+00:00")
    kept = keep.keep(package, [palea.run("germination.final", package, trial="G4")], by)
    return palea.share(kept, place / "a.zip"), palea.share(kept, place / "b.zip")


@pytest.fixture(scope="module")
def files(archive):
    with zipfile.ZipFile(archive[0]) as inside:
        return {name: inside.read(name) for name in inside.namelist()}


def test_two_archives_of_one_state_are_the_same_bytes(archive):
    assert archive[0].read_bytes() == archive[1].read_bytes()


def test_the_citation_has_what_the_format_asks_for(files):
    told = yaml.safe_load(files["CITATION.cff"])
    assert {"cff-version", "message", "title", "authors"} <= set(told)
    assert (told["cff-version"], told["type"], told["license"]) == ("1.2.0", "dataset", "CC0-1.0")
    assert all({"family-names"} <= set(a) or {"name"} <= set(a) for a in told["authors"])
    assert told["date-released"] == "2025-08-12"


def test_a_title_cannot_break_out_of_its_line():
    from palea.sharing.metadata import citation
    from palea.sharing.metadata.about import About

    told = About('x"\nauthors: [evil]', "d: - #", "CC0-1.0", "", "2026-01-01", (), (), ())
    assert yaml.safe_load(citation.text(told))["title"] == 'x"\nauthors: [evil]'


def test_the_doi_metadata_have_the_mandatory_properties(files):
    told = json.loads(files["datacite.json"])
    assert {"creators", "titles", "publisher", "publicationYear", "types"} <= set(told)
    assert told["types"]["resourceTypeGeneral"] == "Dataset"
    assert told["publicationYear"] == "2025"
    assert all(c["nameType"] in ("Personal", "Organizational") for c in told["creators"])
    deposit = json.loads(files["zenodo.json"])
    assert (deposit["upload_type"], deposit["license"]) == ("dataset", "cc0-1.0")
    assert json.loads(files["dataset.jsonld"])["@type"] == "Dataset"


def test_only_people_who_agreed_are_named(files):
    people = open_package(folder("datapackages_demo") / "journey")["people"]
    silent = people.loc[~people["consent_to_publish"].fillna(value=False).astype(bool), "name"].dropna()
    for name in silent:
        for side in ("CITATION.cff", "datacite.json", "zenodo.json", "dataset.jsonld", "ro-crate-metadata.json"):
            assert name not in files[side].decode()


def test_every_link_of_the_crate_leads_to_an_entity_or_a_file(files):
    crate = json.loads(files["ro-crate-metadata.json"])
    assert crate["@context"] == "https://w3id.org/ro/crate/1.1/context"
    by_id = {entity["@id"]: entity for entity in crate["@graph"]}
    assert len(by_id) == len(crate["@graph"]), "every entity once"
    root = by_id["./"]
    assert {"name", "description", "datePublished", "license", "hasPart"} <= set(root)
    for part in root["hasPart"]:
        assert part["@id"] in files
    values = [value for entity in crate["@graph"] for value in entity.values()]
    links = [ref for value in values for ref in (value if isinstance(value, list) else [value]) if isinstance(ref, dict)]
    known = {*by_id, "https://w3id.org/ro/crate/1.1"}
    assert {link["@id"] for link in links} <= known
    action = next(e for e in crate["@graph"] if e["@type"] == "CreateAction")
    assert by_id[action["instrument"]["@id"]]["@type"] == "SoftwareApplication"
    assert {"data/counts.csv", "data/units.csv"} <= {o["@id"] for o in action["object"]}
    assert action["result"]


def test_the_library_of_the_standard_reads_the_crate(archive, tmp_path):
    from rocrate.rocrate import ROCrate

    with zipfile.ZipFile(archive[0]) as inside:
        inside.extractall(tmp_path)
    crate = ROCrate(str(tmp_path))
    assert crate.root_dataset["name"].startswith("Hollowdale")
    assert len([e for e in crate.contextual_entities if e.type == "CreateAction"]) == 1
