"""Keep answers in the package: rows of `analyses` and `results`, and a figure and sentences beside."""

import json

import pandas as pd

from palea.tables import saving

FOLDER = "analyses"
FILES = ("sentences.md", "figure.svg", "figure.json")  # what may lie beside an answer


def keep(package, outcomes, stamp, *, figures=True):
    """Write outcomes in one transaction, in place of earlier answers to the same question. Returns the package reopened.

    figures : whether to draw, or a function of an outcome that says so; a figure is written as SVG and as the chart's
    own JSON.
    """
    ids = {analysis_id(o) for o in outcomes}
    analyses = _without(package["analyses"], ids)
    results = _without(package["results"], ids)
    analyses = _with(analyses, [_analysis(o, stamp) for o in outcomes])
    results = _with(results, [row | {"analysis_id": analysis_id(o)} for o in outcomes for row in o.results.to_dict("records")])
    changed = package.replacing("analyses", analyses).replacing("results", results)
    files = {path: data for o in outcomes for path, data in _files(o, figures=figures(o) if callable(figures) else figures)}
    return saving.save(changed, stamp, "analysis", words="Analyses run.", files=files)


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
        from palea.figures import to_svg

        chart = outcome.figure()
        yield f"{folder}/figure.svg", to_svg(chart).encode()
        yield f"{folder}/figure.json", (json.dumps(chart.to_dict(), sort_keys=True, indent=1) + "\n").encode()
