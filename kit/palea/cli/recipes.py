"""`palea recipes`."""

from typing import Annotated

import typer

from palea.cli.app import answers, app, print_json


@app.command()
@answers
def recipes(as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False):
    """List every calculation with its unit of replication, options and published source, as in `palea recipes`."""
    from palea.analyses.catalogue import as_rows

    rows = as_rows()
    if as_json:
        print_json({"recipes": rows})
        return
    for r in rows:
        typer.echo(f"{r['id']}/{r['version']}  {r['title']}")
        typer.echo(f"    unit of replication: {r['unit_of_replication']}; reads {', '.join(r['reads'])}")
        for name, option in r["options"].items():
            typer.echo(f"    --option {name}={option['default']}  {option['help']}")
        typer.echo(f"    source: {r['source']}")
        for v in r["earlier"]:
            can = "can still be run" if v["can_be_run"] else "can no longer be run"
            typer.echo(f"    version {v['version']} {can}; changed since: {v['changed']}")
