"""Tiny invented packages for the tests of tables."""

import json

from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package

WHEN = Stamp("thrift", "2026-05-04T09:30:00+00:00")
ROWS = {
    "people": [
        {"person_id": "thrift", "kind": "person", "name": "B. Thrift (invented)", "consent_to_publish": True},
        {"person_id": "sorrel", "kind": "person", "name": "C. Sorrel (invented)", "consent_to_publish": False},
    ],
    "taxa": [
        {"taxon_id": "AV", "scientific_name": "Anthyllis vulneraria"},
        {"taxon_id": "CC", "scientific_name": "Corynephorus canescens", "place_sensitivity": "high"},
    ],
    "lots": [
        {"lot_id": "AV-0", "taxon_id": "AV", "seed_unit": "fruit in calyx", "collected_from": "2023-07"},
        {"lot_id": "AV-1", "taxon_id": "AV", "seed_unit": "seed", "latitude": 52.25, "longitude": -1.5},
    ],
    "movements": [
        {"movement_id": "M1", "lot_id": "AV-0", "moved_at": "2023-08-10", "kind": "received", "mass_g": 100.0},
        {
            "movement_id": "M2",
            "lot_id": "AV-0",
            "moved_at": "2024-02-05T09:30+01:00",
            "kind": "sent out",
            "mass_g": 0.1,
            "seed_units": 3,
            "notes": 'he said "two, or three"',
        },
    ],
    "treatments": [{"treatment_id": "AV-T01", "label": "in the pod", "role": "untouched"}],
    "trials": [{"trial_id": "G1", "title": "Trial", "question": "Does it come up?", "random_seed": 7}],
    "units": [
        {
            "unit_id": f"U{n}",
            "trial_id": "G1",
            "kind": "dish",
            "treatment_id": "AV-T01",
            "lot_id": "AV-0",
            "sown_n": 25,
            "status": "in use",
        }
        for n in (1, 2)
    ],
    "visits": [
        {
            "visit_id": "V1",
            "trial_id": "G1",
            "visited_at": "2024-02-20",
            "visited_by": "sorrel",
            "looked_for": "normal; abnormal",
            "counting": "new",
        }
    ],
    "counts": [
        {"visit_id": "V1", "unit_id": unit, "outcome": outcome, "taxon_id": "AV", "observer": "sorrel", "count": n}
        for unit, outcome, n in (
            ("U1", "normal", 12),
            ("U1", "abnormal", 0),
            ("U2", "normal", 9),
            ("U2", "abnormal", 1),
        )
    ],
}


def small(folder):
    """A sound package of nine tables with a few rows each, saved once."""
    package = new_package(folder, "Two dishes (invented)", WHEN, licence="CC-BY-4.0", invented=True)
    for table, rows in ROWS.items():
        package = package.having(table, rows)
    return saving.save(package, WHEN, "entry", words="set up")


def with_own_parts(package):
    """The same with a column and a table of its own, described as the standard asks."""
    folder = package.folder
    path = folder / "schema/lots.json"
    described = json.loads(path.read_text(encoding="utf-8"))
    described["fields"].append({"name": "shelf", "type": "integer", "constraints": {"minimum": 1}})
    path.write_text(json.dumps(described), encoding="utf-8")
    lots = folder / "data/lots.csv"
    lines = lots.read_text(encoding="utf-8").splitlines()
    lots.write_text("\n".join([f"{lines[0]},shelf", f"{lines[1]},3", f"{lines[2]},"]) + "\n", encoding="utf-8")
    (folder / "data/weather.csv").write_text("day;rain\n2024-02-20;1,50\n", encoding="utf-8")
    edit(
        folder,
        lambda raw: raw["resources"].append(
            {
                "name": "weather",
                "type": "table",
                "path": "data/weather.csv",
                "format": "csv",
                "encoding": "utf-8",
                "dialect": {"delimiter": ";"},
                "schema": {
                    "fields": [{"name": "day", "type": "date"}, {"name": "rain", "type": "number", "decimalChar": ","}]
                },
            }
        ),
    )
    return saving.adopt(package, WHEN, "shelf and weather added by hand")


def edit(folder, change):
    """Change the descriptor in place, as a text editor would."""
    path = folder / "datapackage.json"
    raw = json.loads(path.read_text(encoding="utf-8"))
    change(raw)
    path.write_text(json.dumps(raw), encoding="utf-8")
