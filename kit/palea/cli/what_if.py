"""`palea what-if`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, print_json


@app.command(name="what-if")
@answers
def what_if(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    analysis: Annotated[str, typer.Argument(help="An analysis that is kept there, or a recipe as germination.final@G1.")],
    option: Annotated[str, typer.Option(help="NAME=VALUE; or “left-out units=count”.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Change one thing and see which verdicts change: `palea what-if T germination.final@G1 --option "denominator=viable"`."""
    import palea
    from palea.errors import RecipeError
    from palea.sharing.what_if import what_if as compared

    name, equals, value = option.partition("=")
    if not equals:
        msg = f"“{option}” is no option. Write it as NAME=VALUE."
        raise RecipeError(msg)
    found = compared(palea.open_package(package), analysis, name.strip(), value.strip())
    if as_json:
        print_json(found.as_json())
    else:
        typer.echo("\n".join(found.told()))
