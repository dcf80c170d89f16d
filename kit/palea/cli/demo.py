"""`palea demo`."""

import webbrowser
from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, is_terminal
from palea.cli.progress import Bar
from palea.findings import counted


@app.command()
@answers
def demo(
    folder: Annotated[Path, typer.Argument(help="Where to write it.")] = Path("palea-demo"),
    quick: Annotated[bool, typer.Option("--quick", help="One species, in a few seconds.")] = False,
    opened: Annotated[bool, typer.Option("--open/--no-open", help="Open the methods record when done.")] = True,
    replace: Annotated[bool, typer.Option("--replace", help="Write over an earlier demo.")] = False,
):
    """Take an invented trial from lots to a colleague's rerun, as in `palea demo --quick`."""
    from palea.demo.tour import STAGES, walk

    with Bar(STAGES) as step:
        tour = walk(folder, quick=quick, replace=replace, step=step)
    typer.echo("\n".join(_told(tour, quick=quick)))
    if opened and is_terminal():
        webbrowser.open(tour.record.resolve().as_uri())
    raise typer.Exit(0 if tour.agrees else 1)


def _told(tour, *, quick):
    yield "What the invented trial G1 says (all data made up, see datapackages_demo/README.md):"
    for species, verdicts in tour.verdicts.items():
        yield f"  {species}"
        yield from (f"    {v}" for v in verdicts)
    yield f"The check: {counted(tour.findings)}"
    yield from (f"  {f}" for f in tour.findings if f.severity == "warning")
    yield f"The rerun from the archive: {tour.compared.splitlines()[0]} {tour.compared.splitlines()[1]}"
    yield ""
    yield f"Methods record    {tour.record}"
    yield f"Package           {tour.package}"
    yield f"Shared archive    {tour.archive}"
    yield ""
    yield "What to do next: open the record in a browser; run"
    yield f"`palea lab {tour.package}` to type a visit's counts in JupyterLab; change a count in its data/counts.csv and"
    yield f"run `palea check {tour.package}` and `palea rerun {tour.package}` to see it noticed."
    if quick:
        yield "This was one species; `palea demo` without --quick takes all three."
