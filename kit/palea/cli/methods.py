"""`palea methods`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note


@app.command()
@answers
def methods(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    to: Annotated[Path, typer.Option(help="Where to write it: .html or .md.")],
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
):
    """Write the methods record, as in `palea methods my-trial --to methods.html`."""
    import palea

    palea.write_methods(palea.open_package(package), to, replace=replace)
    note(f"The methods record is written to {to}.")
