"""`palea upgrade`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json


@app.command()
@answers
def upgrade(
    package: Annotated[Path, typer.Argument(help="An older package: a folder, its datapackage.json, or a .zip.")],
    to: Annotated[Path, typer.Option(help="The folder for the copy: new, or empty.")],
    who: Annotated[str | None, typer.Option(help="Who does it, for the journal.")] = None,
    why: Annotated[str, typer.Option(help="Why, in words, for the journal.")] = "",
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
    now: Annotated[str | None, typer.Option(help="The time to record, as 2026-05-04T09:30:00+00:00.")] = None,
):
    """Bring a copy of an older package to the present schema, as in `palea upgrade my-trial --to my-trial-now`."""
    import palea
    from palea.findings import SEVERITIES, counted
    from palea.tables import upgrade as upgrading

    done = upgrading.upgrade(palea.open_package(package), to, palea.now(who, now), why)
    found = palea.check(done.package)
    if as_json:
        print_json(done.as_json() | {f"{kind}s": sum(f.count for f in found if f.severity == kind) for kind in SEVERITIES})
    else:
        typer.echo("\n".join(done.sentences))
    note(f"The copy lies in {to}; {package} is as it was. The check of the copy: {counted(found)} `palea check {to}` tells them.")
    raise typer.Exit(1 if any(f.severity == "error" for f in found) else 0)
