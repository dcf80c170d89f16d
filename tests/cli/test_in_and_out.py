"""`palea take-in`, `sheet`, `labels` and `attach` as a person and as a program meet them."""

import json
import shutil
from pathlib import Path
from types import SimpleNamespace

import openpyxl
import pytest
from PIL import Image
from typer.testing import CliRunner

from palea.cli.__main__ import app
from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package
from palea.tables.opening import open_package

BENCH = Path(__file__).parents[1] / "bench"
WHEN = "2025-03-12T09:00:00+00:00"


@pytest.fixture(scope="module")
def master(tmp_path_factory):
    """Folder of the small trial, written once."""
    folder = tmp_path_factory.mktemp("in-and-out") / "small"
    new_package(folder, "Small trial (invented)", Stamp("sorrel", WHEN), invented=True)
    package = open_package(folder)
    for table, rows in json.loads((BENCH / "small.json").read_text(encoding="utf-8")).items():
        package = package.having(table, rows)
    saving.save(package, Stamp("sorrel", WHEN), "entry")
    return folder


@pytest.fixture
def small(master, tmp_path):
    return shutil.copytree(master, tmp_path / "small")


def palea(*arguments):
    """One call in this process: exit code, standard output, standard error."""
    done = CliRunner().invoke(app, [str(a) for a in arguments])
    return SimpleNamespace(returncode=done.exit_code, stdout=done.stdout, stderr=done.stderr)


def test_a_dry_run_shows_all_and_writes_nothing(small):
    before = {p: p.read_bytes() for p in small.rglob("*") if p.is_file()}
    done = palea("take-in", small, BENCH / "take_in" / "data" / "two_headings.csv", "--by", "sorrel", "--dry-run")
    assert done.returncode == 1, done.stderr  # a cell is not understood
    assert "Day 3 / abn" in done.stdout
    assert "Row 4, column G: “nd” is not a number." in done.stdout
    assert "Would be taken in: 1 in visits, 5 in counts. Nothing was written." in done.stderr
    assert {p: p.read_bytes() for p in small.rglob("*") if p.is_file()} == before


def test_a_sheet_is_written_filled_and_taken_in(small, tmp_path):
    sheet = tmp_path / "G1.xlsx"
    done = palea("sheet", small, "G1", "--visit", "2025-03-12", "--by", "sorrel", "--to", sheet)
    assert done.returncode == 0, done.stderr
    assert "8 units, codes only" in done.stderr
    book = openpyxl.load_workbook(sheet)
    for r in range(10, 18):
        book.active.cell(r, 5).value, book.active.cell(r, 7).value = 1, 0
    book.save(sheet)
    done = palea("take-in", small, sheet, "--who", "sorrel", "--now", WHEN, "--json")
    told = json.loads(done.stdout)
    assert (done.returncode, told["taken_in"], told["rows"]) == (0, True, {"visits": 1, "counts": 16}), done.stderr
    assert told["not_understood"] == []
    assert len(open_package(small)["counts"]) == 32 + 16
    assert open_package(small).journal()[-1]["reason"] == "import"
    again = palea("take-in", small, sheet)
    assert (again.returncode, "no row is new" in again.stderr) == (0, True)


def test_questions_exit_2_and_write_nothing(small, tmp_path):
    done = palea("take-in", small, BENCH / "take_in" / "data" / "rising.csv", "--outcome", "germinated", "--by", "sorrel")
    assert done.returncode == 2
    assert "? The counts never fall" in done.stdout
    assert "answer the questions" in done.stderr
    assert not (small / "mappings").exists()
    mapping = tmp_path / "m.json"
    mapping.write_text('{"outcome": "germinated", "by": "sorrel", "counting": "cumulative"}', encoding="utf-8")
    done = palea("take-in", small, BENCH / "take_in" / "data" / "rising.csv", "--map", mapping, "--name", "our style",
                 "--now", "2025-03-20T09:00:00+00:00")  # fmt: skip
    assert done.returncode == 0, done.stdout
    assert "mappings/our-style.json" in done.stderr
    assert (small / "mappings" / "our-style.json").is_file()


def test_bad_use_is_a_sentence(small, tmp_path):
    for arguments, says in (
        (("take-in", small, tmp_path / "none.csv"), "cannot be read"),
        (("take-in", small, BENCH / "take_in" / "data" / "rising.csv", "--code", "nd"), "write NAME=TEXT"),
        (("take-in", small, BENCH / "take_in" / "data" / "rising.csv", "--dates", "us"), "day first or month first"),
        (("sheet", small, "G9", "--to", tmp_path / "a.html"), "no trial “G9”"),
        (("labels", small, "--for", "lots", "--to", tmp_path / "a.pdf"), ".html"),
        (("attach", small, tmp_path / "none.jpg", "--about", "lots:AV-T01-1", "--shows", "x"), "cannot be read"),
    ):
        done = palea(*arguments)
        assert (done.returncode, says in done.stderr, "Traceback" in done.stderr) == (2, True, False), (arguments, done.stderr)


def test_labels_are_one_page_and_not_overwritten(small, tmp_path):
    page = tmp_path / "labels.html"
    done = palea("labels", small, "--for", "units", "--trial", "G1", "--to", page)
    assert done.returncode == 0, done.stderr
    assert page.read_text(encoding="utf-8").count("<article>") == 8
    assert palea("labels", small, "--for", "units", "--trial", "G1", "--to", page).returncode == 2
    assert palea("labels", small, "--for", "units", "--trial", "G1", "--to", page, "--replace").returncode == 0


def test_a_photograph_is_attached_and_checks(small, tmp_path):
    photo = tmp_path / "Pods (1).png"
    Image.new("RGB", (4, 4), "red").save(photo)
    done = palea("attach", small, photo, "--about", "lots:AV-T01-1", "--shows", "Ten pods", "--scale-bar-mm", 1,
                 "--licence", "CC-BY-4.0", "--may-share", "--who", "sorrel", "--now", WHEN, "--json")  # fmt: skip
    assert done.returncode == 0, done.stderr
    row = json.loads(done.stdout)["attachment"]
    assert (row["path"], row["about_id"], row["media_type"]) == ("files/pods-1.png", "AV-T01-1", "image/png")
    rules = {f["rule"] for f in json.loads(palea("check", small, "--json").stdout)["findings"] if f["table"] == "attachments"}
    assert rules == set()
