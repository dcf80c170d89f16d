"""`palea status`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, print_json


@app.command()
@answers
def status(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
    treatments: Annotated[bool, typer.Option("--treatments", help="Also the checklist of each treatment.")] = False,
):
    """Say what is left of each lot, which trials run and what is due, and what is not recorded, as in `palea status my-trial`."""
    from dataclasses import asdict

    import palea
    from palea.bench.status import status as stand

    opened = palea.open_package(package)
    found = stand(opened)
    if as_json:
        print_json({"package": str(opened.source), **asdict(found)})
        return
    typer.echo("\n\n".join(filter(None, _told(found, treatments))))


def _told(found, treatments):
    yield _lots(found.lots)
    yield _trials(found.trials)
    yield _stages(found.stages)
    yield _checklist(
        "Checklist (reported of applicable; withheld and not recorded count as unreported)", found.checklist
    )
    if treatments:
        for name in dict.fromkeys(row["treatment"] for row in found.treatments):
            yield _checklist(f"Checklist of {name}", [r for r in found.treatments if r["treatment"] == name])


def _lots(rows):
    lines = [f"  {r['lot_id']:<16} {_left(r):<28} {r['seed_unit'] or ''}{_keep(r)}" for r in rows]
    return "\n".join(["Lots, and what is left by the book", *(lines or ["  none"])])


def _left(row):
    if row["left_g"] is not None:
        return f"{row['left_g']:.6g} g"
    if row["left_seed_units"] is not None:
        return f"{row['left_seed_units']:.0f} seed units"
    return "unknown: not all was weighed"


def _keep(row):
    return ", keep-sample" if row["keep_sample"] else ""


def _trials(rows):
    lines = [
        f"  {r['trial_id']:<8} {r['status'] or 'no state':<9} {r['units']:.0f} units, {r['visits']:.0f} visits{_due(r)}"
        for r in rows
    ]
    return "\n".join(["Trials", *(lines or ["  none"])])


def _due(row):
    last = f", last on {row['last_visit'][:10]}" if row["last_visit"] else ""
    return f"{last}; next to be looked at on day {row['next_day']:.0f}, {row['next_on']}" if row["next_day"] is not None else last


def _stages(rows):
    bare = [r["stage"] for r in rows if r["tables"] and not r["rows"]]
    part = [f"{r['stage']} (no {', '.join(r['empty'])})" for r in rows if r["rows"] and r["empty"]]
    told = []
    if bare:
        told.append(f"  without a record: {', '.join(bare)}")
    if part:
        told.append(f"  in part: {'; '.join(part)}")
    return "\n".join(["Stages", *(told or ["  every stage has a record"])])


def _checklist(title, rows):
    lines = [
        f"  {r['stage']:<12} {r['weight']:<12} {r['reported']} of {r['applicable']}{_open(r)}"
        for r in rows
        if r["applicable"]
    ]
    return "\n".join([title, *(lines or ["  nothing applies yet"])])


def _open(row):
    named = {"missing": "missing", "withheld": "withheld", "not_recorded": "not recorded"}
    told = [f"{row[key]} {word}" for key, word in named.items() if row[key]]
    return f" ({', '.join(told)})" if told else ""
