"""`palea export`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note
from palea.errors import SharingRefused


@app.command()
@answers
def export(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    form: Annotated[str, typer.Option("--as", help="miappe, darwin-core, mcpd or workbook.")],
    to: Annotated[Path, typer.Option(help="The file: .zip (miappe, darwin-core), .csv (mcpd), .xlsx (all but darwin-core).")],
    leave_out: Annotated[list[str] | None, typer.Option(help="A column to leave out, as costs.amount.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
):
    """Write what may be shared in a form of others, as in `palea export my-trial --as darwin-core --to my-trial.zip`."""
    import palea
    from palea.sharing.exports.write import write

    try:
        said = write(palea.open_package(package), form, to, replace=replace, leave_out=tuple(leave_out or ()))
    except SharingRefused as refusal:
        typer.echo(f"{refusal}\n" + "\n".join(map(str, refusal.findings)))
        raise typer.Exit(1) from None
    for sentence in said:
        note(sentence)
    note(f"Written: {to}.")
