"""`palea my-batch`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note


@app.command()
@answers
def my_batch(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    run: Annotated[str, typer.Argument(help="The run whose recipe is wanted.")],
    to: Annotated[Path, typer.Option(help="Where to write it: .html, .docx or .md.")],
    seed_g: Annotated[float, typer.Option(help="My bare seed, g.")],
    tsw_mg: Annotated[float | None, typer.Option(help="Mass of one of my seeds, mg (that is g per 1000).")] = None,
    pan_mm: Annotated[float | None, typer.Option(help="Diameter of my pan, mm.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
):
    """Rescale a coat to my seed and pan, as in `palea my-batch my-trial R-3 --seed-g 500 --pan-mm 400 --to coat.html`."""
    import palea
    from palea.record import for_my_batch as room

    room.write(palea.open_package(package), run, to, room.Mine(seed_g, tsw_mg, pan_mm), replace=replace)
    note(f"The recipe for {seed_g:g} g of seed is written to {to}.")
