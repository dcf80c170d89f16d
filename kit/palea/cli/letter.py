"""`palea letter`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note


@app.command()
@answers
def letter(
    package: Annotated[Path, typer.Argument(help="A folder or its datapackage.json; to ask, a .zip will do.")],
    to: Annotated[Path | None, typer.Option(help="Where to write it: .html, .docx or .md, with a .csv beside.")] = None,
    about: Annotated[str | None, typer.Option(help="Id of a run, lot, material, trial or person; else everything open.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the files.")] = False,
    back: Annotated[Path | None, typer.Option(help="A questionnaire that came back, to be entered.")] = None,
    who: Annotated[str | None, typer.Option(help="Who enters it, for the journal.")] = None,
    now: Annotated[str | None, typer.Option(help="The time to record, as 2026-05-04T09:30:00+00:00.")] = None,
):
    """Ask a contractor or an author for what is open, as in `palea letter my-trial --about brackwater --to letter.docx`."""
    import palea
    from palea.errors import PaleaError

    opened = palea.open_package(package)
    if (to is None) == (back is None):
        msg = "Say --to FILE to write the letter, or --back FILE to enter the questionnaire that came back."
        raise PaleaError(msg)
    if back is not None:
        _enter(opened, back, palea.now(who, now))
        return
    from palea.record import letter as room

    written, sheet = room.write(opened, to, about, replace=replace)
    note(f"The letter is written to {written}, its questionnaire to {sheet}.")


def _enter(opened, back, stamp):
    """Enter what came back, and say what was not entered and why."""
    from palea.bench import entry, letter_back

    proposal, sentences = letter_back.answers_back(opened, back)
    for sentence in sentences:
        note(sentence)
    cells = sum(len(row) for rows in proposal.rows.values() for row in rows)
    if not cells:
        note("Nothing was entered: no line has an answer that may be.")
        return
    entry.save(proposal, stamp, "import", f"Answers from {back.name}.")
    rows = sum(map(len, proposal.rows.values()))
    note(f"{rows} row{'s' if rows != 1 else ''} changed by the answers in {back}.")
