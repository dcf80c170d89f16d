"""`palea share`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note
from palea.errors import SharingRefused


@app.command()
@answers
def share(
    package: Annotated[Path, typer.Argument(help="A folder or its datapackage.json.")],
    to: Annotated[Path, typer.Option(help="The archive to write: FILE.zip.")],
    journal: Annotated[str, typer.Option(help="whole, summary or none; else whole where nothing is withheld.")] = "",
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the archive.")] = False,
):
    """Check for sharing and write one self-describing archive, as in `palea share my-trial --to my-trial.zip`."""
    import palea

    try:
        palea.share(palea.open_package(package), to, replace=replace, journal=journal)
    except SharingRefused as refusal:
        typer.echo(f"{refusal}\n" + "\n".join(map(str, refusal.findings)))
        raise typer.Exit(1) from None
    note(f"The archive is written to {to}.")
