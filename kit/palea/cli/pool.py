"""`palea pool`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json


@app.command()
@answers
def pool(
    packages: Annotated[list[Path], typer.Argument(help="Two packages or more: folders, datapackage.json files, or .zip.")],
    to: Annotated[Path | None, typer.Option(help="A folder for effects.csv, left_out.csv and pooled.json.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite what lies in the folder.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Lay the evidence of several packages together, as in `palea pool ours theirs.zip --to evidence`."""
    import palea
    from palea.errors import PaleaError
    from palea.sharing import many

    if len(packages) < 2:
        msg = "Pooling needs two packages or more; name another one."
        raise PaleaError(msg)
    if to is not None and to.exists() and not to.is_dir():
        msg = f"{to} is a file. Name a folder for what is pooled."
        raise PaleaError(msg)
    if to is not None and to.exists() and any(to.iterdir()) and not replace:
        msg = f"{to} holds something. Name another folder, or say --replace to overwrite it."
        raise PaleaError(msg)
    pooled = many.pool([palea.open_package(p) for p in packages])
    if to is not None:
        many.write(pooled, to)
        note(f"The evidence lies in {to}.")
    if as_json:
        print_json(pooled.as_json())
    else:
        typer.echo("\n".join(pooled.told()) or "Nothing could be laid together.")
