"""`palea letter`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note


@app.command()
@answers
def letter(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    to: Annotated[
        Path, typer.Option(help="Where to write it: .html, .docx or .md; the questionnaire lies beside it as .csv.")
    ],
    about: Annotated[
        str | None, typer.Option(help="Id of a run, lot, material, trial or person; else everything open.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the files.")] = False,
):
    """Ask a contractor or an author for what is open, as in `palea letter my-trial --about brackwater --to letter.docx`."""
    import palea
    from palea.record import letter as room

    written, sheet = room.write(palea.open_package(package), to, about, replace=replace)
    note(f"The letter is written to {written}, its questionnaire to {sheet}.")
