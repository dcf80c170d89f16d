"""`palea export` as a person and as a program meet it."""

import csv
import json
import shutil
from pathlib import Path
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from palea.cli.__main__ import app
from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package
from palea.tables.opening import open_package

BENCH = Path(__file__).parents[1] / "bench"
BY = Stamp("sorrel", "2025-03-12T09:00:00+00:00")


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    folder = tmp_path_factory.mktemp("export") / "small"
    new_package(folder, "Small trial (invented)", BY, licence="CC0-1.0", invented=True)
    package = open_package(folder)
    for table, rows in json.loads((BENCH / "small.json").read_text(encoding="utf-8")).items():
        package = package.having(table, rows)
    saving.save(package, BY, "entry")
    return folder


def palea(*arguments):
    """One call in this process: exit code, standard output, standard error."""
    done = CliRunner().invoke(app, [str(a) for a in arguments])
    return SimpleNamespace(returncode=done.exit_code, stdout=done.stdout, stderr=done.stderr)


def test_a_form_is_written_and_what_is_missing_is_said(small, tmp_path):
    done = palea("export", small, "--as", "mcpd", "--to", tmp_path / "p.csv")
    assert (done.returncode, done.stdout) == (0, ""), done.stderr
    assert "INSTCODE and COLLNUMB are blank" in done.stderr
    assert done.stderr.rstrip().endswith(f"Written: {tmp_path / 'p.csv'}.")
    with (tmp_path / "p.csv").open(encoding="utf-8") as source:
        assert [r["ACCENUMB"] for r in csv.DictReader(source)] == ["AV-T01-1", "AV-T01-2", "AV-T03-1", "AV-T03-2"]
    again = palea("export", small, "--as", "mcpd", "--to", tmp_path / "p.csv")
    assert (again.returncode, "is there already" in again.stderr) == (2, True)


def test_errors_against_sharing_are_listed_and_exit_1(small, tmp_path):
    folder = shutil.copytree(small, tmp_path / "silent")
    saving.save(open_package(folder).describing(licenses=None), BY, "entry")
    done = palea("export", folder, "--as", "workbook", "--to", tmp_path / "w.xlsx")
    assert done.returncode == 1
    assert "stand against sharing; nothing was written." in done.stdout
    assert not (tmp_path / "w.xlsx").exists()


def test_bad_use_is_a_sentence(small, tmp_path):
    for arguments, says in (
        (("--as", "dwc", "--to", tmp_path / "a.zip"), "There is no form “dwc”. Choose one of: miappe, "),
        (("--as", "workbook", "--to", tmp_path / "a.ods"), "The form workbook is written as .xlsx."),
    ):
        done = palea("export", small, *arguments)
        assert (done.returncode, says in done.stderr, "Traceback" in done.stderr) == (2, True, False), done.stderr
