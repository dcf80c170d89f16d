"""A hash over some columns of some tables, by which a result knows whether its data are still the same."""

import hashlib

from palea.tables import writing


def of(columns):
    """{table name: (Table, frame, column names)} -> "sha256:...".

    Rows are taken in the order of their primary key and columns in that of the schema, so neither counts. An unknown
    column raises SchemaError.

    Source: our own convention: the CSV text of each table, sorted, each under its name, hashed with SHA-256 (FIPS
    180-4).
    """
    total = hashlib.sha256()
    for name in sorted(columns):
        table, frame, wanted = columns[name]
        asked = {table[column].name for column in wanted}
        ordered = frame.sort_values(list(table.primary_key), kind="stable", na_position="last")
        total.update(f"{name}\n".encode())
        total.update(writing.csv_bytes(writing.texts_of(ordered[[c for c in table.fields if c in asked]])))
    return f"sha256:{total.hexdigest()}"
