"""`palea walk`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json


@app.command()
@answers
def walk(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    of: Annotated[str, typer.Argument(metavar="ID", help="A plant, unit or lot, or a kept result as ANALYSIS/NUMBER.")],
    forward: Annotated[bool, typer.Option("--forward", help="From a lot to all that came of it.")] = False,
    to: Annotated[Path | None, typer.Option(help="Write it as a page with its picture: .html, .docx or .md.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Walk back to the collected seed with every step, or forward from it, as in `palea walk my-trial F1-AM-T07-01`."""
    import palea
    from palea.documents import files
    from palea.record import walk as record

    opened = palea.open_package(package)
    found = (record.ahead if forward else record.back)(opened, of)
    if to is not None:
        files.save(record.assemble(opened, found), to, replace=replace)
        note(f"The walk is written to {to}.")
    if as_json:
        print_json(record.as_json(found))
    elif to is None:
        typer.echo("\n".join(record.text(found)))
