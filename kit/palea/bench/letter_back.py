"""A questionnaire that came back, read into the package as it would be: answers, and who withholds what.

What may be published is proposed for its cell; what is withheld is not: an answer that may not be published has no place
in a package that is made to be shared. Nothing is written here: the Proposal is shown and saved by whoever asked.
"""

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from palea import schema
from palea.bench import entry
from palea.errors import PaleaError

NEEDED = ("table", "row", "column", "answer", "may be published")
YES, NO = (
    frozenset(("yes", "y", "x", "true", "1", "☑", "☒", "may be published")),
    frozenset(("no", "n", "false", "0", "withheld")),
)
LARGEST = 4 * 1024**2  # bytes
NEW = "new-"  # how the id of something begins that the sheet offers and nobody named
WITHHELD = "withheld"  # the word of the list of reasons


@dataclass(frozen=True)
class Reply:
    """One line of the sheet. row : {key column: text}.  may : whether it may be published, None where no box is ticked."""

    line: int
    table: str
    row: dict
    column: str
    answer: str
    may: bool | None


def answers_back(package, path):
    """(Proposal, sentences) of a questionnaire that was filled in: what it would enter, and what was done with the rest.

    path : CSV with the columns table, row, column, answer and “may be published”; others are not read.
    Raises PaleaError for a file that is no such sheet, and for a table, row or column that the schema does not know.
    """
    rows, sentences = {}, []
    for reply in read(path):
        field = schema.table(reply.table)[reply.column]
        key = (reply.table, tuple(reply.row.items()))
        if reply.may is False or reply.answer.casefold() == WITHHELD:
            rows.setdefault(key, {}).setdefault("why_blank", []).append(f"{reply.column}: {WITHHELD}")
            sentences.append(
                f"Line {reply.line}: {reply.column} of {_told(reply)} is withheld; its answer is not entered."
            )
        elif reply.answer.casefold() in schema.words("missing_reason"):
            rows.setdefault(key, {}).setdefault("why_blank", []).append(f"{reply.column}: {reply.answer.casefold()}")
        elif reply.answer and reply.may:
            known, why = _meant(package, field, reply)
            rows.setdefault(key, {}).update({} if why else {reply.column: known})
            sentences += [why] if why else []
        elif reply.answer:
            sentences.append(
                f"Line {reply.line}: {reply.column} of {_told(reply)} has an answer but no box ticked, so it is not"
                " entered. Write yes or no under “may be published”."
            )
    return _proposed(package, rows), tuple(sentences)


def read(path):
    """Replies of a sheet, line by line, blank ones included. Raises PaleaError where it is no questionnaire."""
    lines = list(csv.reader(io.StringIO(_text(Path(path)), newline=""), delimiter=_separator(Path(path))))
    heads = [head.strip().casefold() for head in lines[0]] if lines else []
    missing = [name for name in NEEDED if name not in heads]
    if missing:
        msg = f"{path} is no questionnaire of ours: it has no column {', '.join(missing)}. Take the file that came with the letter."
        raise PaleaError(msg)
    at = {name: heads.index(name) for name in NEEDED}
    return [_reply(number, cells, at) for number, cells in enumerate(lines[1:], 2) if any(map(str.strip, cells))]


def _text(path):
    try:
        if path.stat().st_size > LARGEST:
            msg = f"{path} is larger than {LARGEST // 1024**2} MiB, so it is no questionnaire."
            raise PaleaError(msg)
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        return path.read_text(encoding="cp1252", errors="replace")
    except OSError as fault:
        msg = f"{path} cannot be read: {fault.strerror or fault}."
        raise PaleaError(msg) from None


def _separator(path):
    """The sign between cells: a spreadsheet of another country saves with semicolons."""
    first = _text(path).partition("\n")[0]
    return ";" if first.count(";") > first.count(",") else ","


def _reply(number, cells, at):
    told = {name: cells[i].strip() if i < len(cells) else "" for name, i in at.items()}
    pairs = [part.partition("=") for part in told["row"].split(";")]
    keys = schema.table(told["table"]).primary_key
    row = {name.strip(): value.strip() for name, _, value in pairs}
    if set(row) != set(keys) or not all(row.values()):
        msg = f"Line {number}: “{told['row']}” does not name a row of {told['table']}. It is written as {'=...; '.join(keys)}=..."
        raise PaleaError(msg)
    tick = told["may be published"].casefold()
    may = True if tick in YES else False if tick in NO else None
    return Reply(number, told["table"], row, told["column"], told["answer"], may)


def _told(reply):
    return ", ".join(reply.row.values())


def _meant(package, field, reply):
    """(text for the cell, why there is none): a column that names a row of another table takes its id, or its plain name."""
    key = schema.table(reply.table).link(reply.column) if reply.column in _links(reply.table) else None
    if key is None:
        return reply.answer, ""
    rows = package[key.table]
    ids = rows[key.to[0]].astype("string")
    named = rows["name"].astype("string") if "name" in rows.columns else ids
    same = ids.eq(reply.answer).fillna(value=False) | named.str.casefold().eq(reply.answer.casefold()).fillna(
        value=False
    )
    if same.any():
        return str(ids[same].iloc[0]), ""
    return "", (
        f"Line {reply.line}: “{reply.answer}” is no {field.title.lower()} of this package. Enter it in {key.table} first,"
        " then take the sheet in again."
    )


def _links(table):
    return {name for key in schema.table(table).foreign_keys for name in key.fields}


def _proposed(package, rows):
    """All rows as one Proposal, table by table; what the cells said of why they are blank is kept."""
    by_table = {}
    for (table, key), cells in rows.items():
        # A row that is new is named by an answer, too: the part of a preparation by the material that it is.
        row = dict(key) | {name: text for name, text in cells.items() if name in dict(key)}
        if cells and not any(value.startswith(NEW) for value in row.values()):
            by_table.setdefault(table, []).append(row | _with_reasons(package, table, row, cells))
    if not by_table:
        return entry.propose(package, "runs", [])
    (first, some), *more = by_table.items()
    proposal = entry.propose(package, first, some)
    for table, others in more:
        proposal = proposal.then(table, others)
    return proposal


def _with_reasons(package, table, key, cells):
    """Cells with `why_blank` as one text, in place of what it said of the columns that are answered now."""
    if "why_blank" not in schema.table(table).fields:
        return {name: text for name, text in cells.items() if name != "why_blank"}
    frame = package[table]
    for name, value in key.items():
        frame = frame[frame[name].astype("string").eq(value)]
    before = frame["why_blank"].iloc[0] if len(frame) and isinstance(frame["why_blank"].iloc[0], str) else ""
    told = [part.strip() for part in before.split(";") if part.strip()]
    fresh = cells.get("why_blank", [])
    answered = {*cells, *(part.partition(":")[0] for part in fresh)}
    kept = [part for part in told if part.partition(":")[0].strip() not in answered]
    if not (fresh or told):
        return cells
    return cells | {"why_blank": "; ".join([*kept, *fresh])}
