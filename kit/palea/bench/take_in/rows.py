"""A sheet whose rows are rows of one table: lots, tests, measurements, what loggers wrote."""

from palea import schema
from palea.bench.take_in import mapping as mappings
from palea.bench.take_in import written
from palea.bench.take_in.recognise import LOGGED

WHY_BLANK = "why blank"  # the format of a column that holds reasons for blanks


def rows_of(table, layout, columns, rows, mapping, cells, ids):
    """({table: rows as texts}, {(table, key): (row, None)}) of all rows that could be read whole enough to be kept.

    A cell that cannot be read is told and left blank; where the row cannot be without it, the row is left out and told.
    """
    known = schema.table(table)
    used = [c for c in columns if c.field and not c.why]
    given = dict(mapping.given) | (_logged(layout, used, rows, mapping, cells, given=mapping.given) if table == LOGGED else {})
    missing = [n for n, of in known.fields.items() if of.required and n not in given and n not in {c.field for c in used}]
    for name in missing:
        of = known[name]
        hint = "{row}" if known.primary_key == (name,) else f"{of.example}"
        whole = f"sheet-{hint}" if hint == "{row}" else hint
        cells.notes.ask(f"given.{name}", f"No column says {of.title.lower()} ({name}), which every row needs.",
                        f'Say --given "{name}={whole}"; {{Heading}} puts in that column, {{row}} the row.')  # fmt: skip
    found, origin = [], {}
    for number, texts in rows:
        row = _row(known, used, given, number, texts, cells, ids)
        key = (table, tuple(row.get(k, "") for k in known.primary_key)) if row is not None else None
        if key in origin:
            first = origin[key][0] + 1
            cells.notes.cell(number, None, "twice", f"the row has the same {', '.join(known.primary_key)} as row {first}.",
                             "Keep one of the two, or tell them apart.")  # fmt: skip
        elif key:
            found.append(row)
            origin[key] = number, None
    cells.typed = {name: said for name, said in cells.typed.items() if said["value"]}
    return ({table: found} if found else {}), origin


def _row(known, used, given, number, texts, cells, ids):
    """One row as texts by column; None where it is told why it cannot be kept."""
    row, reasons, whole = {}, [], True
    for column in used:
        of = known[column.field]
        text = texts[column.heading]
        value, reason = cells.read(of, number, column.position, text, column.factor) if text else ("", "")
        whole &= not (value is None and of.required)
        if reason:
            reasons.append((of.name, reason))
        if value:
            row[of.name] = _id(known, of.name, value, ids)
            if column.factor != 1:
                said = cells.typed.setdefault(of.name, {"value": {}, "unit": column.unit, "factor": column.factor})
                said["value"][number] = text
    for name, template in given.items():
        if name in known.fields and not row.get(name):
            row[name] = _id(known, name, mappings.filled(template, {**texts, "row": str(number + 1)}).strip(), ids)
    _reasons(known, row, reasons)
    return row if whole else None


def _id(known, name, text, ids):
    """The identifier that a text means where the column names a row elsewhere; the text else, which the check then names."""
    link = known.link(name)
    return (ids.find(link.table, text) or text) if link else text


def _reasons(known, row, reasons):
    """Reasons for blanks, where the table has a column for them."""
    if not reasons:
        return
    if "missing" in known.fields:
        row["missing"] = reasons[0][1]
    where = next((n for n, of in known.fields.items() if of.parse == WHY_BLANK), "")
    if where:
        row[where] = "; ".join(f"{name}: {reason}" for name, reason in reasons)


def _logged(layout, used, rows, mapping, cells, *, given):
    """What follows for every row of a logger's file: its quantity from its unit, single readings, the clock's offset."""
    found, fields = {}, {c.field: c for c in used}
    units = {u for c in used if c.field == "value" and (u := c.unit)}
    if "unit" in fields:
        units = {written.unit(t[fields["unit"].heading]) for _, t in rows[:200]}
    if len(units) == 1 and "unit" not in fields and (only := next(iter(units))):
        found["unit"] = only
    fits = [w for w in schema.words("condition") if schema.word("condition", w)["unit"] in units]
    if "quantity" not in fields and "quantity" not in given:
        fits = fits or schema.words("condition")
        cells.notes.ask("given.quantity", "What the logger measured is not said.",
                        f'Say --given "quantity={fits[0]}", or another of: {", ".join(fits)}.', fits)  # fmt: skip
    if "of_the_day" not in fields and "of_the_day" not in given:
        found["of_the_day"] = "reading"
        cells.notes.tell("Each row is a single reading.")
    _offset(layout, mapping, cells)
    return found


def _offset(layout, mapping, cells):
    """How far the logger's clock is from UTC: as said, or by the zone that stands above the table."""
    if mapping.offset:
        cells.offset = mapping.offset
        return
    name, offset = written.zone_in(layout.above.values())
    if offset:
        cells.offset = offset
        cells.notes.tell(f"The clock is {name}, {offset} from UTC all through (RFC 5322, 4.3). Say --offset where that is not so.")
    else:
        cells.notes.tell("How far the clock is from UTC is not said; moments stay as the wall clock showed them (--offset +01:00).")
