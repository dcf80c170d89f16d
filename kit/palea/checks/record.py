"""What makes a record disagree with its own data."""

import json

import pandas as pd

from palea.derived.subject import Subject, fingerprint
from palea.errors import SchemaError
from palea.findings import Finding


def stale_results(package):
    """A finding for each kept analysis whose inputs have changed since. Works for recipes that are unknown here too."""
    analyses = package["analyses"]
    told = analyses[["analysis_id", "trial_id", "reads", "data_hash"]].dropna(subset=["analysis_id", "reads", "data_hash"])
    stored = told.to_dict("index")
    subjects, hashes = {}, {}  # many analyses are about the same trial, and read the same
    now = {line: _hash_now(package, a, subjects, hashes) for line, a in stored.items()}
    return [_stale(line, a) for line, a in stored.items() if now[line] not in (None, a["data_hash"])]


def _hash_now(package, analysis, subjects, hashes):
    trial = "" if pd.isna(analysis["trial_id"]) else analysis["trial_id"]
    if (trial, analysis["reads"]) not in hashes:
        if trial not in subjects:
            subjects[trial] = Subject(package, trial) if trial else package
        hashes[trial, analysis["reads"]] = _hash_of(subjects[trial], analysis["reads"])
    return hashes[trial, analysis["reads"]]


def _hash_of(tables, reads):
    try:
        return fingerprint(tables, json.loads(reads))
    except (ValueError, KeyError, TypeError, AttributeError, SchemaError):
        return None  # reads that cannot be followed are a finding of the cell, not of the result


def _stale(line, analysis):
    return Finding(
        "record.result-older-than-data", "error", "analyses", line + 2, "data_hash", analysis["data_hash"],
        f"Analysis {analysis['analysis_id']} was run before data that it rests on were changed.",
        "Run it again with `palea analyse`; the old numbers stay in the journal.",
    )
