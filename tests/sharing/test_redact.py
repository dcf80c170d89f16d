"""What leaves the house: places on a grid by sensitivity, names by consent, nothing exact left behind."""

import zipfile

import pandas as pd
import pytest

import palea
from palea.errors import PackageError, SharingRefused
from palea.sharing.redact import WITHHELD_NAME, redacted
from palea.tables.saving import save

STAMP = palea.Stamp("A. Fennel", "2026-09-01T09:00:00+00:00")


@pytest.fixture
def package(tmp_path):
    """Two lots, of a species whose place is sensitive and of one whose place is not; one person without consent."""
    package = palea.new_package(tmp_path / "p", "Two lots (invented)", STAMP, licence="CC0-1.0", invented=True)
    rows = {
        "people": [
            {"person_id": "P1", "kind": "person", "name": "A. Fennel", "consent_to_publish": True},
            {"person_id": "P2", "kind": "person", "name": "B. Thrift", "consent_to_publish": False},
        ],
        "taxa": [
            {"taxon_id": "CC", "scientific_name": "Corynephorus canescens", "place_sensitivity": "high"},
            {"taxon_id": "AM", "scientific_name": "Armeria maritima", "place_sensitivity": "none"},
        ],
        "lots": [
            {
                "lot_id": f"{t}-0",
                "taxon_id": t,
                "seed_unit": "floret",
                "latitude": 52.12345,
                "longitude": 4.98765,
                "coordinate_uncertainty_m": 10,
                "place": "Hollow Sands, east face",
            }
            for t in ("CC", "AM")
        ],
    }
    for table, those in rows.items():
        package = package.having(table, those)
    return save(package, STAMP, "entry", words="Typed in.")


def test_a_sensitive_place_lands_on_its_grid_and_says_how_coarse_it_is(package):
    """A cell of 0.1 degree (GBIF guide, Chapman 2020: category high): its centre, and half its diagonal, 6.5 km here."""
    fit, said = redacted(package)
    lots = fit["lots"].set_index("lot_id")
    assert lots.loc["CC-0", ["latitude", "longitude"]].tolist() == [52.15, 4.95]
    assert 6000 < lots.loc["CC-0", "coordinate_uncertainty_m"] < 7000
    assert pd.isna(lots.loc["CC-0", "place"])
    assert lots.loc["AM-0", ["latitude", "longitude"]].tolist() == [52.12345, 4.98765]
    assert "CC-0" in said[0]
    assert "AM-0" not in said[0]


def test_the_same_place_always_lands_on_the_same_cell(package):
    once = redacted(package)[0]
    assert redacted(once)[0]["lots"].equals(once["lots"])


def test_a_name_without_consent_is_withheld(package):
    people = redacted(package)[0]["people"].set_index("person_id")["name"]
    assert people.to_dict() == {"P1": "A. Fennel", "P2": WITHHELD_NAME}


def test_nothing_exact_is_left_anywhere_in_the_archive(package, tmp_path):
    """Not even in the journal, where a correction had kept the exact place as the old value."""
    corrected = save(
        package.having("lots", [{"lot_id": "CC-0", "latitude": 52.12346}]), STAMP, "misread", words="Misread."
    )
    archive = palea.share(corrected, tmp_path / "out.zip")
    with zipfile.ZipFile(archive) as inside:
        rows = [line for line in inside.read("data/lots.csv").decode().splitlines() if line.startswith("CC-0")]
        everything = b"".join(inside.read(name) for name in inside.namelist() if name != "data/lots.csv").decode()
    assert "52.123" not in rows[0]
    assert "east face" not in rows[0]
    assert "52.12345,4" not in everything
    assert "52.12346" not in everything
    assert "B. Thrift" not in everything
    assert not [f for f in palea.check(palea.open_package(archive)) if f.severity == "error"]


def test_without_a_licence_nothing_is_written(tmp_path):
    bare = palea.new_package(tmp_path / "bare", "No licence", STAMP)
    with pytest.raises(SharingRefused) as told:
        palea.share(bare, tmp_path / "out.zip")
    assert [f.rule for f in told.value.findings] == ["sharing.no-licence"]
    assert not (tmp_path / "out.zip").exists()


def test_an_archive_is_not_overwritten_by_chance(package, tmp_path):
    palea.share(package, tmp_path / "out.zip")
    before = (tmp_path / "out.zip").read_bytes()
    with pytest.raises(PackageError, match="Say --replace"):
        palea.share(package, tmp_path / "out.zip")
    palea.share(package, tmp_path / "out.zip", replace=True)
    assert (tmp_path / "out.zip").read_bytes() == before
