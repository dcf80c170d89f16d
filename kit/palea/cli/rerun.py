"""`palea rerun`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json


@app.command()
@answers
def rerun(
    package: Annotated[Path, typer.Argument(help="A colleague's .zip or folder.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
    report: Annotated[Path | None, typer.Option("--report", "--to", help="Write the comparison as a page (.html).")] = None,
    keep: Annotated[bool, typer.Option("--keep", help="Add the report to the package; of a zip a copy is written.")] = False,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the report, or the copy.")] = False,
    who: Annotated[str | None, typer.Option(help="Who reruns it, for the report that is kept.")] = None,
    now: Annotated[str | None, typer.Option(help="The time to record, as 2026-05-04T09:30:00+00:00.")] = None,
):
    """Recompute every result of a package and compare, as in `palea rerun my-trial.zip`."""
    import palea

    found = palea.rerun(package)
    if report:
        found.write(report, replace=replace)
        note(f"The comparison is written to {report}.")
    if keep:
        note(f"The report is kept in {found.keep(palea.now(who, now), replace=replace)}.")
    if as_json:
        print_json(found.as_json())
    else:
        typer.echo(found.told())
    raise typer.Exit(0 if found.agrees else 1)
