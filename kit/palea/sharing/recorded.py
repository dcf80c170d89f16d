"""What a row of `analyses` records of how its numbers were made, read with care: the row may come from anybody."""

from dataclasses import dataclass

import pandas as pd

from palea.derived.subject import Subject, fingerprint
from palea.errors import PaleaError
from palea.tables import formats
from palea.tables.paths import printable

LONGEST_VERSION = 9  # figures


@dataclass(frozen=True)
class Recorded:
    """How an answer was asked for.

    analysis_id, recipe, version, trial (None for the whole package), options : as `palea.run` takes them.
    reads : {table: columns} that it rests on, data_hash : their hash then; {} and "" where the row does not say.
    code_version : what computed it, "" where it does not say.
    """

    analysis_id: str
    recipe: str
    version: int
    trial: str | None
    options: dict
    reads: dict
    data_hash: str
    code_version: str

    def still_fits(self, package):
        """Whether the data are those that it was run on; None where the row does not tell."""
        if not self.reads or not self.data_hash:
            return None
        try:
            tables = Subject(package, self.trial) if self.trial else package
            return fingerprint(tables, self.reads) == self.data_hash
        except (PaleaError, KeyError):
            return None


def of(row):
    """A Recorded of one row of `analyses` as a mapping. PaleaError says which cell cannot be followed."""
    version = _text(row["version"])
    if not version.isdecimal() or len(version) > LONGEST_VERSION:
        msg = f"its version, “{printable(version, 20)}”, is no whole number."
        raise PaleaError(msg)
    reads = _object(row["reads"], "reads")
    if not all(isinstance(c, list) and all(isinstance(name, str) for name in c) for c in reads.values()):
        reads = {}
    return Recorded(
        _text(row["analysis_id"]), _text(row["recipe"]), int(version), _text(row["trial_id"]) or None,
        _object(row["options"], "options"), reads, _text(row["data_hash"]), _text(row["code_version"]),
    )  # fmt: skip


def _text(value):
    return "" if pd.isna(value) else str(value)


def _object(text, name):
    """{} for a blank cell, else the JSON object that it holds."""
    if pd.isna(text):
        return {}
    try:
        value = formats.json_of(text)
    except (ValueError, RecursionError):
        value = None
    if not isinstance(value, dict):
        msg = f"its {name}, “{printable(text, 40)}”, are no JSON object."
        raise PaleaError(msg)
    return value


def run_again(package, recorded, ask=None, **other):
    """The Outcome of the same question. other : `version` or `options` in place of the recorded ones. PaleaError else.

    ask : what palea.analyses.run.together gave for this package, for who asks many questions of it.
    """
    from palea.analyses import catalogue
    from palea.analyses.run import run

    asked = {"version": recorded.version, "options": recorded.options} | other
    recipe = catalogue.find(recorded.recipe, asked["version"])
    recipe.settle(asked["options"])  # names that are no options never reach the call below
    named = f"{recipe.id}/{recipe.version}"
    return ask(named, recorded.trial, **asked["options"]) if ask else run(named, package, recorded.trial, **asked["options"])
