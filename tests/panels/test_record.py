"""The record panel: what is missing is told, the record is written, and sharing says what was withheld."""

import csv
import zipfile

import pytest

import palea
from palea.panels.record import record
from palea.tables.saving import save


@pytest.fixture
def panel(small, stamp):
    """The panel of the small package, with a licence and a price."""
    lot = {"lot_id": small["lots"]["lot_id"].iloc[0], "price": 95.5, "currency": "EUR", "price_basis": "per kg of product"}
    package = small.having("lots", [lot]).describing(licenses=[{"name": "CC0-1.0"}])
    return record(save(package, stamp, "entry", words="A price."), "A. Fennel")


def test_a_check_is_told_with_the_checklist_by_stage(panel, click):
    click(panel.check_button)
    assert "gap" in panel.status.value
    assert "Essential and recommended items are counted apart." in panel.checklist.value
    assert "<td>essential</td>" in panel.checklist.value


def test_the_record_is_written_beside_the_package(panel, click):
    panel.format_box.value = ".md"
    click(panel.write_button)
    written = panel.package.folder.with_name(f"{panel.package.folder.name}-methods.md")
    assert written.read_text(encoding="utf-8").startswith("# ")
    assert str(written) in panel.status.value


def test_sharing_keeps_a_ticked_column_here_says_so_and_overwrites_nothing(panel, click):
    panel.to_box.value = "out.zip"
    panel.stay_boxes["lots.price"].value = True
    click(panel.share_button)
    archive = panel.package.folder.with_name("out.zip")
    with zipfile.ZipFile(archive) as inside:
        rows = list(csv.DictReader(inside.read("data/lots.csv").decode().splitlines()))
    assert {row["price"] for row in rows} == {""}
    assert "was left out by choice (1 cell)" in panel.checklist.value
    assert palea.rerun(archive).manifest == "ok"
    before = archive.read_bytes()
    click(panel.share_button)
    assert "out.zip is there already. Give the archive another name." in panel.status.value
    assert archive.read_bytes() == before


def test_what_stands_against_sharing_is_told_and_nothing_is_written(small, click):
    shown = record(small.describing(licenses=None), "A. Fennel")
    (small.folder / "datapackage.json").write_text(
        (small.folder / "datapackage.json").read_text(encoding="utf-8").replace('"licenses"', '"no_licenses"'), encoding="utf-8"
    )
    click(shown.share_button)
    assert "stand against sharing; nothing was written" in shown.status.value
    assert not small.folder.with_name(f"{small.folder.name}.zip").exists()
