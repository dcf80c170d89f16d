"""Tables and columns that are not part of the schema: kept as they are, and held to what the package itself says
of them.

The reference validator does it, since any type and constraint of the standard may be used there. It is handed only what
was found safe to open: no address, no link, no path out of the package.
"""

from palea.findings import Finding
from palea.tables import descriptor
from palea.tables.paths import printable

_MOST = 100  # faults of one table that are told


def check(package):
    """Findings about resources and columns of the package's own."""
    own = [name for name in package.names if len(package.extra_columns(name).columns) and package.own_fields(name)]
    return [*(f for name in own for f in _columns(package, name)), *_resources(package)]


def _columns(package, name):
    """Columns of one's own in a table of the schema, checked apart from the rest."""
    from frictionless import Resource, Schema

    extra = package.extra_columns(name)
    fields = [field for field in package.own_fields(name) if field["name"] in extra.columns]
    order = [field["name"] for field in fields]
    rows = [order, *extra[order].astype(object).where(extra[order].notna(), "").to_numpy().tolist()]

    def validate():
        described = {
            "$schema": descriptor.thaw(package.descriptor).get("$schema"),
            "fields": [{"name": "palea_row", "type": "string"}, *fields],
        }
        numbered = [["palea_row", *rows[0]], *(["x", *row] for row in rows[1:])]  # so that no row is blank as a whole
        return Resource(numbered, schema=Schema.from_descriptor(described)).validate()

    return _told(name, validate)


def _resources(package):
    """Resources of one's own."""
    if not package.extra_names:
        return []
    from frictionless import Package

    raw = descriptor.without_profiles(package.descriptor)
    kept = {k: raw[k] for k in ("$schema", "name") if k in raw}

    def whole():
        return Package.from_descriptor({**kept, "resources": raw["resources"]}, basepath=str(package.folder))

    try:
        described = whole()
    except Exception as error:  # noqa: BLE001 the library raises many kinds for a descriptor that it cannot take
        return [_finding("", None, "", f"The resources cannot be read by the standard: {printable(str(error), 160)}.")]
    return [f for name in package.extra_names for f in _told(name, described.get_resource(name).validate)]


def _told(name, validate):
    """The validator's report as Findings."""
    try:
        report = validate()
    except Exception as error:  # noqa: BLE001 as above; what it cannot check is not called sound
        return [_finding(name, None, "", f"{name} cannot be checked: {printable(str(error), 160)}.")]
    errors = [*report.errors, *(e for task in report.tasks for e in task.errors)][:_MOST]
    return [
        _finding(
            name, getattr(e, "row_number", None), getattr(e, "field_name", ""), f"{printable(e.note or e.title, 200)}."
        )
        for e in errors
    ]


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
