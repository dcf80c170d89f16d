"""`palea methods`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note


@app.command()
@answers
def methods(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    to: Annotated[Path | None, typer.Option(help="Where to write it: .html, .md or .docx.")] = None,
    references: Annotated[
        Path | None, typer.Option(help="Where to write what it cites: .bib, or .json (CSL-JSON).")
    ] = None,
    with_check: Annotated[
        bool, typer.Option("--with-check", help="Tell how many findings palea check has, too.")
    ] = False,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
):
    """Write the methods record, as in `palea methods my-trial --to methods.docx --references methods.bib`."""
    import palea
    from palea.errors import PaleaError
    from palea.record import methods as record

    if to is None and references is None:
        msg = "Say where to write: --to FILE for the record, --references FILE for what it cites, or both."
        raise PaleaError(msg)
    opened = palea.open_package(package)
    if to is not None:
        record.write(opened, to, replace=replace, findings=palea.check(opened) if with_check else None)
        note(f"The methods record is written to {to}.")
    if references is not None:
        record.write_references(opened, references, replace=replace)
        note(f"The references are written to {references}.")
