"""A small package with what an export can get wrong: sensitive places, silent people, texts like formulas, split plots."""

import importlib.util
import json
from pathlib import Path

import pytest

import palea
from palea.analyses import keep
from palea.tables import descriptor
from palea.tables.opening import open_package
from palea.tables.saving import save

STAMP = palea.Stamp("A. Fennel", "2026-09-01T09:00:00+00:00")
SECRETS = ("Kettle Gate", "Far Rock", "Quinta Marlowe", "52.12345", "4.98765", "57.65432", "HSW-99")
FORMULAS = ("=1+1", "+44 20", "-2 at most", "@home", "\tindented", "＝2", "#N/A")
ROWS = json.loads(Path(__file__).with_name("small.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="session")
def small_folder(tmp_path_factory):
    """The folder of the package, with one answer kept and a table of its own."""
    place = tmp_path_factory.mktemp("exports") / "small"
    package = palea.new_package(place, 'Small "trial" (invented)', STAMP, licence="CC0-1.0", invented=True)
    for table, rows in ROWS.items():
        package = package.having(table, rows)
    texts = [{"equipment_id": f"e{n}", "kind": "hand tool", "notes": text} for n, text in enumerate(FORMULAS)]
    package = package.having("equipment", texts).describing(keywords=["seed", "seed", "Anthyllis vulneraria"], version="1.0.0")
    save(package, STAMP, "entry", words="Typed.")
    raw = descriptor.thaw(open_package(place).descriptor)
    raw["resources"].append({"name": "own", "path": "data/own.csv"})
    (place / descriptor.NAME).write_bytes(descriptor.text(raw))
    (place / "data" / "own.csv").write_text("a,b\n1,=2+2\n2,\n", encoding="utf-8")
    package = open_package(place)
    keep.keep(package, [palea.run("emergence.final", package, trial="F")], STAMP)
    return place


@pytest.fixture(scope="session")
def small(small_folder):
    return open_package(small_folder)


@pytest.fixture(scope="session")
def small_archive(small, tmp_path_factory):
    """The package shared once."""
    return palea.share(small, tmp_path_factory.mktemp("shared") / "small.zip")


@pytest.fixture(scope="session")
def open_copy(small_archive):
    """The package as a colleague opens it."""
    return open_package(small_archive)


@pytest.fixture(scope="session")
def secrets():
    """What nobody outside may read."""
    return SECRETS


@pytest.fixture(scope="session")
def formulas():
    """Texts that a program may compute; they are notes of hand tools, in this order."""
    return FORMULAS


@pytest.fixture(scope="session")
def stamp():
    return STAMP


_spec = importlib.util.spec_from_file_location("kept_trial", Path(__file__).with_name("kept_trial.py"))
_trial = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_trial)
archive, copy, kept, no_way_out = _trial.archive, _trial.copy, _trial.kept, _trial.no_way_out  # a trial as strangers meet it
