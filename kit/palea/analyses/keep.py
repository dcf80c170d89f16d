"""Keep answers in the package: rows of `analyses` and `results`, and a figure and sentences beside."""

import json
from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from palea.analyses import catalogue
from palea.tables import saving


@dataclass(frozen=True)
class Ready:
    """All of an answer that is kept or told: plain data, so that it can come from another process.

    results : its rows.  sentences, warnings : in words.  files : {path in the package: bytes}.
    """

    recipe_id: str
    version: int
    trial: str
    options: Mapping
    results: pd.DataFrame
    sentences: tuple[str, ...]
    warnings: tuple[str, ...]
    data_hash: str
    files: Mapping[str, bytes]

    @property
    def recipe(self):
        """The recipe, from the list of all."""
        return catalogue.find(self.recipe_id, self.version)

    @property
    def reads(self):
        """{table: columns} that the answer rests on."""
        return self.recipe.columns


def made_ready(outcome, *, figures=True):
    """What is kept of an outcome: its rows, sentences and, with `figures`, its picture as SVG and as the chart's JSON."""
    return Ready(
        outcome.recipe.id, outcome.recipe.version, outcome.trial, dict(outcome.options), outcome.results,
        tuple(outcome.sentences), tuple(outcome.warnings), outcome.data_hash, dict(_files(outcome, figures=figures)),
    )  # fmt: skip

FOLDER = "analyses"
FILES = ("sentences.md", "figure.svg", "figure.json")  # what may lie beside an answer


def keep(package, outcomes, stamp, *, figures=True):
    """Write outcomes in one transaction, in place of earlier answers to the same question. Returns the package reopened.

    outcomes : as `palea.run` gives them, or made ready.  figures : of the former, whether to draw, or a function of an
    outcome that says so; a figure is written as SVG and as the chart's own JSON.
    """
    outcomes = [o if isinstance(o, Ready) else made_ready(o, figures=_drawn(o, figures)) for o in outcomes]
    ids = {analysis_id(o) for o in outcomes}
    analyses = _without(package["analyses"], ids)
    results = _without(package["results"], ids)
    analyses = _with(analyses, [_analysis(o, stamp) for o in outcomes])
    results = _with(results, [row | {"analysis_id": analysis_id(o)} for o in outcomes for row in o.results.to_dict("records")])
    changed = package.replacing("analyses", analyses).replacing("results", results)
    files = {path: data for o in outcomes for path, data in o.files.items()}
    return saving.save(changed, stamp, "analysis", words="Analyses run.", files=files)


def _drawn(outcome, figures):
    return figures(outcome) if callable(figures) else figures


def analysis_id(outcome):
    """The id under which an answer is kept: trial and recipe, and the options where they are not the usual ones."""
    plain = "-".join(filter(None, (outcome.trial, outcome.recipe.id)))
    usual = {name: option.default for name, option in outcome.recipe.options.items()}
    unusual = {name: value for name, value in outcome.options.items() if value != usual[name]}
    told = "-".join(f"{name}-{str(value).replace(' ', '-')}" for name, value in sorted(unusual.items()))
    return f"{plain}-{told}" if told else plain


def _with(frame, rows):
    """A frame with further rows; the package gives every column its type."""
    return pd.DataFrame([*frame.to_dict("records"), *rows], columns=list(frame.columns), dtype=object)


def _without(frame, ids):
    return frame[~frame["analysis_id"].isin(ids)]


def _analysis(outcome, stamp):
    from palea import __version__

    reads = {table: list(columns) for table, columns in outcome.reads.items()}
    return {
        "analysis_id": analysis_id(outcome),
        "recipe": outcome.recipe.id,
        "version": str(outcome.recipe.version),
        "trial_id": outcome.trial or None,
        "options": json.dumps(dict(outcome.options), sort_keys=True),
        "reads": json.dumps(reads, sort_keys=True),
        "ran_at": stamp.when,
        "data_hash": outcome.data_hash,
        "code_version": __version__,
    }


def _files(outcome, *, figures):
    folder = f"{FOLDER}/{analysis_id(outcome)}"
    told = [*outcome.sentences, *(f"Bear in mind: {w}" for w in outcome.warnings)]
    yield f"{folder}/sentences.md", ("\n\n".join(told) + "\n").encode()
    if figures:
        from palea.figures import as_files

        for name, text in zip(("figure.svg", "figure.json"), as_files(outcome.figure()), strict=True):
            yield f"{folder}/{name}", text.encode()
