"""Rows that can be meant by a table and an id: what costs, attachments and analyses are about."""

import pandas as pd

from palea import schema
from palea.derived.view import view


def _keys():
    """{table: its key} of the tables that a row can be about."""
    return {name: schema.table(name).primary_key[0] for name in schema.words("about")}


@view(**_keys())
def known_ids(**tables):
    """One row a row that can be meant: table, id."""
    found = [pd.DataFrame({"table": name, "id": frame.iloc[:, 0].dropna().unique()}) for name, frame in tables.items()]
    return pd.concat(found, ignore_index=True)


def of_nothing(rows, known_ids):
    """Those of the rows (costs, attachments) that are about something which is not there."""
    there = set(zip(known_ids["table"], known_ids["id"], strict=True))
    told = rows.dropna(subset=["about_table", "about_id"])
    return told[[pair not in there for pair in zip(told["about_table"], told["about_id"], strict=True)]]
