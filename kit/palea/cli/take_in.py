"""`palea take-in`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json

SHOWN = 12  # rows and cells that are told one by one; --json tells all


@app.command(name="take-in")
@answers
def take_in(
    package: Annotated[Path, typer.Argument(help="A folder or its datapackage.json.")],
    sheet: Annotated[Path, typer.Argument(help="A .csv, .tsv, .txt, .xlsx or .ods file.")],
    table: Annotated[str, typer.Option(help="The table that it goes into; else told from the heading.")] = "",
    map_: Annotated[Path | None, typer.Option("--map", help="A mapping as JSON; one that was kept is found by itself.")] = None,
    part: Annotated[str, typer.Option("--part", help="Which sheet of a workbook.")] = "",
    trial: Annotated[str, typer.Option(help="The trial whose units are counted.")] = "",
    outcome: Annotated[str, typer.Option(help="What the numbers count, where no heading says it.")] = "",
    counting: Annotated[str, typer.Option(help="new, cumulative or standing.")] = "",
    by: Annotated[str, typer.Option(help="Who counted: id or name of a person.")] = "",
    dates: Annotated[str, typer.Option(help="day first or month first, where no date shows it.")] = "",
    day_zero: Annotated[str, typer.Option(help="The date from which days are counted.")] = "",
    offset: Annotated[str, typer.Option(help="A logger's clock from UTC, as +01:00.")] = "",
    given: Annotated[list[str] | None, typer.Option(help="A column for all rows, as unit_id=G1-{Dish}.")] = None,
    code: Annotated[list[str] | None, typer.Option(help='What a text among numbers means, as "nd=not looked".')] = None,
    name: Annotated[str, typer.Option(help="To keep the mapping under; else the file's name.")] = "",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what was understood and write nothing.")] = False,
    who: Annotated[str | None, typer.Option(help="Who takes it in, for the journal.")] = None,
    reason: Annotated[str, typer.Option(help="Why; re-count, misread and typing may change saved counts.")] = "import",
    now: Annotated[str | None, typer.Option(help="The time to record, as 2026-05-04T09:30:00+00:00.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
):
    """Read a laboratory's own sheet into a table, as in `palea take-in my-trial counts.xlsx --dry-run`; exit 1: not all of it."""
    import palea
    from palea import schema
    from palea.bench import take_in as taking

    said = _mapping(map_, table=table, sheet=part, trial=trial, outcome=outcome, counting=counting, by=by, dates=dates,
                    day_zero=day_zero, offset=offset, given=_pairs(given, "--given"), codes=_pairs(code, "--code"))  # fmt: skip
    stamp = palea.now(who, now)
    schema.word("change_reason", reason)
    understood = taking.look(palea.open_package(package), sheet, taking.Wishes(said, name, reason, stamp.day))
    ready = not understood.asks and understood.proposal is not None
    kept = ready and not dry_run
    if kept:
        taking.keep(understood, stamp)
    if as_json:
        print_json(_as_json(understood, package, kept))
    else:
        typer.echo("\n".join(_told(understood)))
        note(_end(understood, kept, dry_run))
    lost = understood.asks or understood.not_understood or understood.refused
    if understood.asks and not dry_run:
        raise typer.Exit(2)
    raise typer.Exit(1 if lost else 0)


def _mapping(path, **said):
    """The Mapping of a file with what was said beside it laid over it."""
    from palea.bench.take_in import mapping
    from palea.errors import PaleaError

    over = mapping.parse(mapping.text(mapping.Mapping(**said)).encode(), "of the command line")
    if path is None:
        return over
    try:
        data = path.expanduser().read_bytes()
    except OSError as fault:
        msg = f"The mapping {path} cannot be read: {fault.strerror or fault}. Look at its name."
        raise PaleaError(msg) from None
    return over.over(mapping.parse(data, path.name))


def _pairs(texts, option):
    """{left of the equals sign: right of it}."""
    from palea.errors import PaleaError

    pairs = [text.partition("=") for text in texts or ()]
    wrong = next((left for left, sign, _ in pairs if not sign or not left.strip()), None)
    if wrong is not None:
        msg = f'{option} “{wrong}” says nothing: write NAME=TEXT, as in {option} "nd=not looked".'
        raise PaleaError(msg)
    return {left.strip(): right.strip() for left, _, right in pairs}


def _told(understood):
    """The columns as a table, then what was seen, what is left out, what is asked and what is not understood."""
    yield f"{understood.grid.name}" + (f", sheet {understood.grid.sheet}" if understood.grid.sheet else "") + (
        f" -> table {understood.table}" if understood.table else "")  # fmt: skip
    lines = understood.with_meanings()
    wide = max((len(h) for _, h, _ in lines), default=0)
    yield from (f"  {letter:>3}  {heading[:40]:<{min(wide, 40)}}  {means}" for letter, heading, means in lines)
    yield from (f"· {sentence}" for sentence in understood.told)
    yield from _listed([f"Row {row} left out: {why}." for row, why in understood.left_out])
    yield from (f"? {ask}" for ask in understood.asks)
    yield from _listed([f"■ {f.message} {f.remedy}" for f in understood.not_understood])
    yield from _grouped(understood.refused)


def _listed(lines):
    yield from lines[:SHOWN]
    if len(lines) > SHOWN:
        yield f"... and {len(lines) - SHOWN} more (--json tells all)."


def _grouped(refused):
    from palea.findings import group

    for f in group(refused):
        rows = f" (and {f.count - 1} more: rows {', '.join(map(str, f.rows))} ...)" if f.count > 1 else ""
        yield f"■ {f.message}{rows} {f.remedy}"


def _end(understood, kept, dry_run):
    from palea.bench.take_in.mapping import path_of

    rows = ", ".join(f"{n} in {table}" for table, n in understood.taken.items())
    if kept:
        return f"Taken in: {rows}. The mapping is kept as {path_of(understood.name)}."
    if understood.asks:
        return "Nothing was written: answer the questions above (?)."
    if not rows:
        return "Nothing was written: no row is new and passes the checks."
    return f"Would be taken in: {rows}. Nothing was written." if dry_run else "Nothing was written."


def _as_json(understood, package, kept):
    return {
        "package": str(package), "sheet": understood.grid.name, "table": understood.table, "taken_in": kept,
        "columns": [{"column": a, "heading": b, "means": c} for a, b, c in understood.with_meanings()],
        "told": list(understood.told), "left_out": [{"row": r, "why": w} for r, w in understood.left_out],
        "asks": [{"what": a.what, "says": a.says, "option": a.option, "choices": list(a.choices)} for a in understood.asks],
        "not_understood": [f.as_json() for f in (*understood.not_understood, *understood.refused)],
        "rows": understood.taken, "mapping": understood.name, "known": understood.known,
    }  # fmt: skip
