"""`palea adopt`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json

SHOWN = 20  # changes of one table that are told one by one; --json tells all


@app.command()
@answers
def adopt(
    package: Annotated[Path, typer.Argument(help="A folder or its datapackage.json.")],
    reason: Annotated[str | None, typer.Option(help="Why it was changed: a word of the list change_reason.")] = None,
    words: Annotated[str, typer.Option(help="Why, in words, for the journal.")] = "",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what was changed and write nothing.")] = False,
    who: Annotated[str | None, typer.Option(help="Who takes it over, for the journal.")] = None,
    now: Annotated[str | None, typer.Option(help="The time to record, as 2026-05-04T09:30:00+00:00.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Take over tables changed in another program, with a reason, as in `palea adopt my-trial --reason typing`."""
    import palea
    from palea.tables import outside, saving

    opened = palea.open_package(package)
    found = outside.changed(opened)
    if not as_json:
        typer.echo("\n".join(_told(found)))
    kept = bool(found) and not dry_run
    if kept:
        adopted = saving.adopt(opened, palea.now(who, now), words, reason=_known(reason))
        note(f"Adopted, with the reason “{reason}” in the journal. {_left(adopted, found)}")
    if as_json:
        print_json({"package": str(opened.source), "adopted": kept, "reason": reason if kept else None,
                    "words": words if kept else None, "tables": [_as_json(one) for one in found]})


def _known(reason):
    """The reason, if it is a word of its list."""
    from palea import schema
    from palea.errors import EntryError

    name = schema.table("journal")["reason"].vocabulary
    if reason is None:
        msg = f"Nothing was adopted: say why with --reason, one of: {', '.join(schema.words(name))}."
        raise EntryError(msg)
    return schema.word(name, reason)["name"]


def _told(found):
    from palea.tables import telling

    if not found:
        yield "No table was changed outside palea."
    for one in found:
        if one.differences is None:
            yield f"{one.table}: {one.path} was changed outside palea. What it held before is not at hand, so no row can be shown."
        else:
            yield f"{one.table}: {telling.tally(one.differences)} in {one.path}, outside palea."
            yield from (f"  {sentence}" for sentence in telling.sentences(one.differences, SHOWN))


def _left(package, found):
    """What `palea check` would say of the structure of what was adopted."""
    from palea.tables import validate

    errors = sum(f.count for f in validate.tables(package, [o.table for o in found if o.table in package.names]))
    if not errors:
        return "Its structure is sound; `palea check` says the rest."
    return f"{errors} fault{'' if errors == 1 else 's'} in it: run `palea check {package.source}`."


def _as_json(one):
    from palea.tables import telling

    rows = None if one.differences is None else telling.as_records(one.differences)
    return {"table": one.table, "path": one.path, "was": one.stated, "now": one.found, "differences": rows}
