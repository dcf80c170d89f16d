"""`palea sheet`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note


@app.command()
@answers
def sheet(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    trial: Annotated[str, typer.Argument(help="Id of the trial.")],
    to: Annotated[Path, typer.Option(help="The sheet to write: FILE.xlsx, which take-in reads back, or FILE.html to print.")],
    visit: Annotated[str, typer.Option(help="A date, or the id of a visit; else both are written by hand.")] = "",
    look_for: Annotated[str, typer.Option(help='Outcomes, as "normal; abnormal"; else those of the last visit.')] = "",
    counting: Annotated[str, typer.Option(help="new, cumulative or standing; else as at the last visit.")] = "",
    by: Annotated[str, typer.Option(help="Who counts: id of a person.")] = "",
    blind: Annotated[bool | None, typer.Option("--blind/--open", help="Codes alone, or ids; else as at the last visit.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
):
    """Write a blank count sheet in walking order, as in `palea sheet my-trial G1 --visit 2026-05-04 --to G1.xlsx`."""
    import palea
    from palea.bench import sheet_files, sheets
    from palea.calc.spans import is_readable

    dated = bool(visit) and bool(is_readable([visit])[0])
    laid = sheets.lay_out(palea.open_package(package), trial, visit="" if dated else visit, day=visit if dated else "",
                          by=by, counting=counting, look_for=look_for, blind=blind)  # fmt: skip
    sheet_files.save(laid, to, replace=replace)
    note(f"Written: {to}, {len(laid.lines)} units, {'codes only' if laid.blind else 'with their ids'}.")
