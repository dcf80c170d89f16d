"""Packages of any size for the benchmarks: one laboratory trial, all of it made up."""

import csv
import hashlib
import io
import json
from pathlib import Path

import numpy as np
import pyarrow as pa
from pyarrow import csv as arrow_csv

VISITS, SOWN = 10, 25
WAITED = ("hard", "fresh", "dead", "empty")  # what is entered at the last visit beside the two of every visit
A_DISH = 2 * VISITS + len(WAITED)  # rows of counts
WHO, WHEN = "thrift", "2024-04-01T09:00:00+00:00"


def trial(folder, rows, wrong=0.0):
    """A package with `rows` rows of counts (rounded to whole dishes) in `folder` -> {rule: faults planted}.

    wrong : share of the rows of counts with a fault, in five ways in equal parts.
    """
    from palea.stamp import Stamp
    from palea.tables.beginning import new_package

    dishes = max(2, round(rows / A_DISH))
    new_package(folder, "A trial of the benchmarks (invented)", Stamp(WHO, WHEN), licence="CC0-1.0", invented=True)
    write(folder, "people", {"person_id": [WHO], "kind": ["person"], "name": ["B. Thrift (invented)"]})
    write(folder, "taxa", {"taxon_id": ["AV"], "scientific_name": ["Anthyllis vulneraria"]})
    write(folder, "lots", {"lot_id": ["AV-0", "AV-1"], "taxon_id": ["AV"] * 2, "seed_unit": ["seed"] * 2})
    write(folder, "treatments", {"treatment_id": ["AV-T01"], "label": ["in the pod"], "role": ["untouched"]})
    write(folder, "trials", {"trial_id": ["G1"], "title": ["Trial"], "question": ["Does it come up?"]})
    write(folder, "visits", _visits())
    write(folder, "units", _units(dishes))
    counts, planted = _spoilt(_counts(dishes), wrong)
    write(folder, "counts", counts)
    return planted


def write(folder, name, columns):
    """A table of a package as its file, with the descriptor brought in line."""
    from palea import schema

    folder, length = Path(folder), len(next(iter(columns.values())))
    blank = pa.nulls(length, pa.string())
    table = pa.table({c: pa.array(columns[c]) if c in columns else blank for c in schema.table(name).fields})
    head = io.StringIO(newline="")
    csv.writer(head, lineterminator="\n").writerow(table.column_names)
    body = io.BytesIO()
    arrow_csv.write_csv(table, body, arrow_csv.WriteOptions(include_header=False, quoting_style="none"))
    data = head.getvalue().encode() + body.getvalue()
    (folder / f"data/{name}.csv").write_bytes(data)
    path = folder / "datapackage.json"
    described = json.loads(path.read_text(encoding="utf-8"))
    resource = next(r for r in described["resources"] if r["name"] == name)
    resource |= {"bytes": len(data), "hash": f"sha256:{hashlib.sha256(data).hexdigest()}"}
    path.write_text(json.dumps(described), encoding="utf-8")


def _visits():
    day = [f"2024-03-{1 + 2 * n:02d}" for n in range(VISITS)]
    looked = ["normal; abnormal"] * (VISITS - 1) + ["; ".join(("normal", "abnormal", *WAITED))]
    many = {"trial_id": "G1", "visited_by": WHO, "counting": "new"}
    return {"visit_id": _named("V", VISITS), "visited_at": day, "looked_for": looked} | {
        name: [word] * VISITS for name, word in many.items()
    }


def _units(dishes):
    many = {
        "trial_id": "G1", "kind": "dish", "treatment_id": "AV-T01", "sown_n": str(SOWN), "seeds_each": "1",
        "first_wetted_at": "2024-02-28", "status": "in use",
    }
    lots = np.array(["AV-0", "AV-1"])[np.arange(dishes) % 2]
    return {"unit_id": _named("D", dishes), "lot_id": lots} | {name: [word] * dishes for name, word in many.items()}


def _counts(dishes):
    """Rows in the order of a bench: visit by visit, dish by dish. Every seed of a dish comes to one end."""
    chance = np.random.default_rng(7)
    odds = np.r_[np.tile([0.06, 0.004], VISITS), [0.1, 0.1, 0.1, 0.06]]
    ends = chance.multinomial(SOWN, odds / odds.sum(), dishes)
    visit = np.repeat(np.arange(VISITS), [2] * (VISITS - 1) + [2 + len(WAITED)])
    outcome = np.array(["normal", "abnormal"] * VISITS + list(WAITED))
    units, visits = np.array(_named("D", dishes)), np.array(_named("V", VISITS))
    parts = [(n, np.flatnonzero(visit == n)) for n in range(VISITS)]
    many = sum(len(at) for _, at in parts) * dishes
    return {
        "visit_id": np.concatenate([np.repeat(visits[n], len(at) * dishes) for n, at in parts]),
        "unit_id": np.concatenate([np.repeat(units, len(at)) for _, at in parts]),
        "outcome": np.concatenate([np.tile(outcome[at], dishes) for _, at in parts]),
        "taxon_id": np.full(many, "AV"),
        "observer": np.full(many, WHO),
        "count": np.concatenate([ends[:, at].ravel() for _, at in parts]).astype(str),
        "method": np.full(many, "seen"),
    }


def _spoilt(counts, wrong):
    """Faults in five ways, each in rows of its own: no number, no word, below zero, no such unit, the row above again."""
    rows = len(counts["count"])
    each = int(rows * wrong / 5)
    at = 1 + 2 * np.random.default_rng(11).choice((rows - 1) // 2, 5 * each, replace=False).reshape(5, each)
    counts = {name: values.astype(object) for name, values in counts.items()}
    for column, text, where in (("count", "ca. 4", 0), ("method", "sene", 1), ("count", "-1", 2)):
        counts[column][at[where]] = text
    counts["unit_id"][at[3]] = [f"D-none-{n}" for n in range(each)]  # one name for all would be one key for many
    for values in counts.values():
        values[at[4]] = values[at[4] - 1]
    rules = ("cell.number", "cell.word", "value.range", "link.broken", "key.duplicate")
    return counts, dict.fromkeys(rules, each) if each else {}


def _named(letter, number):
    return [f"{letter}{n:06d}" for n in range(1, number + 1)]
