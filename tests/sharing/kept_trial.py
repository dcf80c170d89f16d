"""A small invented trial with kept answers, a table and a column of its own: as a folder and as it was shared."""

import json
import shutil
import socket
import subprocess
from pathlib import Path

import pytest

import palea
from palea.analyses.run import run
from palea.tables import saving
from palea.tables.opening import open_package

ROWS = json.loads((Path(__file__).parents[1] / "bench" / "small.json").read_text(encoding="utf-8"))
STAMP = palea.Stamp("sorrel", "2025-04-12T09:00:00+00:00")
ASKED = (("germination.final", {}), ("germination.final", {"denominator": "sown units"}), ("germination.uniformity", {}),
         ("germination.indices", {}))  # fmt: skip


def _with_own_parts(folder):
    """A column of its own in lots and a table of its own, each described as the standard asks."""
    path = folder / "schema/lots.json"
    described = json.loads(path.read_text(encoding="utf-8"))
    described["fields"].append({"name": "shelf", "type": "integer", "constraints": {"minimum": 1}})
    path.write_text(json.dumps(described), encoding="utf-8")
    lots = folder / "data/lots.csv"
    head, *rows = lots.read_text(encoding="utf-8").splitlines()
    lots.write_text("\n".join([f"{head},shelf", *(f"{row},{n}" for n, row in enumerate(rows, 1))]) + "\n", encoding="utf-8")
    (folder / "data/weather.csv").write_text("day;rain\n2025-03-01;1,50\n2025-03-02;=0,25\n", encoding="utf-8")
    raw = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    raw["resources"].append({
        "name": "weather", "type": "table", "path": "data/weather.csv", "format": "csv", "encoding": "utf-8",
        "dialect": {"delimiter": ";"}, "schema": {"fields": [{"name": "day", "type": "date"}, {"name": "rain", "type": "string"}]},
    })  # fmt: skip
    (folder / "datapackage.json").write_text(json.dumps(raw), encoding="utf-8")


@pytest.fixture(scope="session")
def kept(tmp_path_factory):
    """The folder of the package: for reading only."""
    folder = tmp_path_factory.mktemp("sharing") / "small"
    package = palea.new_package(folder, "Small trial (invented)", STAMP, licence="CC0-1.0", invented=True)
    for table, rows in ROWS.items():
        package = package.having(table, rows)
    package = saving.save(package, STAMP, "entry", words="Typed in.")
    _with_own_parts(folder)
    package = saving.adopt(open_package(folder), STAMP, "Shelf and weather were added by hand.")
    palea.keep(package, [run(recipe, package, **options) for recipe, options in ASKED], STAMP, figures=False)
    return folder


@pytest.fixture(scope="session")
def archive(kept):
    """The same as `palea share` wrote it: for reading only."""
    return palea.share(open_package(kept), kept.with_name("small.zip"))


@pytest.fixture
def copy(kept, tmp_path):
    """The folder once more, to be changed."""
    return shutil.copytree(kept, tmp_path / "copy")


@pytest.fixture
def no_way_out(monkeypatch):
    """No network and no other program: whoever tries fails the test."""

    def refused(*arguments, **_):
        msg = f"something tried to get out: {arguments[:2]}"
        raise AssertionError(msg)

    for name in ("socket", "create_connection", "getaddrinfo"):
        monkeypatch.setattr(socket, name, refused)
    monkeypatch.setattr(subprocess, "Popen", refused)
    monkeypatch.setattr("os.system", refused)
