"""What `share` writes for others, held against what others publish: see official/SOURCES.md."""

import json
import zipfile
from pathlib import Path

import jsonschema
import pytest
import yaml

from palea import schema
from palea.sharing.metadata import about, citation, datacite, linked
from palea.sharing.metadata.about import About, Creator

OFFICIAL = Path(__file__).parent / "official"
FULL = About(
    'A: "title"', "What it is", "CC-BY-4.0", "1.0.0", "2026-09-01", ("seed", "Anthyllis vulneraria"),
    (Creator("B. Sorrel (invented)", "https://orcid.org/0000-0002-1825-0097", organisation="Workshop"), Creator("Mononym"),
     Creator("Workshop", is_person=False, ror="https://ror.org/05gq02987")), ("Anthyllis vulneraria",),
)  # fmt: skip
BARE = About("Title", "Title", "", "", "2026-09-01", (), (), ())


def published(name):
    return json.loads((OFFICIAL / name).read_text(encoding="utf-8"))


def faults(name, document):
    """What a published schema says of a document; where it says nothing of how it is read, by the draft that it names."""
    told = published(name)
    kind = jsonschema.validators.validator_for(told)
    kind.check_schema(told)
    return [f"{e.json_path}: {e.message}" for e in kind(told, format_checker=kind.FORMAT_CHECKER).iter_errors(document)]


@pytest.fixture(scope="module")
def files(small_archive):
    with zipfile.ZipFile(small_archive) as inside:
        return {name: inside.read(name) for name in inside.namelist()}


@pytest.fixture(scope="module")
def crate(files):
    return json.loads(files["ro-crate-metadata.json"])


@pytest.mark.parametrize("told", [FULL, BARE], ids=["all that may be said", "as little as may be said"])
def test_each_format_finds_nothing_wrong(told):
    assert faults("cff-1.2.0.json", yaml.load(citation.text(told), yaml.BaseLoader)) == []
    assert faults("datacite-4.5.json", datacite.document(told)) == []
    assert faults("zenodo-deposit.json", datacite.deposit(told)) == []


def test_an_archive_has_nothing_wrong_in_any_of_them(files):
    assert faults("cff-1.2.0.json", yaml.load(files["CITATION.cff"], yaml.BaseLoader)) == []
    assert faults("datacite-4.5.json", json.loads(files["datacite.json"])) == []
    assert faults("zenodo-deposit.json", json.loads(files["zenodo.json"])) == []
    assert json.loads(files["datacite.json"])["subjects"] == [
        {"subject": w} for w in ("seed", "Anthyllis vulneraria", "Corynephorus canescens", "Rumex acetosa subsp. hibernicus")
    ]


def test_the_schemas_do_find_what_is_wrong():
    assert any("title" in f for f in faults("cff-1.2.0.json", {"cff-version": "1.2.0", "message": "x", "authors": [{"name": "x"}]}))
    assert faults("datacite-4.5.json", datacite.document(FULL) | {"publicationYear": 2026})
    assert faults("zenodo-deposit.json", datacite.deposit(FULL) | {"upload_type": "data"})


def test_every_licence_that_may_be_chosen_is_one_that_the_citation_format_knows():
    known = set(published("cff-1.2.0.json")["definitions"]["license-enum"]["enum"])
    assert set(schema.words("licence")) <= known


@pytest.mark.parametrize(("written", "read"), [
    ("https://orcid.org/0000-0002-1825-0097", "https://orcid.org/0000-0002-1825-0097"),
    ("orcid.org/0000-0002-1825-009X/", "https://orcid.org/0000-0002-1825-009X"),
    ("https://example.org/0000", ""),
])  # fmt: skip
def test_an_orcid_is_found_however_a_contributor_writes_it(open_copy, written, read):
    package = open_copy.describing(contributors=[{"title": "N. Nobody", "path": written, "organization": "Workshop"}])
    assert about.of(package, "").creators == (Creator("N. Nobody", read, organisation="Workshop"),)


def test_a_contributor_is_the_person_or_workshop_of_that_name(open_copy):
    package = open_copy.describing(contributors=[{"title": "Hollow Workshop (invented)"}, {"title": "Yard", "path": "https://ror.org/x"}])
    assert [(c.is_person, c.ror) for c in about.of(package, "").creators] == [
        (False, "https://ror.org/05gq02987"), (False, "https://ror.org/x"),
    ]  # fmt: skip


def test_every_word_of_the_crate_is_one_of_its_context(crate):
    """RO-Crate 1.1 allows only terms of its context, unless they are defined in the crate."""
    terms = set(published("ro-crate-1.1-context.jsonld")["@context"]) | {"@id", "@type"}
    for entity in crate["@graph"]:
        kinds = entity["@type"] if isinstance(entity["@type"], list) else [entity["@type"]]
        assert {*entity, *kinds} <= terms, entity["@id"]
    assert crate["@context"] == published("ro-crate-1.1-context.jsonld")["@id"]


def test_the_dataset_speaks_schema_org_alone(files):
    """The context of RO-Crate takes over all of schema.org, so its addresses say what is a word of schema.org."""
    context = published("ro-crate-1.1-context.jsonld")["@context"]
    words = {word for word, address in context.items() if str(address).startswith("http://schema.org/")} | {"@context", "@type"}

    def keys(value):
        if isinstance(value, dict):
            yield from (k for k in value)
            yield value["@type"]
            value = list(value.values())
        if isinstance(value, list):
            for part in value:
                yield from keys(part)

    told = json.loads(files["dataset.jsonld"])
    assert set(keys(told)) <= words
    assert [v["name"] for v in told["variableMeasured"]] == ["Emerged", "Height"]


def test_runs_of_programs_are_as_the_profile_of_process_runs_asks(crate):
    """Process Run Crate 0.5: a CreateAction has a program as its instrument, a result, and is mentioned by the root."""
    by_id = {entity["@id"]: entity for entity in crate["@graph"]}
    made = [e for e in crate["@graph"] if e["@type"] == "CreateAction"]
    mentioned = {ref["@id"] for ref in by_id["./"]["mentions"]}
    assert len(made) == 1
    for action in made:
        assert by_id[action["instrument"]["@id"]]["@type"] == "SoftwareApplication"
        assert action["result"]
        assert action["@id"] in mentioned
        assert action["description"].endswith(" of the calculation emergence.final on trial F.")


def test_runs_at_the_bench_lead_from_lot_to_lot(crate):
    by_id = {entity["@id"]: entity for entity in crate["@graph"]}
    run = by_id["#run-R1"]
    assert run["@type"] == "Action", "a CreateAction would have to be a program's"
    ends = ("#lot-AV-0", "#lot-AV-1", "#equipment-brush-1")
    assert (run["object"], run["result"], run["instrument"]) == tuple({"@id": x} for x in ends)
    assert by_id["#lot-AV-1"]["category"] == "seed"
    assert by_id["#equipment-brush-1"]["serialNumber"] == "007"
    person = by_id[run["agent"]["@id"]]
    assert (person["name"], person["familyName"]) == ("A. Fennel (invented)", "Fennel (invented)")
    assert by_id[person["affiliation"]["@id"]]["url"] == "https://ror.org/05gq02987"
    assert {"#run-R1"} <= {ref["@id"] for ref in by_id["./"]["mentions"]}


def test_a_single_value_is_no_list_and_every_file_says_what_it_is(crate):
    """RO-Crate 1.1, appendix on JSON-LD: a list of one is written as its value."""
    for entity in crate["@graph"]:
        assert [key for key, value in entity.items() if isinstance(value, list) and len(value) == 1 and key != "hasPart"] == []
        assert entity["@type"] != "File" or entity["encodingFormat"]
    assert linked.one([1]) == 1
    assert linked.one([1, 2]) == [1, 2]


def test_who_gave_no_consent_is_in_no_entity(files):
    for name in ("CITATION.cff", "datacite.json", "zenodo.json", "dataset.jsonld", "ro-crate-metadata.json"):
        assert "Marlowe" not in files[name].decode()
