"""`palea new`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note


@app.command()
@answers
def new(
    folder: Annotated[Path, typer.Argument(help="A folder that does not exist yet, or is empty.")],
    title: Annotated[str, typer.Option(help="What the package is about, in a line.")],
    who: Annotated[str | None, typer.Option(help="Who starts it, for the journal.")] = None,
    now: Annotated[str | None, typer.Option(help="The time to record, as 2026-05-04T09:30:00+00:00.")] = None,
):
    """Make an empty, valid package with every table's header, as in `palea new my-trial --title "Spring trial"`."""
    import palea

    palea.new_package(folder, title, palea.now(who, now))
    note(f"An empty package lies in {folder}. Open a notebook on it, or fill its tables in a spreadsheet.")
