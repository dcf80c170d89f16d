"""An answer on screen: the sentence first, then the figure, then the numbers, then how it was computed, folded."""

import html

import ipywidgets as widgets

from palea import schema
from palea.errors import PaleaError
from palea.panels.panel import figure, paragraphs, style, told
from palea.words import prose

DIGITS = 4  # that count, in the table of numbers; the files hold them all


def answer(recipe, package, trial=None, **options):
    """What a recipe says of a trial, as a widget: the call `palea.run(recipe, package, trial, **options)`, shown.

    A question that cannot be asked here, as of an empty package, is a sentence too.
    """
    import palea

    try:
        outcome = palea.run(recipe, package, trial=trial, **options)
    except PaleaError as refusal:
        return _page([f"<p>{told('gap', str(refusal))}</p>"])
    return _shown(outcome, draw=True)


def asked(recipe, package, trial, *, draw, **options):
    """The same answer without its picture unless `draw`; what cannot be asked raises."""
    import palea

    return _shown(palea.run(recipe, package, trial=trial, **options), draw=draw)


def _shown(outcome, *, draw):
    doubts = "".join(f"<p>{told('warning', w)}</p>" for w in outcome.warnings)
    picture = figure(outcome) if draw and not outcome.refused else ""
    title = f"<h2>{html.escape(outcome.recipe.title)}</h2>"
    formula = [f"Formula: {outcome.result.method}"] if outcome.result.method and not outcome.recipe.reads else []
    said = f'<div class="palea-sentences">{paragraphs([*outcome.sentences, *formula])}{doubts}</div>'
    return _page([title + said, picture, _numbers(outcome), _how(outcome)])


def narrowed(recipe, package, about, options):
    """What a recipe says of one thing (a lot, a treatment), as HTML: sentences and doubts; "" where it says nothing of it.

    options : the recipe's; None where the question cannot be asked yet.
    """
    from palea.analyses.run import preview

    if options is None:
        return ""
    try:
        outcome = preview(recipe, package, **options)
    except PaleaError as refusal:
        return f"<p>{told('gap', str(refusal))}</p>"
    others = {name for e in outcome.result.estimates for name in e.of.values()} - {about} if about else set()
    outcome = outcome.about(about) if about else outcome
    said = paragraphs(outcome.sentences)
    mine = [w for w in (*outcome.cautions, *outcome.result.warnings) if w.partition(":")[0] not in others]
    doubts = "".join(f"<p>{told('warning', w)}</p>" for w in mine)
    return f"<h3>{html.escape(outcome.recipe.title)}</h3>{said}{doubts}" if said else ""


def _page(parts):
    return widgets.VBox([style(), *(widgets.HTML(part) for part in parts if part)]).add_class("palea-panel")


def _numbers(outcome):
    """The rows of `results` that were computed, with the titles of the schema; columns without a value are left out."""
    frame = outcome.results.dropna(axis="columns", how="all")
    fields = schema.table("results").fields
    named = frame.rename(columns={c: fields[c].title for c in frame.columns if c in fields})
    table = named.to_html(index=False, na_rep="", border=0, float_format=lambda x: f"{x:.{DIGITS}g}")
    many = prose.counted(len(frame), "row")
    return f'<details><summary>The numbers, {many}</summary><div class="palea-table">{table}</div></details>'


def _how(outcome):
    """Model, unit of replication, assumptions, options: folded below the answer."""
    result, recipe = outcome.result, outcome.recipe
    options = ", ".join(f"{name} {value}" for name, value in outcome.options.items() if value != "")
    lines = [
        result.method, *result.assumptions, f"Judged on: {recipe.rung}.",
        f"Recipe {recipe.id}, version {recipe.version}{f', with {options}' if options else ''}.",
    ]
    return f"<details><summary>How it was computed</summary>{paragraphs(filter(None, lines))}</details>"
