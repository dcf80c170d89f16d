"""`palea answer`: one-step questions of the bench, with the formula and the numbers put into it."""

from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json, records


@app.command()
@answers
def answer(
    recipe: Annotated[str, typer.Argument(help="Which question, as coating.volume_for_dose; `palea recipes` lists them.")],
    option: Annotated[list[str] | None, typer.Option(help="NAME=VALUE, as often as needed.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Answer a question of the bench on paper, as in `palea answer coating.volume_for_dose --option seed_g=40`."""
    asked = _known(recipe)
    options = asked.settle(_given(asked, option or ()))
    result = asked.compute(**options)
    _refuse_if_asked_in_vain(result)
    _tell(asked, options, result, as_json)


def _known(recipe_id):
    """The recipe; RecipeError for one that reads a package."""
    from palea.analyses import catalogue
    from palea.errors import RecipeError

    found = catalogue.find(recipe_id)
    if found.reads:
        msg = f"{found.id} is answered from a package: say `palea analyse PACKAGE --recipe {found.id}`."
        raise RecipeError(msg)
    return found


def _given(recipe, pairs):
    """{name: value} of "name=value", each of the type that the option has."""
    return dict(_pair(recipe, text) for text in pairs)


def _pair(recipe, text):
    from palea.errors import RecipeError

    name, sign, value = text.partition("=")
    known = recipe.options.get(name.strip())
    if not sign or known is None:
        msg = f"“{text}” is no option of {recipe.id}. Write NAME=VALUE with one of: {', '.join(recipe.options)}."
        raise RecipeError(msg)
    if known.type is str:
        return name.strip(), value.strip()
    try:
        return name.strip(), known.type(value.strip())
    except ValueError:
        msg = f"{name.strip()} is “{value}”; allowed is a number, with a decimal point. {known.help}"
        raise RecipeError(msg) from None


def _refuse_if_asked_in_vain(result):
    """A refusal is no answer: its sentences go to standard error, exit 2."""
    from palea.calc.results import Refusal

    if isinstance(result, Refusal):
        note(f"{result.missing} {result.remedy}".strip())
        raise typer.Exit(2)


def _tell(recipe, options, result, as_json):
    from palea.analyses.rows import rows_of
    from palea.words import say

    sentences = say(result, {})
    if as_json:
        print_json({
            "recipe": recipe.id, "version": recipe.version, "title": recipe.title, "options": dict(options),
            "results": records(rows_of(result).dropna(axis="columns", how="all")), "sentences": sentences,
            "formula": result.method, "assumptions": list(result.assumptions), "cautions": list(result.warnings),
            "source": recipe.source,
        })  # fmt: skip
        return
    told = (*sentences, f"Formula: {result.method}", *result.assumptions, *(f"Bear in mind: {w}" for w in result.warnings))
    typer.echo("\n".join((*told, f"Source: {recipe.source}")))
