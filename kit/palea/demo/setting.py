"""The constant half of the invented demo: setting.json and trials.json, as they are entered."""

import json
from functools import cache
from pathlib import Path

HERE = Path(__file__).parent


@cache
def _all(name):
    return json.loads((HERE / name).read_text(encoding="utf-8"))


def setting(part):
    """One part of setting.json: people, taxa, lots, words, materials, treatments, protocols and so on."""
    return _all("setting.json")[part]


def laid_down(trial):
    """What trials.json lays down for one trial of the laboratory: its row, outcomes, contrasts, environments, days."""
    return _all("trials.json")[trial]


def worded(row, taxon):
    """A row with the species' own words in place of {hull}, {bare} and the like."""
    words = setting("words")[taxon]
    return {key: value.format(**words) if isinstance(value, str) else value for key, value in row.items()}
