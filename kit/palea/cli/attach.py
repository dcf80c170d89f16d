"""`palea attach`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json


@app.command()
@answers
def attach(
    package: Annotated[Path, typer.Argument(help="A folder or its datapackage.json.")],
    file: Annotated[Path, typer.Argument(help="A photograph or another file.")],
    about: Annotated[str, typer.Option(help="What it shows, as TABLE:ID, as in lots:AV-0 or tests:Q-CC-cut.")],
    shows: Annotated[str, typer.Option(help="What is to be seen, in a line that can stand below it.")],
    scale_bar_mm: Annotated[float | None, typer.Option(help="Length of the bar in the picture, mm.")] = None,
    licence: Annotated[str, typer.Option(help="Terms for others: an SPDX id, as CC-BY-4.0.")] = "",
    taken_at: Annotated[str, typer.Option(help="When it was taken; else as the picture says.")] = "",
    taken_by: Annotated[str, typer.Option(help="Who took it: id of a person.")] = "",
    may_share: Annotated[bool | None, typer.Option("--may-share/--keep-home", help="May it leave with a shared copy?")] = None,
    bare: Annotated[bool, typer.Option("--bare", help="Keep a copy without the place, owner and camera that it tells.")] = False,
    who: Annotated[str | None, typer.Option(help="Who attaches it, for the journal.")] = None,
    now: Annotated[str | None, typer.Option(help="The time to record, as 2026-05-04T09:30:00+00:00.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Keep a file beside the rows, as in `palea attach my-trial cut.jpg --about tests:Q-1 --shows "Ten units cut open"`."""
    import palea
    from palea.bench import attach as attaching

    opened = palea.open_package(package)
    proposed = attaching.propose(opened, file, about=about, shows=shows, scale_bar_mm=scale_bar_mm, licence=licence,
                                 taken_at=taken_at, taken_by=taken_by, may_share=may_share, bare=bare)  # fmt: skip
    attaching.save(proposed, palea.now(who, now))
    if as_json:
        print_json({"package": str(opened.source), "attachment": proposed.row, "told": list(proposed.told)})
        return
    typer.echo(f"{proposed.row['attachment_id']}: {proposed.row['path']}")
    for sentence in proposed.told:
        note(sentence)
