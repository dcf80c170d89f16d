"""Every notebook runs from a clean kernel, on the demo and on a new, empty package, without a cell or a handler failing."""

import os
import shutil
import subprocess
import sys

import nbformat
import pytest
from nbclient import NotebookClient

from palea.shipped import folder
from palea.stamp import Stamp
from palea.tables.beginning import new_package

NOTEBOOKS = sorted(folder("notebooks").glob("*.ipynb"))
each = pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)


def run(path, place):
    notebook = nbformat.read(path, as_version=4)
    NotebookClient(notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": str(place)}}).execute()
    outputs = [o for cell in notebook.cells for o in cell.get("outputs", [])]
    # A handler that fails does not stop the run; it leaves an output of type error.
    assert not [o for o in outputs if o.output_type == "error"]
    return outputs


@each
def test_it_runs_on_a_new_empty_package(path, tmp_path):
    new_package(tmp_path / "palea-demo", "My own seed", Stamp("A. Fennel", "2026-09-01T09:00:00+00:00"))
    run(path, tmp_path)


@pytest.mark.slow
def test_nbval_finds_every_cell_passing_on_the_demo(tmp_path):
    for path in NOTEBOOKS:
        shutil.copy(path, tmp_path)
    command = [
        sys.executable,
        "-m",
        "pytest",
        "--nbval-lax",
        "-q",
        "-p",
        "no:cacheprovider",
        "--rootdir",
        str(tmp_path),
        str(tmp_path),
    ]
    done = subprocess.run(
        command, cwd=tmp_path, capture_output=True, text=True, check=False, env=os.environ | {"PYTEST_ADDOPTS": ""}
    )
    assert done.returncode == 0, done.stdout[-3000:]
    assert " passed" in done.stdout
    assert (tmp_path / "palea-demo" / "datapackage.json").is_file(), "the demo is copied, never changed where it is shipped"


@each
def test_it_says_first_what_it_is_for_and_what_to_have_at_hand(path):
    first = nbformat.read(path, as_version=4).cells[0]
    assert first.cell_type == "markdown"
    assert first.source.startswith("# ")
    for part in ("Have at hand", "Hazards"):
        assert f"**{part}**" in first.source
