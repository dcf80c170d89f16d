"""`palea check`."""

from pathlib import Path
from typing import Annotated

import typer

from palea.cli.app import answers, app, note, print_json
from palea.findings import counted


@app.command()
@answers
def check(
    package: Annotated[Path, typer.Argument(help="A folder, its datapackage.json, or a .zip.")],
    as_json: Annotated[bool, typer.Option("--json", help="One JSON document on standard output.")] = False,
    report: Annotated[Path | None, typer.Option(help="Write the findings as a page (.html).")] = None,
    purpose: Annotated[str, typer.Option("--for", help="“sharing” adds what matters before publication.")] = "",
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the report.")] = False,
):
    """Say all that is wrong or missing in a package, worst first, as in `palea check my-trial`."""
    import palea
    opened = palea.open_package(package)
    findings = _findings(opened, purpose)
    if report:
        from palea.checks.report import write

        write(opened, findings, report, replace=replace)
        note(f"The findings are written to {report}.")
    errors = sum(f.severity == "error" for f in findings)
    if as_json:
        print_json(_document(opened, findings))
    else:
        typer.echo(_told(findings))
    raise typer.Exit(1 if errors else 0)


def _findings(package, purpose):
    import palea
    from palea.checks import sharing
    from palea.errors import PaleaError

    if purpose not in ("", "sharing"):
        msg = f"--for takes “sharing”, not “{purpose}”."
        raise PaleaError(msg)
    return sharing.check(package) if purpose else palea.check(package)


def _document(package, findings):
    from palea.checks import by_treatment, checklist

    answers = checklist.evaluate(package)
    number = {s: sum(f.count for f in findings if f.severity == s) for s in ("error", "warning", "gap")}
    return {
        "package": str(package.source), "schema_version": package.schema_version,
        "errors": number["error"], "warnings": number["warning"], "gaps": number["gap"],
        "checklist": checklist.tally(answers), "checklist_by_treatment": by_treatment.tally(package, answers),
        "findings": [f.as_json() for f in findings],
    }


def _told(findings):
    lines, table = [], None
    for finding in findings:
        if (finding.severity, finding.table) != table:
            table = finding.severity, finding.table
            lines.append("" if lines else None)
        lines.append(str(finding))
    if not findings:
        return "Nothing found."
    return "\n".join([*(line for line in lines if line is not None), "", counted(findings)])
