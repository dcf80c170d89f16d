"""`palea labels`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note


@app.command()
@answers
def labels(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    for_: Annotated[str, typer.Option("--for", help="What is labelled: lots or units.")],
    to: Annotated[Path, typer.Option(help="The page to write: FILE.html.")],
    trial: Annotated[str, typer.Option(help="For units: of which trial.")] = "",
    blind: Annotated[bool | None, typer.Option("--blind/--open", help="Codes alone, or ids; else as the trial is counted.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
):
    """Write labels with QR codes on A4, as in `palea labels my-trial --for units --trial G1 --to labels.html`."""
    import palea
    from palea.bench import labels as printed
    from palea.documents import files

    made = printed.lay_out(palea.open_package(package), for_, trial=trial, blind=blind)
    files.put(lambda: printed.page(made), _as_html(to), replace=replace)
    note(f"Written: {to}, {len(made)} labels. Print at 100 %, without margins of the printer.")


def _as_html(path):
    from palea.errors import PaleaError

    if path.suffix.lower() != ".html":
        msg = f"{path} ends in “{path.suffix}”. Labels are written as .html, to print from a browser."
        raise PaleaError(msg)
    return path
