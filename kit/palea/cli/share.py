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
    leave_out: Annotated[
        list[str] | None, typer.Option(help="A column that stays here, as costs.amount; its answers stay too. Repeatable.")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the archive.")] = False,
):
    """Check for sharing and write one self-describing archive, as in `palea share my-trial --to my-trial.zip`."""
    import palea
    from palea.sharing.redact import asked_of

    try:
        opened = palea.open_package(package)
        palea.share(opened, to, replace=replace, journal=journal, leave_out=tuple(leave_out or ()))
    except SharingRefused as refusal:
        typer.echo(f"{refusal}\n" + "\n".join(map(str, refusal.findings)))
        raise typer.Exit(1) from None
    note(f"The archive is written to {to}.")
    along = [name for name in asked_of(opened) if name not in (leave_out or ())]
    if along:
        note(f"These columns went along: {', '.join(along)}. `--leave-out` keeps one here, with the answers that rest on it.")
