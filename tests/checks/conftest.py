"""Examples of rules as typed tables, without a package on disk."""

import pandas as pd
import pytest

from palea import schema

DTYPES = {"string": pd.StringDtype("pyarrow"), "integer": pd.Int64Dtype(), "number": pd.Float64Dtype(), "boolean": pd.BooleanDtype()}


class Frames:
    """Typed frames of {table: rows}; a table without rows is empty."""

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
    return Frames
