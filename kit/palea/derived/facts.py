"""Tables and views of one package, each made once."""

import numpy as np
import pandas as pd

from palea.derived.view import View


class Facts:
    """What a package says and implies, asked for by table name or by view.

    tables : anything that gives a typed frame by table name (a Package).
    """

    def __init__(self, tables, kept=None):
        self._tables = tables
        self._made = dict(kept or {})
        self._plain = {}

    def __getitem__(self, asked):
        """A frame: a whole table by name, or a view. Its index numbers the rows of the table it was made from."""
        if isinstance(asked, View):
            if asked not in self._made:
                self._made[asked] = self._make(asked)
            return self._made[asked]
        if asked not in self._plain:
            self._plain[asked] = plain(self._tables[asked])
        return self._plain[asked].copy(deep=False)  # one who puts a column in puts it into a frame of his own

    @property
    def tables(self):
        """What the facts were made of."""
        return self._tables

    def is_empty(self, table):
        """Whether a table has no rows; asked often, so the frame is not laid out for it."""
        return not len(self._tables[table])

    def having(self, tables, changed):
        """Facts of `tables`, in which only the tables named in `changed` differ: other views are kept."""
        untouched = {v: frame for v, frame in self._made.items() if not set(v.reads) & set(changed)}
        return Facts(tables, untouched)

    def _make(self, wanted):
        frames = {name: self[name][list(columns)] for name, columns in wanted.columns.items()}
        return wanted.function(**frames, **{v.name: self[v] for v in wanted.views})


def plain(frame):
    """Nullable numbers as float64 with nan, text and truth as they are; the frame handed in is left alone."""
    numeric = {c: np.float64 for c in frame.columns if isinstance(frame[c].dtype, pd.Int64Dtype | pd.Float64Dtype)}
    return frame.assign(**{c: frame[c].to_numpy(np.float64, na_value=np.nan) for c in numeric})
