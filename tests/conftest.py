"""What several folders of tests share."""

import shutil

import hypothesis
import pandas as pd
import pytest

from palea import schema
from palea.shipped import folder

# The same examples each time: a test that fails on one machine and one day in ten helps nobody.
hypothesis.settings.register_profile("the same each time", derandomize=True)
hypothesis.settings.load_profile("the same each time")

DTYPES = {
    "string": pd.StringDtype("pyarrow"),
    "integer": pd.Int64Dtype(),
    "number": pd.Float64Dtype(),
    "boolean": pd.BooleanDtype(),
}


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
