"""Planted secrets: exact places of a sensitive species and people without consent, wherever somebody may have written them."""

import hashlib
import io
import json
import re
import zipfile

import pytest

import palea
from palea.errors import PackageError, SharingRefused
from palea.sharing import redact, withheld
from palea.tables import descriptor
from palea.tables.opening import open_package
from palea.tables.saving import save

STAMP = palea.Stamp("A. Fennel", "2026-09-01T09:00:00+00:00")
PLACE, PERSON, ORCID = "Kettle Gate", "Quinta Marlowe", "https://orcid.org/0000-0009-9999-9999"
# Every plant is another number near the withheld place, so that a leak says where it came from.
PLANTS = [f"52.12{n}" for n in range(301, 316)]
PERMIT = "LIC-7788/23"
SAID = f"{PLACE}, ask {PERSON.upper()} ({ORCID}), kettle_gate, Ms Marlowe"
OTHERWISE = ("52 07 24 N", "N 52 07.407", "52.12 N", "31U 632000 5774000", "geo:52.1,5.0;u=9", "TQ 1234 5678", "9C4G7X2M+2V")


@pytest.fixture(scope="module")
def planted(tmp_path_factory):
    """A package with the secrets in columns, notes, title, description, keywords, journal, answers, own table, loose file."""
    place = tmp_path_factory.mktemp("leaks") / "p"
    package = palea.new_package(place, f"Lots of {PLACE} {PLANTS[0]}", STAMP, licence="CC0-1.0", invented=True)
    rows = {
        "people": [
            {"person_id": "P1", "kind": "person", "name": "A. Fennel", "consent_to_publish": True},
            {"person_id": "marlowe", "kind": "person", "name": PERSON, "orcid": ORCID, "consent_to_publish": False},
        ],
        "taxa": [{"taxon_id": "CC", "scientific_name": "Corynephorus canescens", "place_sensitivity": "high",
                  "notes": f"Seen at {PLANTS[1]} by {PERSON}"}],
        "lots": [{"lot_id": "CC-0", "taxon_id": "CC", "seed_unit": "floret", "source_kind": "wild harvest", "status": "in use",
                  "latitude": 52.12345, "longitude": 4.98765, "place": f"{PLACE}, east face",
                  "permit": PERMIT, "permit_may_share": False,
                  "notes": f"{PLANTS[2]}; 52° 07' 24\" N; {SAID}", "prior_treatment_text": f"by {PERSON}; {'; '.join(OTHERWISE)}"}],
        "sites": [{"site_id": "KettleGate-1", "name": f"{PLACE}, east face", "place_sensitivity": "extreme", "latitude": 52.12345,
                   "longitude": 4.98765}],
        "runs": [{"run_id": "R1", "kind": "clean", "done_by": "marlowe", "started_at": "2026-08-02T10:05+01:00",
                  "status": "finished",
                  "notes": f"under {PERMIT.lower()}"}],
        "attachments": [{"attachment_id": "F1", "path": "files/kettle-gate-52.12312.txt", "media_type": "text/plain", "shows": SAID,
                         "about_table": "sites", "about_id": "KettleGate-1", "may_share": True, "taken_by": "marlowe",
                         "sha256": hashlib.sha256(b"A pod.").hexdigest()}],
        "analyses": [{"analysis_id": "lots.seed_weight", "recipe": "lots.seed_weight", "version": "1"}],
        "movements": [{"movement_id": "m1", "lot_id": "CC-0", "moved_at": "2026-08-01", "kind": "received", "mass_g": 52.123,
                       "notes": f"52,12399 {SAID}"}],
    }  # fmt: skip
    for table, those in rows.items():
        package = package.having(table, those)
    package = package.describing(description=f"From {PLANTS[3]}, {SAID}", keywords=["seed", PLACE])
    save(package, STAMP, "entry", words=f"Typed at {PLANTS[4]}, {SAID}", files={"files/kettle-gate-52.12312.txt": b"A pod."})
    (place / f"map {PLANTS[5]}.txt").write_text(f"{PLANTS[6]} {SAID}", encoding="utf-8")
    (place / "drafts").mkdir(exist_ok=True)
    (place / "drafts" / "x.json").write_text(SAID, encoding="utf-8")
    (place / "mappings").mkdir()
    (place / "mappings" / "y.json").write_text(SAID, encoding="utf-8")
    kept = place / "analyses" / "lots.seed_weight"
    kept.mkdir(parents=True)
    (kept / "sentences.md").write_text(f"{PLANTS[7]} {SAID}", encoding="utf-8")
    (kept / f"at {PLANTS[13]}.svg").write_text(f"<svg>{PLANTS[14]}</svg>", encoding="utf-8")
    (place / "schema" / "mine.txt").write_text(SAID, encoding="utf-8")
    (place / "data" / "own.csv").write_text(f"a,b\n1,{PLANTS[8]} {PLACE}\n2,x\n", encoding="utf-8")
    raw = descriptor.thaw(open_package(place).descriptor)
    own = (place / "data" / "own.csv").read_bytes()
    raw["resources"].append({"name": "own", "path": "data/own.csv", "description": f"{SAID} {PLANTS[9]}", "bytes": len(own),
                             "hash": f"sha256:{hashlib.sha256(own).hexdigest()}"})
    (place / descriptor.NAME).write_text(json.dumps(raw, ensure_ascii=False, indent=1), encoding="utf-8")
    lots = (place / "data" / "lots.csv").read_text(encoding="utf-8").splitlines()
    own = [f"{line},{extra}" for line, extra in zip(lots, ("seen_by", f"{PERSON} {PLANTS[12]}"), strict=True)]
    (place / "data" / "lots.csv").write_text("\n".join(own) + "\n", encoding="utf-8")
    described = json.loads((place / "schema" / "lots.json").read_text(encoding="utf-8"))
    described["fields"].append({"name": "seen_by", "type": "string", "custom": True, "description": f"As {PERSON} said."})
    (place / "schema" / "lots.json").write_text(json.dumps(described, ensure_ascii=False), encoding="utf-8")
    return adopted(place)


def adopted(place):
    """A package whose table got a column outside, with the change taken over as `palea adopt` does."""
    from palea.tables import saving

    return saving.adopt(open_package(place), STAMP, "A column of ours.", reason="typing")


def members(archive):
    with zipfile.ZipFile(archive) as inside:
        return {name: inside.read(name).decode("utf-8", "replace") for name in inside.namelist()}


@pytest.mark.parametrize("journal", ["", "summary", "none"])
def test_no_secret_is_in_any_byte_of_the_archive(planted, tmp_path, journal):
    found = members(palea.share(planted, tmp_path / "out.zip", journal=journal))
    secrets = [*PLANTS, *(text.casefold() for text in OTHERWISE), PERMIT.casefold(), "kettlegate", "kettle-gate", "kettle_gate",
               "marlowe", "52.12345", "4.98765", "52,12399", "52° 07'", PLACE.casefold(), PERSON.casefold(), ORCID]
    leaks = {s: [n for n, text in found.items() if s in text.casefold() or s in n.casefold()] for s in secrets}
    assert {s: names for s, names in leaks.items() if names} == {}
    assert withheld.MARK in found["data/lots.csv"]
    assert withheld.MARK in found["data/own.csv"]
    assert "52.123" in found["data/movements.csv"], "a mass is no place, however near its number is"
    assert not {n for n in found if n.startswith(("drafts", "mappings", "map"))}
    assert ("journal-summary.md" in found) is (journal != "none")
    assert "site-1,place withheld" in found["data/sites.csv"]
    assert "person-1" in found["data/runs.csv"]
    assert found["files/withheld-1.txt"] == "A pod."
    assert {"seen_by", withheld.MARK} <= set(re.split(r"[,\n ]", found["data/lots.csv"])), "columns of one's own stay"
    assert "3 files that no table and no attachment names stayed at home." in found["README.md"]


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

    hidden = withheld.secrets(both, redacted(both)[0])
    assert PERSON not in hidden.texts
    assert PLACE in hidden.texts


def attaching(package, name, data, media_type):
    """The package with one more file that may be shared."""
    row = {"attachment_id": "F9", "path": f"files/{name}", "media_type": media_type, "shows": "A sheet", "may_share": True,
           "about_table": "lots", "about_id": "CC-0", "sha256": hashlib.sha256(data).hexdigest()}  # fmt: skip
    return save(package.having("attachments", [row]), STAMP, "entry", words="A file.", files={f"files/{name}": data})


def zipped(**files):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return out.getvalue()


@pytest.fixture
def small(tmp_path):
    """One lot of a sensitive species."""
    package = palea.new_package(tmp_path / "p", "Lots", STAMP, licence="CC0-1.0", invented=True)
    package = package.having("taxa", [{"taxon_id": "CC", "scientific_name": "Corynephorus canescens", "place_sensitivity": "high"}])
    lot = {"lot_id": "CC-0", "taxon_id": "CC", "seed_unit": "floret", "latitude": 52.12345, "longitude": 4.98765, "place": PLACE,
           "price": 95.5, "currency": "EUR", "price_basis": "per kg of product", "permit": "none needed, own land"}  # fmt: skip
    return save(package.having("lots", [lot]), STAMP, "entry", words="Typed in.")


def picture(**text):
    from PIL import Image, PngImagePlugin

    out, said = io.BytesIO(), PngImagePlugin.PngInfo()
    for name, value in text.items():
        said.add_text(name, value)
    Image.new("RGB", (4, 4)).save(out, "PNG", pnginfo=said)
    return out.getvalue()


@pytest.mark.parametrize(("name", "data", "media_type"), [
    ("a.txt", f"Dug at {PLACE}".encode(), "text/plain"), ("a.csv", "lat\n52,12345\n".encode("utf-16"), "text/csv"),
    ("a.docx", zipped(**{"word/document.xml": "<w:t>Kettle</w:t><w:t> Gate</w:t>"}), "application/zip"),
    ("b.zip", zipped(**{"inner.zip": zipped(**{"kettle-gate.txt": "x"})}), "application/zip"),
    ("a.png", picture(Comment=f"at {PLACE}"), "image/png"),
])  # fmt: skip
def test_an_attached_file_that_tells_what_is_withheld_stops_the_sharing(small, tmp_path, name, data, media_type):
    with pytest.raises(SharingRefused) as told:
        palea.share(attaching(small, name, data, media_type), tmp_path / "out.zip")
    (found,) = told.value.findings
    assert (found.rule, found.table, found.row, found.value) == ("sharing.file-tells-withheld", "attachments", 2, f"files/{name}")
    assert not (tmp_path / "out.zip").exists()


def test_a_file_that_cannot_be_looked_into_is_named(small, tmp_path):
    found = members(palea.share(attaching(small, "a.pdf", b"%PDF-1.7\n\x00\x01\x02", "application/pdf"), tmp_path / "out.zip"))
    assert "These files could not be looked into; see that they tell nothing withheld: files/a.pdf." in found["README.md"]
    assert "none needed, own land" in found["data/lots.csv"], "why there is no permit is no secret"


def test_a_name_of_ones_own_that_tells_stops_the_sharing(small, tmp_path):
    raw = descriptor.thaw(small.descriptor)
    raw["resources"].append({"name": "kettle-gate", "path": "data/kettle-gate.csv"})
    (small.folder / "data" / "kettle-gate.csv").write_text("a\n1\n", encoding="utf-8")
    (small.folder / descriptor.NAME).write_text(json.dumps(raw), encoding="utf-8")
    with pytest.raises(SharingRefused) as told:
        palea.share(open_package(small.folder), tmp_path / "out.zip")
    assert [f.rule for f in told.value.findings] == ["sharing.name-tells-withheld"]


def test_a_price_stays_here_by_choice_with_the_answers_that_rest_on_it(small, tmp_path):
    kept = {"analysis_id": "lots.price", "recipe": "lots.price", "version": "1", "reads": '{"lots": ["price"]}'}
    package = small.having("analyses", [kept, kept | {"analysis_id": "lots.left", "reads": '{"lots": ["lot_id"]}'}])
    package = save(package, STAMP, "analysis", words="Run.", files={"analyses/lots.price/sentences.md": b"95.5 a kg"})
    assert redact.asked_of(package) == {"lots.permit": 1, "lots.price": 1}
    found = members(palea.share(package, tmp_path / "out.zip", leave_out=["lots.price"]))
    assert not [n for n, text in found.items() if "95.5" in text or n.startswith("analyses/lots.price")]
    assert "lots.left" in found["data/analyses.csv"]
    assert "“Price” was left out by choice (1 cell), and 1 answer that rest on it: lots.price." in found["README.md"]
    with pytest.raises(PackageError, match=r"“lots.notes” cannot be left out. These can: .*costs.amount"):
        palea.share(package, tmp_path / "other.zip", leave_out=["lots.notes"])


@pytest.mark.parametrize("text", OTHERWISE)
def test_a_place_is_known_however_it_is_written(text):
    assert withheld.Secrets((), (52.12345,)).out_of(f"Found at {text} by me") == f"Found at {withheld.MARK} by me"


@pytest.mark.parametrize("text", ["2 N HCl", "20 °C", "a 5 W lamp", "AM 120 seeds", "77.12345", "53.23", "2026-08-01T09:30:00",
                                  "AV-T01-1", "w/w", "1,5"])  # fmt: skip
def test_what_is_no_place_stays(text):
    assert withheld.Secrets((), (52.12345,)).out_of(text) == text


def test_a_copy_without_its_journal_still_says_when_it_was_changed_last(planted, tmp_path):
    first = palea.share(planted, tmp_path / "a.zip", journal="none")
    with zipfile.ZipFile(first) as inside:
        inside.extractall(tmp_path / "copy")
    (tmp_path / "copy" / "manifest-sha256.txt").unlink()  # no longer the copy that was shared
    for archive in (first, palea.share(open_package(tmp_path / "copy"), tmp_path / "b.zip", journal="none")):
        assert "date-released: '2026-09-01'" in members(archive)["CITATION.cff"].replace('"', "'")


@pytest.mark.parametrize(("permit", "stays"), [
    ("No. 4711", False), ("no 12/2024", False), ("Nr 7", False), ("none needed, own land", True), ("No permit is needed", True),
    ("not needed: bought seed", True),
])  # fmt: skip
def test_a_number_is_withheld_and_a_reason_is_not(small, permit, stays):
    fit, said = redact.redacted(small.having("lots", [{"lot_id": "CC-0", "permit": permit}]))
    assert (fit["lots"]["permit"].iloc[0] == permit) is stays
    assert any("Permit numbers were withheld" in sentence for sentence in said) is not stays
