"""Planted secrets: exact places of a sensitive species and people without consent, wherever somebody may have written them."""

import json
import zipfile

import pytest

import palea
from palea.errors import PackageError
from palea.sharing import scrub
from palea.tables import descriptor
from palea.tables.opening import open_package
from palea.tables.saving import save

STAMP = palea.Stamp("A. Fennel", "2026-09-01T09:00:00+00:00")
PLACE, PERSON, ORCID = "Kettle Gate", "Quinta Marlowe", "https://orcid.org/0000-0009-9999-9999"
# Every plant is another number near the withheld place, so that a leak says where it came from.
PLANTS = [f"52.12{n}" for n in range(301, 312)]
SAID = f"{PLACE}, ask {PERSON.upper()} ({ORCID})"


@pytest.fixture(scope="module")
def planted(tmp_path_factory):
    """A package with the secrets in columns, notes, title, description, keywords, journal, answers, own table, loose file."""
    place = tmp_path_factory.mktemp("leaks") / "p"
    package = palea.new_package(place, f"Lots of {PLACE} {PLANTS[0]}", STAMP, licence="CC0-1.0", invented=True)
    rows = {
        "people": [
            {"person_id": "P1", "kind": "person", "name": "A. Fennel", "consent_to_publish": True},
            {"person_id": "P2", "kind": "person", "name": PERSON, "orcid": ORCID, "consent_to_publish": False},
        ],
        "taxa": [{"taxon_id": "CC", "scientific_name": "Corynephorus canescens", "place_sensitivity": "high",
                  "notes": f"Seen at {PLANTS[1]} by {PERSON}"}],
        "lots": [{"lot_id": "CC-0", "taxon_id": "CC", "seed_unit": "floret", "source_kind": "wild harvest", "status": "in use",
                  "latitude": 52.12345, "longitude": 4.98765, "place": f"{PLACE}, east face",
                  "notes": f"{PLANTS[2]}; 52° 07' 24\" N; {SAID}", "prior_treatment_text": f"by {PERSON}"}],
        "movements": [{"movement_id": "m1", "lot_id": "CC-0", "moved_at": "2026-08-01", "kind": "received", "mass_g": 52.123,
                       "notes": f"52,12399 {SAID}"}],
    }  # fmt: skip
    for table, those in rows.items():
        package = package.having(table, those)
    package = package.describing(description=f"From {PLANTS[3]}, {SAID}", keywords=["seed", PLACE])
    save(package, STAMP, "entry", words=f"Typed at {PLANTS[4]}, {SAID}")
    (place / f"map {PLANTS[5]}.txt").write_text(f"{PLANTS[6]} {SAID}", encoding="utf-8")
    (place / "drafts").mkdir(exist_ok=True)
    (place / "drafts" / "x.json").write_text(SAID, encoding="utf-8")
    (place / "mappings").mkdir()
    (place / "mappings" / "y.json").write_text(SAID, encoding="utf-8")
    (place / "analyses" / "A1").mkdir(parents=True)
    (place / "analyses" / "A1" / "sentences.md").write_text(f"{PLANTS[7]} {SAID}", encoding="utf-8")
    (place / "data" / "own.csv").write_text(f"a,b\n1,{PLANTS[8]} {PLACE}\n2,x\n", encoding="utf-8")
    raw = descriptor.thaw(open_package(place).descriptor)
    raw["resources"].append({"name": "own", "path": "data/own.csv"})
    (place / descriptor.NAME).write_text(json.dumps(raw, ensure_ascii=False, indent=1), encoding="utf-8")
    return open_package(place)


def members(archive):
    with zipfile.ZipFile(archive) as inside:
        return {name: inside.read(name).decode("utf-8", "replace") for name in inside.namelist()}


@pytest.mark.parametrize("journal", ["", "summary", "none"])
def test_no_secret_is_in_any_byte_of_the_archive(planted, tmp_path, journal):
    found = members(palea.share(planted, tmp_path / "out.zip", journal=journal))
    secrets = [*PLANTS, "52.12345", "4.98765", "52,12399", "52° 07'", PLACE.casefold(), PERSON.casefold(), ORCID]
    leaks = {s: [n for n, text in found.items() if s in text.casefold() or s in n.casefold()] for s in secrets}
    assert {s: names for s, names in leaks.items() if names} == {}
    assert scrub.MARK in found["data/lots.csv"]
    assert scrub.MARK in found["data/own.csv"]
    assert "52.123" in found["data/movements.csv"], "a mass is no place, however near its number is"
    assert not {n for n in found if n.startswith(("drafts", "mappings", "map"))}
    assert ("journal-summary.md" in found) is (journal != "none")
    assert "1 files that no table and no attachment names stayed at home." in found["README.md"]


def test_the_shared_copy_is_sound_and_the_same_twice(planted, tmp_path):
    first, again = (palea.share(planted, tmp_path / name) for name in ("a.zip", "b.zip"))
    assert first.read_bytes() == again.read_bytes()
    copy = open_package(first)
    assert [f for f in palea.check(copy) if f.severity == "error"] == []
    assert palea.rerun(first).manifest == "ok"
    assert palea.check(planted) is not None


def test_the_whole_journal_is_refused_where_it_would_give_away_what_is_withheld(planted, tmp_path):
    with pytest.raises(PackageError, match="old values would give away"):
        palea.share(planted, tmp_path / "out.zip", journal="whole")
    with pytest.raises(PackageError, match="“most” is no way to share a journal"):
        palea.share(planted, tmp_path / "out.zip", journal="most")
    assert not (tmp_path / "out.zip").exists()


def test_where_nothing_is_withheld_every_table_and_the_journal_go_along_as_they_are(tmp_path):
    place = tmp_path / "open"
    package = palea.new_package(place, "Open (invented)", STAMP, licence="CC0-1.0", invented=True)
    package = package.having("people", [{"person_id": "P1", "kind": "person", "name": "A. Fennel", "consent_to_publish": True}])
    save(package, STAMP, "entry", words="Nothing to hide at 52.12345.")
    found = members(palea.share(open_package(place), tmp_path / "out.zip"))
    for name in ("data/people.csv", "journal.jsonl"):
        assert found[name] == (place / name).read_text(encoding="utf-8")


def test_what_another_row_still_tells_is_no_secret(planted):
    """A place that an open species shares with a sensitive one is open already; a name that somebody agreed to, too."""
    both = planted.having("people", [{"person_id": "P3", "kind": "person", "name": PERSON, "consent_to_publish": True}])
    from palea.sharing.redact import redacted

    hidden = scrub.secrets(both, redacted(both)[0])
    assert PERSON not in hidden.texts
    assert PLACE in hidden.texts
