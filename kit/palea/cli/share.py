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
    report: Annotated[Path | None, typer.Option(help="Write what was withheld and found as a page (.html).")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the archive and the page.")] = False,
):
    """Check for sharing and write one self-describing archive, as in `palea share my-trial --to my-trial.zip`."""
    import palea
    from palea.sharing import archive

    opened, left = palea.open_package(package), tuple(leave_out or ())
    try:
        _, said = archive.told(opened, to, replace=replace, journal=journal, leave_out=left)
    except SharingRefused as refusal:
        typer.echo(f"{refusal}\n" + "\n".join(map(str, refusal.findings)))
        if report:
            _write(opened, [str(refusal)], left, report, replace)
        raise typer.Exit(1) from None
    note(f"The archive is written to {to}.")
    for sentence in [*said, *_along(opened, left)]:
        note(sentence)
    if report:
        _write(opened, [f"The archive is written to {to.name}.", *said], left, report, replace)
        note(f"What was withheld and found is written to {report}.")


def _along(package, left):
    """A sentence about the columns of which one is to be asked and that went along."""
    from palea.sharing import redact

    names = [name for name in redact.asked_of(package) if name not in left]
    return [f"These columns go along: {', '.join(names)}. `--leave-out` keeps one here, with its answers."] if names else []


def _write(package, said, left, path, replace):
    from palea.checks import report, sharing
    from palea.documents.page import Listing, Part

    done = Part("What left the house, and how", (Listing((*said, *_along(package, left))),), "shared")
    report.write(package, sharing.check(package), path, replace=replace, first=(done,))
