"""`palea protocol`: procedures as files that others can use, and what differs between two, or between one and a run."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json

protocols = typer.Typer(no_args_is_help=True, rich_markup_mode=None)
app.add_typer(
    protocols, name="protocol",
    help="Share, take in and compare procedures, as in `palea protocol export my-trial film/1 --to film.json`.",
)  # fmt: skip


@protocols.command()
@answers
def export(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    procedure: Annotated[str, typer.Argument(help="Its id and version, as film/1.")],
    to: Annotated[Path, typer.Option(help="The file to write (.json).")],
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
):
    """Write a procedure with its steps and materials to a file, as in `palea protocol export my-trial film/1 --to film.json`."""
    import palea
    from palea.bench.protocols import write

    write(palea.open_package(package), *_named(procedure), to, replace=replace)
    note(f"The procedure is written to {to}.")


@protocols.command(name="take-in")
@answers
def take_in(
    package: Annotated[Path, typer.Argument(help="A folder or its datapackage.json.")],
    file: Annotated[Path, typer.Argument(help="A file that `palea protocol export` wrote.")],
    who: Annotated[str | None, typer.Option(help="Who takes it in, for the journal.")] = None,
    now: Annotated[str | None, typer.Option(help="The time to record, as 2026-05-04T09:30:00+00:00.")] = None,
):
    """Take a colleague's procedure into a package, as in `palea protocol take-in my-trial film.json`."""
    import palea
    from palea.bench import entry, protocols
    from palea.words.prose import counted, listed

    proposal = protocols.take_in(palea.open_package(package), protocols.read(file))
    entry.save(proposal, palea.now(who, now), "import", f"Procedure from {file.name}.")
    taken = [f"{counted(len(rows), 'row')} of {table}" for table, rows in proposal.rows.items() if rows]
    note(f"Taken in: {listed(taken)}.")


@protocols.command()
@answers
def compare(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    one: Annotated[str, typer.Argument(help="A procedure as film/1, or a file that was exported.")],
    other: Annotated[str, typer.Argument(help="Another version, a file, or the id of a run.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Say what differs between two versions, or a version and a run, as in `palea protocol compare my-trial film/1 R-7`."""
    import palea
    from palea.bench import protocols

    opened = palea.open_package(package)
    is_run = opened["runs"]["run_id"].eq(other).fillna(value=False).any()
    if is_run:
        told = list(protocols.against_run(opened, other))
    else:
        told = list(protocols.compare(_document(opened, one), _document(opened, other))) or ["Nothing differs."]
    if as_json:
        print_json({"one": one, "other": other, "differences": told})
    else:
        typer.echo("\n".join(told))


def _document(package, name):
    from palea.bench import protocols

    return protocols.read(name) if Path(name).is_file() else protocols.as_document(package, *_named(name))


def _named(text):
    from palea.errors import PaleaError

    identity, slash, version = text.partition("/")
    if not slash:
        msg = f"“{text}” names no version. Write it as film/1."
        raise PaleaError(msg)
    return identity, version
