"""`palea history`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, print_json


@app.command()
@answers
def history(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    verify: Annotated[bool, typer.Option("--verify", help="Prove that no line was altered, cut or reordered.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Tell who changed what, when and why, as in `palea history my-trial --verify`."""
    import palea
    from palea.tables import journal

    opened = palea.open_package(package)
    lines = opened.journal()
    findings = journal.verify(opened.folder) if verify else []
    if as_json:
        told = {"verified": not findings, "findings": [f.as_json() for f in findings]} if verify else {}
        print_json({"package": str(opened.source), "lines": lines} | told)
    else:
        for line in lines:
            typer.echo(_told(line))
        typer.echo(
            "\n".join(map(str, findings)) if findings else f"{len(lines)} lines{', chain whole' if verify else ''}."
        )
    raise typer.Exit(1 if findings else 0)


def _told(line):
    place = ", ".join(str(line[k]) for k in ("table", "row", "column") if line.get(k))
    change = " -> ".join(str(line.get(k)) for k in ("old", "new") if line.get(k) is not None)
    return f"{line['when']}  {line['who']}  {place}: {change} ({line['reason']}) {line.get('words') or ''}".rstrip()
