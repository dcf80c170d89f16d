"""The schema's tables as pandera schemas, for who works with frames of their own and wants them held to it.

`palea check` does not use them: it checks distinct values and whole columns by itself (`constraints`), several times as
fast. That both find the same is a test.
"""

from palea.tables import formats
from palea.tables.sheet import dtype


def pandera_schema(table, links=None):
    """The pandera schema of one table, for a typed frame with exactly its columns.

    table : schema.read.Table.  links : {column: allowed keys} for links of one column to other tables, or None.
    The text of each failed check is the rule's id. Missing values pass unless the column is required or a key.
    """
    import pandera.pandas as pa  # 0.4 s, so only where a frame is checked

    columns = {name: _column(pa, of, table, (links or {}).get(name)) for name, of in table.fields.items()}
    return pa.DataFrameSchema(columns, strict=True, unique=list(table.primary_key), report_duplicates="exclude_first")


def _column(pa, of, table, linked):
    checks = list(_checks(pa, of)) + ([pa.Check.isin(linked, error="link.broken")] if linked is not None else [])
    return pa.Column(
        dtype(of), checks, nullable=not (of.required or of.name in table.primary_key), metadata={"unit": of.unit}
    )


def _checks(pa, of):
    """The limits of a field as pandera checks."""
    limits, separated = of.constraints, "separator" in formats.text_form(of)
    ranges = {
        "minimum": pa.Check.ge,
        "maximum": pa.Check.le,
        "exclusiveMinimum": pa.Check.gt,
        "exclusiveMaximum": pa.Check.lt,
    }
    for name, check in ranges.items():
        if name in limits:
            yield check(limits[name], error="value.range")
    if "enum" in limits and not separated:
        yield pa.Check.isin(list(limits["enum"]), error="value.word")
    if "pattern" in limits:
        yield pa.Check(lambda series, pattern=limits["pattern"]: series.str.fullmatch(pattern), error="value.pattern")
    if {"minLength", "maxLength"} & set(limits):
        yield pa.Check.str_length(limits.get("minLength"), limits.get("maxLength"), error="value.length")
