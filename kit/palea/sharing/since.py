"""What was done to the data since an answer was kept: as the journal tells it, and as the files show it."""

import json

from palea import schema
from palea.errors import PaleaError
from palea.tables import outside

SHOWN = 3  # changes that a sentence tells; the rest is counted
RERUN = ("ran_at", "data_hash")  # cells of an analysis that change when it is run again


def lines(package, recorded):
    """Lines of the journal, after the one that kept the answer, about cells that it rests on."""
    journal = package.journal()
    kept = max((n for n, line in enumerate(journal) if _keeps(line, recorded)), default=None)
    if kept is None:
        return []
    return [line for line in journal[kept + 1 :] if _touches(line, recorded.reads)]


def _keeps(line, recorded):
    if line.get("table") != "analyses" or line.get("kind") == "removed":
        return False
    row = loaded(line.get("row"))
    if isinstance(row, dict):  # many rows at once
        return line.get("kind") == "added"
    return row == [recorded.analysis_id] and (line.get("kind") == "added" or line.get("column") in RERUN)


def _touches(line, reads):
    columns = reads.get(line.get("table"))
    return columns is not None and (line.get("column") is None or line["column"] in columns)


def told(package, recorded, found):
    """What was changed, as sentences. found : what `lines` gave."""
    said = [f"{change(line)}." for line in found[:SHOWN]]
    said += [f"The journal tells {len(found) - SHOWN} more." for _ in range(len(found) > SHOWN)]
    foreign = [name for name in recorded.reads if name in package.resources and outside.is_foreign(package, name)]
    said += [f"{package.table_path(name)} was changed outside palea: its hash is not the one that was kept." for name in foreign]
    if not said:
        tables = ", ".join(name for name in recorded.reads if name in package.resources)
        said.append(f"Neither journal nor hashes of the files say what; it rests on {tables}.")
    return " ".join(said)


def change(line):
    """One line of the journal in words."""
    where = f"{line['table']}, {_key(line.get('row'))}"
    who = f"{line.get('who', 'somebody')}, {str(line.get('when', ''))[:10]}"
    if line.get("column"):
        return f"{where}: {line['column']} was {line.get('old') or 'blank'} and is {line.get('new') or 'blank'} ({who})"
    return f"{where}: {line.get('kind', 'changed')} ({who})"


def _key(row):
    key = loaded(row)
    if isinstance(key, dict):
        return f"{key.get('rows', 'several')} rows"
    return ", ".join(map(str, key)) if isinstance(key, list) else str(row)


def undone(package, found):
    """The package as it was before these lines of the journal; None where they do not tell it cell by cell."""
    try:
        for line in reversed(found):
            package = _without(package, line)
    except (PaleaError, ValueError, KeyError, TypeError):
        return None
    return package


def _without(package, line):
    table = schema.table(line["table"])
    key = dict(zip(table.primary_key, loaded(line["row"]), strict=True))
    if line["kind"] == "changed" and line.get("column"):
        return package.having(table.name, [key | {line["column"]: line.get("old")}])
    if line["kind"] == "removed":
        return package.having(table.name, [key | loaded(line["old"])])
    frame = package[table.name]
    mine = frame[list(key)].astype("string").eq(list(map(str, key.values()))).all(axis="columns")
    return package.replacing(table.name, frame[~mine].reset_index(drop=True))


def loaded(text):
    """The value of a JSON text of the journal; None for what is none."""
    try:
        return json.loads(text) if isinstance(text, str) else None
    except (ValueError, RecursionError):
        return None
