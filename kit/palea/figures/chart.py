"""Charts that are quick to join with others and quick to write down; what comes out is what altair itself gives.

altair copies all parts in depth at every joining, and again when it writes, since parts that people can click need names
of their own; and it looks at every frame for all that a frame can hold. Our figures have no such parts and plain columns,
so a copy here is of the one part that is about to change, and shares what lies below it.
"""

import altair as alt
import numpy as np
import pandas as pd
from altair.utils.schemapi import debug_mode

WAY = "palea"  # the name of our way from a frame to a chart's values, in altair's list of such ways
PLAIN = "fib"  # kinds of numpy that are numbers or truth


class _Shared:
    """What makes altair's charts share their parts when they are copied: nobody changes a part once it is joined."""

    def copy(self, deep=True, ignore=None):
        """A chart of its own with the same parts."""
        if deep not in (True, False):
            return super().copy(deep, ignore)
        twin = object.__new__(type(self))
        for name, mine in (("_args", self._args), ("_kwds", dict(self._kwds))):
            object.__setattr__(twin, name, mine)
        return twin

    def __deepcopy__(self, memo):
        return self.copy()


class Chart(_Shared, alt.Chart):
    """Marks of one frame, or of {column: cells}."""

    def __init__(self, data=alt.Undefined, *arguments, **more):
        data = alt.InlineData(values=_rows(data, data.values())) if isinstance(data, dict) else data
        super().__init__(data, *arguments, **more)


class _Layer(_Shared, alt.LayerChart):
    """Charts in one panel."""


class _HConcat(_Shared, alt.HConcatChart):
    """Charts from left to right."""


class _VConcat(_Shared, alt.VConcatChart):
    """Charts from top to bottom."""


class _Concat(_Shared, alt.ConcatChart):
    """Charts in lines of so many."""


def layer(*charts, **more):
    """Charts in one panel, as altair.layer."""
    return _Layer(layer=charts, **more)


def hconcat(*charts, **more):
    """Charts from left to right, as altair.hconcat."""
    return _HConcat(hconcat=charts, **more)


def vconcat(*charts, **more):
    """Charts from top to bottom, as altair.vconcat."""
    return _VConcat(vconcat=charts, **more)


def concat(*charts, **more):
    """Charts in lines of `columns`, as altair.concat."""
    return _Concat(concat=charts, **more)


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
    return {"values": _rows(frame, map(_cells, map(frame.get, frame)))}


def _rows(names, columns):
    return [dict(zip(names, row, strict=True)) for row in zip(*columns, strict=True)]


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
