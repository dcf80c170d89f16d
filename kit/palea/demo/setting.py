"""The constant half of the invented demo: setting.json, people, materials, arms and questions as they are entered."""

import json
from functools import cache
from pathlib import Path

WHERE = Path(__file__).with_name("setting.json")


@cache
def _all():
    return json.loads(WHERE.read_text(encoding="utf-8"))


def setting(part):
    """One part of setting.json: people, taxa, lots, words, materials, treatments, contrasts and so on."""
    return _all()[part]


def worded(row, taxon):
    """A row with the species' own words in place of {hull}, {bare} and the like."""
    words = setting("words")[taxon]
    return {key: value.format(**words) if isinstance(value, str) else value for key, value in row.items()}
