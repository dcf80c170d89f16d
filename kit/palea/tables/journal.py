"""The journal: one JSON object a line, each with the hash of the line before, so that no line can be altered unseen."""

import hashlib
import json

import pandas as pd

from palea import schema
from palea.findings import Finding
from palea.tables import descriptor, paths, writing
from palea.tables.sheet import DTYPES, TEXT

MOST_ROWS_APART = 20  # rows added to a table in one save that still get a line each


def read(folder):
    """The lines as a list of dicts, oldest first; lines that are no JSON object are left out (`verify` names them)."""
    return [line for line in map(_parsed, raw_lines(folder)) if line is not None]


def frame(folder):
    """The lines as a frame with the columns of the schema's journal table."""
    table, lines = schema.table("journal"), read(folder)
    columns = {
        name: pd.Series([_fit(line.get(name), of) for line in lines], dtype=DTYPES.get(of.type, TEXT))
        for name, of in table.fields.items()
    }
    return pd.DataFrame(columns)


def raw_lines(folder):
    """The lines as bytes, without their line feeds; [] where there is no journal yet."""
    data = _data(folder)
    return data.removesuffix(b"\n").split(b"\n") if data else []


def _data(folder):
    path = paths.inside(folder, descriptor.JOURNAL)
    return path.read_bytes() if path.is_file() else b""


def digest(line):
    """The hash that the line after this one carries."""
    return f"sha256:{hashlib.sha256(line).hexdigest()}"


def verify(folder):
    """Findings about lines that were altered, cut off, added or put in another order; [] if all is as written.

    Each line carries the hash of the one before; number and hash of the last line stand in the descriptor.
    """
    data, lines = _data(folder), raw_lines(folder)
    broken = next(filter(None, (_fault(lines, n) for n in range(len(lines)))), None)
    return [broken] if broken else _end(data, lines, descriptor.own_facts(descriptor.read(folder)))


def appended(folder, entries):
    """The journal's bytes with these entries (dicts without line number and hash) at its end -> (bytes, palea
    facts).
    """
    lines = raw_lines(folder)
    names = list(schema.table("journal").fields)
    for entry in entries:
        whole = {"line": len(lines) + 1, **entry, "before": digest(lines[-1]) if lines else None}
        lines.append(json.dumps({n: whole[n] for n in names if whole.get(n) is not None}, ensure_ascii=False).encode())
    facts = {"journal_lines": len(lines), "journal_hash": digest(lines[-1]) if lines else ""}
    return b"".join(line + b"\n" for line in lines), facts


def entries(table, changes, added, stamp, reason, *, words="", as_typed=None):
    """Entries for one table.

    changes : frame as `differences.of_table` gives it.  added : frame of the rows added, as texts.
    as_typed : {column: text or {"value", "unit", "factor"}}, what a person typed where it was converted; {} for none.
    Where many rows were converted, "value" is {primary key as a tuple of texts: text}.
    """
    same = {"when": stamp.when, "who": stamp.who, "table": table.name, "reason": reason, "words": words or None}
    typed = as_typed or {}
    for change in changes.to_dict("records"):
        if change["kind"] != "added":
            yield {
                **same,
                "kind": change["kind"],
                "row": change["key"],
                "column": _or_none(change["column"]),
                "old": _or_none(change["old"]),
                "new": _or_none(change["new"]),
                **_typed(_in_row(typed.get(change["column"]), change["key"])),
            }
    yield from _of_added(table, added, same, typed)


def _of_added(table, added, same, typed):
    keys = [
        json.dumps(key, ensure_ascii=False)
        for key in added[list(table.primary_key)].astype(object).where(lambda f: f.notna(), None).to_numpy().tolist()
    ]
    if len(keys) > MOST_ROWS_APART:
        whole = {"rows": len(keys), "first": json.loads(keys[0]), "last": json.loads(keys[-1])}
        content = hashlib.sha256(writing.csv_bytes(writing.texts_of(added))).hexdigest()
        yield {
            **same,
            "kind": "added",
            "row": json.dumps(whole, ensure_ascii=False),
            "new": json.dumps({"rows": len(keys), "sha256": content}),
            **_of_many(typed, keys),
        }
        return
    for key, row in zip(keys, added.to_dict("records"), strict=True):
        here = {c: said for c, v in typed.items() if (said := _in_row(v, key)) is not None}
        shown = {c: v if isinstance(v, str) else v.get("value") for c, v in here.items()}
        unit = _unit_of(here) if any(isinstance(v.get("value"), dict) for v in typed.values() if not isinstance(v, str)) else {}
        filled = json.dumps({c: v for c, v in row.items() if not pd.isna(v)}, ensure_ascii=False)
        yield {
            **same,
            "kind": "added",
            "row": key,
            "new": filled,
            **({"typed_value": json.dumps(shown, ensure_ascii=False)} if shown else {}),
            **unit,
        }


def _in_row(said, key):
    """What was typed in the row of this key; None where nothing was converted there."""
    if said is None or isinstance(said, str) or not isinstance(said.get("value"), dict):
        return said
    text = said["value"].get(_as_texts(key))
    return None if text is None else {**said, "value": text}


def _as_texts(key):
    return tuple("" if part is None else str(part) for part in json.loads(key))


def _of_many(typed, keys):
    """What was typed in many rows at once: a list of texts a column, in the order of the rows, null where none was."""
    many = {c: v for c, v in typed.items() if not isinstance(v, str) and isinstance(v.get("value"), dict)}
    listed = {c: [v["value"].get(_as_texts(key)) for key in keys] for c, v in many.items()}
    return {"typed_value": json.dumps(listed, ensure_ascii=False), **_unit_of(many)} if listed else {}


def _unit_of(typed):
    """Unit and factor: of the one column that was converted; of several the units alone, by column."""
    if len(typed) == 1:
        said = next(iter(typed.values()))
        return {"typed_unit": said.get("unit"), "typed_factor": said.get("factor")}
    units = {c: f"{v.get('unit')} × {v.get('factor'):g}" for c, v in typed.items()}
    return {"typed_unit": json.dumps(units, ensure_ascii=False)} if units else {}


def _typed(typed):
    if typed is None or isinstance(typed, str):
        return {"typed_value": typed}
    return {f"typed_{part}": typed.get(part) for part in ("value", "unit", "factor")}


def _or_none(value):
    return None if pd.isna(value) or value == "" else value


def _parsed(line):
    try:
        value = json.loads(line)
    except (ValueError, RecursionError):
        return None
    return value if isinstance(value, dict) else None


def _fit(value, of):
    if of.type in DTYPES:
        return value if isinstance(value, int | float) and not isinstance(value, bool) else None
    return value if value is None or isinstance(value, str) else json.dumps(value)


def _fault(lines, position):
    """The Finding about the chain at this line, or None."""
    line = _parsed(lines[position])
    wanted = digest(lines[position - 1]) if position else None
    if line is not None and line.get("before") == wanted and line.get("line") == position + 1:
        return None
    what = f"This line does not follow line {position}: that one was altered, or lines are missing or out of order"
    if line is None:
        what = "This line is no JSON object"
    elif not position:
        what = "The journal does not begin with its first line"
    return _finding("journal.chain", position + 1, f"{what}.")


def _end(data, lines, facts):
    number, last = facts.get("journal_lines", 0), digest(lines[-1]) if lines else ""
    if data and not data.endswith(b"\n"):
        return [_finding("journal.end", len(lines), "The last line is cut off: its line feed is missing.")]
    if number == len(lines) and facts.get("journal_hash", "") == last:
        return []
    what = (
        f"The descriptor knows {number} lines, there are {len(lines)}"
        if number != len(lines)
        else "The last line is not the one that was written"
    )
    return [_finding("journal.end", len(lines) or None, f"{what}.")]


def _finding(rule, row, message):
    return Finding(
        rule,
        "error",
        "journal",
        row,
        "",
        None,
        message,
        "Put journal.jsonl back from a copy that was shared or backed up.",
    )
