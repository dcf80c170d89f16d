"""`palea day`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json


@app.command()
@answers
def day(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    on: Annotated[str | None, typer.Option(help="The day, as 2026-05-04; today where it is left out.")] = None,
    to: Annotated[Path | None, typer.Option(help="Print it into this file: .html, .docx or .md.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
):
    """Say what must be counted, renewed, weighed or calibrated on a day, as in `palea day my-trial --on 2026-05-04`."""
    from dataclasses import asdict

    import palea
    from palea.bench import day_page
    from palea.bench.day import day as of_the_day

    opened = palea.open_package(package)
    found = of_the_day(opened, on or palea.now().day)
    if to:
        day_page.write(found, opened.title, to, replace=replace)
        note(f"The day sheet is written to {to}.")
    if as_json:
        print_json({"package": str(opened.source), **asdict(found)})
    elif not to:
        typer.echo("\n\n".join(_told(found)))


def _told(found):
    from palea.bench.day_page import PARTS

    for name, heading, none in PARTS:
        lines = [f"  {j.on}  {j.do:<9} {j.about:<12} {j.what}" for j in getattr(found, name)]
        yield "\n".join([f"{heading} ({found.on})" if name == "today" else heading, *(lines or [f"  {none}"])])
    yield from found.unknown
