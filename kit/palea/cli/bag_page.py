"""`palea bag-page`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note


@app.command()
@answers
def bag_page(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    lot: Annotated[str, typer.Argument(help="The lot in the bag.")],
    to: Annotated[Path, typer.Option(help="Where to write it: .html, .docx or .md.")],
    per_m2: Annotated[float, typer.Option(min=0.001, help="Live seeds a square metre that are wanted.")] = 300.0,
    link: Annotated[str, typer.Option(help="Address of the published record, for the square code.")] = "",
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
):
    """Write one page to go with a bag of seed, as in `palea bag-page my-trial CC-T08-2 --to bag.html`."""
    import palea
    from palea.record import bag_page as room

    room.write(palea.open_package(package), lot, to, per_m2, link, replace=replace)
    note(f"The bag page is written to {to}.")
