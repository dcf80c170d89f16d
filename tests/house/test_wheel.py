"""The wheel alone carries schema, notebooks and demo packages, and the demo runs from it in an empty folder."""

import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    target = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(target), str(ROOT)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-3000:]
    return next(target.glob("*.whl"))


@pytest.mark.slow
def test_the_wheel_carries_what_it_needs(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    for wanted in (
        "schema/tables/counts.json",
        "notebooks/07_germination.ipynb",
        "datapackages_demo/journey/datapackage.json",
    ):
        assert f"palea/shipped_files/{wanted}" in names
    assert "palea/panels/grid.js" in names


@pytest.mark.slow
def test_the_demo_runs_from_the_wheel_without_the_checkout(wheel, tmp_path):
    """The wheel is unpacked beside the libraries that are installed already, and found before the checkout."""
    site = tmp_path / "site"
    zipfile.ZipFile(wheel).extractall(site)
    empty = tmp_path / "empty"
    empty.mkdir()
    script = (
        "import sys; sys.path.insert(0, sys.argv[1]); import palea; assert palea.__file__.startswith(sys.argv[1]), palea.__file__;"
        "from palea.cli.__main__ import main; sys.argv = ['palea', 'demo', '--quick', '--no-open']; main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, str(site)], cwd=empty, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert (empty / "palea-demo" / "methods.html").stat().st_size > 10_000
    assert "0 differs" in done.stdout
