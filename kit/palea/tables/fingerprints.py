"""A hash over some columns of some tables, by which a result knows whether its data are still the same."""

import hashlib
from functools import cached_property

from palea.tables import writing


def of(columns, known=None):
    """{table name: (Table, frame, column names)} -> "sha256:...".

    Rows are taken in the order of their primary key and columns in that of the schema, so neither counts. An unknown
    column raises SchemaError.
    known : {table name: Cells} of the same frames, filled as they are needed; for who hashes one set of tables often.

    Source: our own convention: the CSV text of each table, sorted, each under its name, hashed with SHA-256 (FIPS
    180-4).
    """
    known, total = {} if known is None else known, hashlib.sha256()
    for name in sorted(columns):
        table, frame, wanted = columns[name]
        asked = {table[column].name for column in wanted}
        if name not in known:
            known[name] = Cells(table, frame)
        total.update(f"{name}\n".encode())
        total.update(writing.csv_of({c: known[name][c] for c in table.fields if c in asked}))
    return f"sha256:{total.hexdigest()}"


class Cells:
    """The cells of a table as a CSV file holds them, in the order of its primary key; a column is written when asked for."""

    def __init__(self, table, frame):
        self._table, self._frame, self._written = table, frame, {}

    def __getitem__(self, column):
        """Its cells, a pyarrow array of text."""
        if column not in self._written:
            self._written[column] = writing.cells_of(self._frame[column].take(self._order))
        return self._written[column]

    @cached_property
    def _order(self):
        key = self._frame[list(self._table.primary_key)].reset_index(drop=True)
        return key.sort_values(list(key.columns), kind="stable", na_position="last").index.to_numpy()
