"""A chart that is quick to join with others and quick to write down; what comes out is what altair itself would give.

altair copies all parts in depth at every joining, and again when it writes, since parts that people can click need names
of their own; and it looks at every frame for all that a frame can hold. Our figures have no such parts and plain columns.
"""

import altair as alt
import numpy as np
import pandas as pd
from altair.utils.schemapi import debug_mode

WAY = "palea"  # the name of our way from a frame to a chart's values, in altair's list of such ways
PLAIN = "fib"  # kinds of numpy that are numbers or truth


class Chart(alt.Chart):
    """Marks of one frame. A copy in depth shares the encoding, which nobody changes once a chart is joined."""

    def __deepcopy__(self, memo):
        """A chart of its own with the same parts."""
        return self.copy(deep=False)


def spec_of(chart):
    """The chart as plain data, not held against the schema of its grammar once more: the tests do that for every family."""
    with alt.data_transformers.enable(WAY), debug_mode(arg=False):
        return chart.to_dict(validate=False)


def values_of(frame):
    """Rows of a frame as a chart holds them: {"values": [{column: value}]}; what is no finite number is None.

    Example:
        >>> values_of(pd.DataFrame({"x": [1.5, float("nan")], "name": ["a", None]}))
        {'values': [{'x': 1.5, 'name': 'a'}, {'x': None, 'name': None}]}
    """
    if not isinstance(frame, pd.DataFrame):
        return alt.to_values(frame)
    names = list(frame.columns)
    return {"values": [dict(zip(names, row, strict=True)) for row in zip(*map(_cells, map(frame.get, names)), strict=True)]}


def _cells(column):
    kind = getattr(column.dtype, "kind", "O")
    if isinstance(column.dtype, np.dtype) and kind in PLAIN:
        cells = column.tolist()
        return cells if kind != "f" else [x if np.isfinite(x) else None for x in cells]
    if kind in "mMc" or isinstance(column.dtype, pd.CategoricalDtype):
        return [row[column.name] for row in alt.to_values(column.to_frame())["values"]]
    cells = column.to_numpy(object, copy=True)
    cells[column.isna().to_numpy()] = None
    return cells.tolist()


alt.data_transformers.register(WAY, values_of)
