"""Tables and columns that are not part of the schema: kept as they are, and held to what the package itself says
of them.

The reference validator does it, since any type and constraint of the standard may be used there. It is handed only what
was found safe to open: no address, no link, no path out of the package.
"""

import json
import subprocess
import sys

from palea.findings import Finding
from palea.tables import descriptor
from palea.tables.paths import printable

PATIENCE = 20  # seconds for the patterns of one table
_MOST = 100  # faults of one table that are told


def check(package):
    """Findings about resources and columns of the package's own."""
    own = [name for name in package.names if len(package.extra_columns(name).columns) and package.own_fields(name)]
    return [*(f for name in own for f in _columns(package, name)), *_resources(package)]


def _columns(package, name):
    """Columns of one's own in a table of the schema, checked apart from the rest."""
    extra = package.extra_columns(name)
    fields = [field for field in package.own_fields(name) if field["name"] in extra.columns]
    order = [field["name"] for field in fields]
    rows = extra[order].astype(object).where(extra[order].notna(), "").to_numpy().tolist()
    described = {
        "$schema": descriptor.thaw(package.descriptor).get("$schema"),
        "fields": [{"name": "palea_row", "type": "string"}, *fields],  # so that no row is blank as a whole
    }
    return _told(name, {"rows": [["palea_row", *order], *(["x", *row] for row in rows)], "schema": described}, fields)


def _resources(package):
    """Resources of one's own."""
    raw = descriptor.without_profiles(package.descriptor)
    kept = {k: raw[k] for k in ("$schema", "name") if k in raw}
    found = []
    for name in package.extra_names:
        task = {"package": {**kept, "resources": raw["resources"]}, "folder": str(package.folder), "name": name}
        found += _told(name, task, [package.resources[name], package.own_schema(name)])
    return found


def _told(name, task, described):
    """What the reference validator says of a task, as Findings.

    A pattern may be written so that it runs for years, so whatever has one is checked by a process of its own, which
    is stopped when it takes too long.
    """
    try:
        errors = _apart(task) if _has_pattern(descriptor.thaw(described)) else validated(task)
    except subprocess.TimeoutExpired:
        says = f"{name} cannot be checked: one of its patterns takes longer than {PATIENCE} seconds."
        return [_finding(name, None, "", says)]
    except Exception as error:  # noqa: BLE001 the library raises many kinds; what it cannot check is not called sound
        return [_finding(name, None, "", f"{name} cannot be checked: {printable(str(error), 160)}.")]
    return [_finding(name, row, field, f"{printable(note, 200)}.") for row, field, note in errors]


def validated(task):
    """What the reference validator says of rows with a schema, or of one resource: [(row, field, note)]."""
    from frictionless import Package, Resource, Schema

    if "rows" in task:
        report = Resource(task["rows"], schema=Schema.from_descriptor(task["schema"])).validate()
    else:
        report = Package.from_descriptor(task["package"], basepath=task["folder"]).get_resource(task["name"]).validate()
    errors = [*report.errors, *(e for task in report.tasks for e in task.errors)][:_MOST]
    return [(getattr(e, "row_number", None), getattr(e, "field_name", ""), e.note or e.title) for e in errors]


def main():
    """Read a task on standard input, write what `validated` says of it on standard output, both as JSON."""
    sys.stdout.write(json.dumps(validated(json.load(sys.stdin))))


def _apart(task):
    command = [sys.executable, "-c", f"from {__name__} import main; main()"]
    done = subprocess.run(  # noqa: S603 - our own interpreter, and our own words
        command, input=json.dumps(task), capture_output=True, text=True, encoding="utf-8", timeout=PATIENCE, check=False
    )
    if done.returncode:
        raise ValueError((done.stderr.strip().splitlines() or ["it ended without a word"])[-1])
    return json.loads(done.stdout)


def _has_pattern(described):
    """Whether a pattern stands anywhere in a piece of JSON."""
    if isinstance(described, dict):
        return "pattern" in described or any(map(_has_pattern, described.values()))
    return isinstance(described, list) and any(map(_has_pattern, described))


def _finding(table, row, field, message):
    return Finding(
        "custom.invalid",
        "error",
        table,
        row,
        field or "",
        None,
        message,
        "This table or column is the package's own; change it, or what the package says of it.",
    )
