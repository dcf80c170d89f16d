"""What several folders of tests share."""

import gc
import os
import shutil
from pathlib import Path

import hypothesis
import pandas as pd
import pytest

from palea import schema
from palea.shipped import folder

# The same examples each time: a test that fails on one machine and one day in ten helps nobody.
hypothesis.settings.register_profile("the same each time", derandomize=True)
hypothesis.settings.load_profile("the same each time")

CHROMIUM = os.environ.get("PALEA_CHROMIUM", "/usr/bin/chromium")
BROWSER_FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]
DTYPES = {
    "string": pd.StringDtype("pyarrow"),
    "integer": pd.Int64Dtype(),
    "number": pd.Float64Dtype(),
    "boolean": pd.BooleanDtype(),
}


def pytest_collection_finish():
    """Ten thousand collected tests live as long as the run; nobody need look through them at each collection of garbage."""
    gc.collect()
    gc.freeze()


class Frames:
    """Typed frames of {table: rows}, without a package on disk; a table without rows is empty."""

    def __init__(self, rows):
        self._rows = rows

    def __getitem__(self, name):
        fields = schema.table(name).fields
        unknown = {c for row in self._rows.get(name, ()) for c in row} - set(fields)
        assert not unknown, f"an example names columns that {name} does not have: {unknown}"
        frame = pd.DataFrame(self._rows.get(name, []), columns=list(fields))
        return frame.astype({n: DTYPES[f.type] for n, f in fields.items()})


@pytest.fixture
def frames():
    """Make typed tables of {table: rows}."""
    return Frames


@pytest.fixture(scope="session")
def journey():
    """The shipped demo package, opened where it lies: for reading only."""
    import palea

    return palea.open_package(folder("datapackages_demo") / "journey")


@pytest.fixture
def journey_copy(tmp_path):
    """A copy of the shipped demo package that a test may change: its folder."""
    return shutil.copytree(folder("datapackages_demo") / "journey", tmp_path / "journey")


@pytest.fixture(scope="session")
def chromium():
    """Path of the browser. Without one the tests that need it cannot run: that fails in CI, and is said elsewhere."""
    if not Path(CHROMIUM).exists():
        reason = f"There is no browser at {CHROMIUM}; install chromium, or set PALEA_CHROMIUM to one."
        pytest.fail(reason) if os.environ.get("CI") else pytest.skip(reason)
    return CHROMIUM


@pytest.fixture(scope="session")
def browser(chromium):
    """A headless Chromium, once a session: a second one in the same process would be refused."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=chromium, args=BROWSER_FLAGS)
        yield opened
        opened.close()
