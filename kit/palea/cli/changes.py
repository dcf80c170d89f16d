"""`palea changes`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, print_json

SHOWN = 50  # changes of one table and kind that are told one by one; --json tells all


@app.command()
@answers
def changes(
    old: Annotated[Path, typer.Argument(help="The version before: a folder, its datapackage.json, or a .zip.")],
    new: Annotated[Path, typer.Argument(help="The version after.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Tell two versions of a package apart, row by row, as in `palea changes shared.zip my-trial`."""
    import palea
    from palea.tables import differences, telling

    before, after = palea.open_package(old), palea.open_package(new)
    found = differences.between(before, after)
    beside = list(telling.beside_tables(before, after))
    if as_json:
        print_json({"old": str(before.source), "new": str(after.source), "other": beside, **_parted(found)})
        return
    moved = found["table"].eq("results")
    typer.echo("\n".join([*beside, *_told(found[~moved]), *_results(found[moved])]) or "Nothing differs.")


def _parted(found):
    from palea.tables import telling

    moved = found["table"].eq("results")
    return {"differences": telling.as_records(found[~moved]), "results": telling.as_records(found[moved])}


def _told(found):
    from palea.tables import telling

    for table, rows in found.groupby("table", sort=False):
        yield f"{table}: {telling.tally(rows)}."
        yield from (f"  {sentence}" for sentence in telling.sentences(rows, SHOWN))


def _results(found):
    if len(found):
        yield "Results that moved:"
        yield from _told(found)
