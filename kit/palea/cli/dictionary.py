"""`palea dictionary`."""

from typing import Annotated

import typer

from palea.cli.app import answers, app, print_json


@app.command()
@answers
def dictionary(
    table: Annotated[str | None, typer.Argument(help="One table; all without it.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Say what every table, column and allowed word means, as in `palea dictionary counts`."""
    from palea.schema import dictionary as words

    if as_json:
        print_json(words.as_json(table))
    else:
        typer.echo(words.dictionary(table))
