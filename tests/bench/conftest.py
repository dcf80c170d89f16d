"""A small invented trial on disk: eight dishes, two treatments of two batches each, two visits."""

import json
import shutil
from pathlib import Path

import pytest

from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package
from palea.tables.opening import open_package

ROWS = json.loads((Path(__file__).parent / "small.json").read_text(encoding="utf-8"))


STAMP = Stamp("sorrel", "2025-03-12T09:00:00+00:00")


@pytest.fixture
def stamp():
    """Sorrel, on a spring morning."""
    return STAMP


@pytest.fixture(scope="session")
def master(tmp_path_factory):
    """Folder with the empty and the small package, written once; tests get copies."""
    folder = tmp_path_factory.mktemp("master")
    new_package(folder / "empty", "Nothing yet", STAMP)
    new_package(folder / "small", "Small trial (invented)", STAMP, invented=True)
    package = open_package(folder / "small")
    for table, rows in ROWS.items():
        package = package.having(table, rows)
    saving.save(package, STAMP, "entry")
    return folder


@pytest.fixture
def empty(master, tmp_path):
    """An empty package."""
    return open_package(shutil.copytree(master / "empty", tmp_path / "empty"))


@pytest.fixture
def small(master, tmp_path):
    """The small trial as a package."""
    return open_package(shutil.copytree(master / "small", tmp_path / "small"))
