"""Whole columns against their limits. Outside: pandera 0.35 finds the same cells in the same frames."""

import numpy as np
import pandas as pd
import pandera.errors
import pytest

from palea import schema
from palea.tables import constraints, frames, reading
from palea.tables.editing import having

RULES = {"not_nullable": "value.required", "multiple_fields_uniqueness": "key.duplicate"}
COUNTS, TAXA = schema.table("counts"), schema.table("taxa")


def by_pandera(sheet, links):
    """{(rule, column): positions} as pandera's report has them, in our words."""
    try:
        frames.pandera_schema(sheet.table, links).validate(sheet.frame, lazy=True)
    except pandera.errors.SchemaErrors as errors:
        report = errors.failure_cases.dropna(subset=["index"])
    else:
        return {}
    report = report.assign(check=report["check"].astype(str).replace(RULES), index=report["index"].astype(int))
    report.loc[report["check"].eq("key.duplicate"), "column"] = sheet.table.primary_key[-1]
    return {key: sorted(set(rows)) for key, rows in report.groupby(["check", "column"])["index"]}


def by_us(sheet, links):
    found = {("key.duplicate", sheet.table.primary_key[-1]): constraints.repeated(sheet, sheet.table.primary_key)}
    for name, of in sheet.table.fields.items():
        found["value.range", name] = constraints.beyond(sheet, of)
        if of.required or name in sheet.table.primary_key:
            found["value.required", name] = constraints.blank(sheet, name)
    found |= {("link.broken", n): constraints.unknown(sheet, n, pd.Series(ids, dtype=object)) for n, ids in links.items()}
    return {key: at.tolist() for key, at in found.items() if len(at)}


def spoilt(chance, rows=300):
    """A file of counts whose cells are drawn from few texts, so that all faults come up."""
    pick = {
        "visit_id": ["V1", "V2", "V3", ""], "unit_id": [f"U{n}" for n in range(40)], "outcome": ["normal", "dead"],
        "taxon_id": ["AV", "CC"], "observer": ["sorrel", "thrift", ""], "count": ["0", "7", "-1", ""],
        "out_of": ["25", "-3", ""],
    }
    lines = [",".join(chance.choice(pick.get(name, [""])) for name in COUNTS.fields) for _ in range(rows)]
    return "\n".join([",".join(COUNTS.fields), *lines, ""]).encode()


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("edited", [False, True])
def test_pandera_finds_the_same(seed, edited):
    sheet = reading.read(spoilt(np.random.default_rng(seed)), COUNTS)
    assert bool(sheet.codes)
    if edited:  # then there are no codes, and texts are compared
        sheet = having(sheet, [{"visit_id": "V9", "unit_id": "U1", "outcome": "normal", "taxon_id": "AV", "observer": "x"}])
        assert not sheet.codes
    links = {"visit_id": ["V1", "V2"], "unit_id": [f"U{n}" for n in range(30)], "observer": ["sorrel", "thrift"]}
    ours, theirs = by_us(sheet, links), by_pandera(sheet, links)
    whole = sheet.frame[list(COUNTS.primary_key)].notna().all(axis=1)
    theirs = {  # to pandera a blank in a key is a value like any other; we tell it as a blank only
        key: [p for p in rows if key[0] != "key.duplicate" or whole[p]] for key, rows in theirs.items()
    }
    assert {rule for rule, _ in ours} == {"value.required", "value.range", "key.duplicate", "link.broken"}
    assert ours == {key: rows for key, rows in theirs.items() if rows}


def test_the_first_row_of_a_repeated_key_is_named():
    rows = ["AV", "CC", "AV", "AM", "CC", "AV"]
    lines = [",".join([name, *[""] * (len(TAXA.fields) - 1)]) for name in rows]
    sheet = reading.read("\n".join([",".join(TAXA.fields), *lines, ""]).encode(), TAXA)
    again = constraints.repeated(sheet, TAXA.primary_key)
    assert again.tolist() == [2, 4, 5]
    assert constraints.first_of_key(sheet, TAXA.primary_key, again.tolist()) == [0, 1, 0]


def test_a_key_of_too_many_distinct_texts_for_one_number_is_still_checked(monkeypatch):
    sheet = reading.read(spoilt(np.random.default_rng(1)), COUNTS)
    monkeypatch.setattr(constraints, "_LARGEST", 10)
    assert constraints._packed(sheet, COUNTS.primary_key)[0] is None
    slow = constraints.repeated(sheet, COUNTS.primary_key)
    first = constraints.first_of_key(sheet, COUNTS.primary_key, slow.tolist())
    monkeypatch.undo()
    assert constraints.repeated(sheet, COUNTS.primary_key).tolist() == slow.tolist()
    assert constraints.first_of_key(sheet, COUNTS.primary_key, slow.tolist()) == first
