"""Results of the studies as they are kept: one dated JSON file each in results/."""

import json
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path

RESULTS = Path(__file__).with_name("results")


def read(name, folder=RESULTS):
    """The stored result of a study, or None."""
    path = Path(folder) / f"{name}.json"
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else None


def write(name, result, folder=RESULTS):
    """Store a result with its day and versions; the file is either the old or the new one, never half of it."""
    stamp = {"date": datetime.now(UTC).date().isoformat(), "versions": versions()}
    text = json.dumps(stamp | result, ensure_ascii=False, indent=1)
    path = Path(folder) / f"{name}.json"
    half = path.with_suffix(".half")
    half.write_text(text + "\n", encoding="utf-8")
    half.replace(path)


def versions():
    """Of what made the numbers."""
    return {name: metadata.version(name) for name in ("palea", "numpy", "scipy", "pandas")}
