"""One table of an earlier schema as the present schema has it: its texts, its own columns, and what was done, in words.

Nothing is thrown away. A cell keeps its text to the letter unless a word was renamed; what has no place any more stands
in a column of the package's own, which every reader of data packages can read.
"""

import json
from dataclasses import dataclass, field

import pyarrow as pa
import pyarrow.compute as pc

from palea import schema
from palea.tables import formats
from palea.tables.sheet import key_columns

OWN, BEFORE = "_own", "_before"  # put behind the name of a column that would else stand where ours does
SHOWN = 5  # texts that a sentence tells


@dataclass(frozen=True)
class Carried:
    """columns : {label: pyarrow array of text}, ours first.  own : fields of the package's own, as dicts, in order.
    told : what was changed, as sentences; empty where the file stays as it is.
    """

    columns: dict = field(repr=False)
    own: tuple = ()
    told: tuple = ()


def carried(table, columns, fields, steps, version):
    """Columns of an older table -> Carried.

    columns : {label: pyarrow array of text}.  fields : what the package's own table schema says of each, as dicts.
    steps : those of schema.upgrades() that are later than the package.  version : of the package's schema.
    """
    described = {f["name"]: dict(f) for f in fields}
    told = []
    columns, described = _own_aside(table, columns, described, told)
    columns, described = _renamed(table, columns, described, steps, told)
    columns = _reworded(table, dict(columns), steps, told)
    if table.name == "analyses":
        columns = _reads_renamed(columns, steps)
    columns, misplaced = _fitting(table, columns, described, version, told)
    rows = len(next(iter(columns.values()))) if columns else 0
    _tell_new(table, columns, told)
    ours = {name: columns.get(name, pa.nulls(rows, pa.string())) for name in table.fields}
    rest = {label: texts for label, texts in columns.items() if label not in ours}
    own = [_own_field(label, described, misplaced, version, told) for label in rest]
    return Carried(ours | rest, tuple(own), tuple(told))


def _own_aside(table, columns, described, told):
    """A column that the package had of its own, under a name that the schema has given to something else since."""
    taken = {n: free(f"{n}{OWN}", columns) for n in columns if n in table.fields and described.get(n, {}).get("custom")}
    for was, now in taken.items():
        told.append(f"The package's own column {was} is called {now} now: the schema has a column {was} since.")
    return _called(taken, columns, described)


def _renamed(table, columns, described, steps, told):
    for step in steps:
        for one in step["columns"]:
            if one["table"] == table.name and one["was"] in columns and one["is"] not in columns:
                told.append(f"The column {one['was']} is called {one['is']} now.")
                columns, described = _called({one["was"]: one["is"]}, columns, described)
    return columns, described


def _called(names, columns, described):
    fields = {names.get(n, n): f | {"name": names.get(n, n)} for n, f in described.items()}
    return {names.get(n, n): texts for n, texts in columns.items()}, fields


def free(name, taken):
    """The name, or one like it that is not taken yet.

    >>> free("box_own", ["box", "box_own"])
    'box_own2'
    """
    return next(n for n in (name, *(f"{name}{i}" for i in range(2, len(taken) + 3))) if n not in taken)


def _reworded(table, columns, steps, told):
    """Words that are called otherwise now, alone in a cell or in a list."""
    for step in steps:
        for one in step["words"]:
            for name, of in table.fields.items():
                if name in columns and one["list"] in (of.vocabulary, of.list_of):
                    columns[name], changed = _word_renamed(of, columns[name], one["was"], one["is"])
                    if changed:
                        told.append(f"{_cells(changed)} of {name}: “{one['was']}” is called “{one['is']}” now.")
    return columns


def _word_renamed(of, texts, was, now):
    """(texts, how many cells changed)."""
    texts = texts.cast(pa.string())
    if of.vocabulary:
        hit = pc.fill_null(pc.equal(texts, was), False)  # noqa: FBT003 - what stands for a blank
        return pc.if_else(hit, now, texts), pc.sum(hit).as_py() or 0
    between = schema.word("text_format", of.parse)["separator"]
    new = [t and between.join(now if part == was else part for part in t.split(between)) for t in texts.to_pylist()]
    return pa.array(new, pa.string()), sum(a != b for a, b in zip(new, texts.to_pylist(), strict=True))


def _reads_renamed(columns, steps):
    """The columns that a kept answer rests on, by their present names; what cannot be read stays as it is."""
    names = {(one["table"], one["was"]): one["is"] for step in steps for one in step["columns"]}
    if not names or "reads" not in columns:
        return columns
    return columns | {"reads": pa.array([_reads(text, names) for text in columns["reads"].to_pylist()], pa.string())}


def _reads(text, names):
    try:
        told = {table: sorted(names.get((table, c), c) for c in listed) for table, listed in json.loads(text).items()}
    except (ValueError, AttributeError, TypeError):
        return text
    return json.dumps(told, sort_keys=True)


def _fitting(table, columns, described, version, told):
    """Cells that were right by the older schema and are not by ours, in a column beside; (columns, {label: of which})."""
    kept, misplaced = dict(columns), {}
    stay = key_columns(table)
    for name, of in table.fields.items():
        if name not in columns or name not in described or not _was_other(of, described[name]):
            continue
        texts = columns[name].cast(pa.string())
        unfit = [t for t in pc.unique(texts).to_pylist() if t and _unfit(of, t) and _was_right(described[name], t)]
        if not unfit:
            continue
        shown = ", ".join(f"“{t}”" for t in unfit[:SHOWN]) + (" and others" if len(unfit) > SHOWN else "")
        hit = pc.is_in(texts, pa.array(unfit, pa.string()))
        what = f"{_cells(pc.sum(hit).as_py())} of {name} with words that are no longer allowed ({shown})"
        if of.required or name in stay:
            told.append(f"{what}, left as written, since {name} must be filled in: mend by hand.")
            continue
        label = free(f"{name}{BEFORE}", kept)
        told.append(f"{what}, put into the column {label} of the package's own.")
        blank = pa.scalar(None, pa.string())
        kept[name], kept[label] = pc.if_else(hit, blank, texts), pc.if_else(hit, texts, blank)
        misplaced[label] = f"What stood in {name} by schema {version} and does not fit since."
    return kept, misplaced


def _was_other(of, before):
    """Whether a column is ruled otherwise than it was. Limits of numbers are the check's: they never lose a text."""
    rules = ("enum", "pattern", "minLength", "maxLength")
    limits = before.get("constraints") or {}
    limits = limits if isinstance(limits, dict) else {}
    own = {k: list(v) if isinstance(v, tuple) else v for k, v in of.constraints.items()}
    return before.get("type", of.type) != of.type or any(limits.get(k) != own.get(k) for k in rules)


def _unfit(of, text):
    return formats.read(of, text)[1] is not None


def _was_right(before, text):
    """Whether a text was one of the words that there were; what was wrong before stays where it is, and is told by the check."""
    limits = before.get("constraints") or {}
    allowed = limits.get("enum") if isinstance(limits, dict) else None
    return text in allowed if isinstance(allowed, list) else True


def _tell_new(table, columns, told):
    fresh = [name for name in table.fields if name not in columns]
    if fresh:
        told.append(f"{'Column' if len(fresh) == 1 else 'Columns'} added, blank: {', '.join(fresh)}.")


def _own_field(label, described, misplaced, version, told):
    """What the package says of a column of its own. One that the schema no longer has is kept as text."""
    before = described.get(label, {})
    if before.get("custom"):
        return before
    title = misplaced.get(label) or f"A column of schema {version}, which the present schema does not have."
    if label not in misplaced and before:
        told.append(f"The present schema has no column {label}: it is kept as a column of the package's own.")
    named = {key: before[key] for key in ("title", "description") if isinstance(before.get(key), str)}
    return {"name": label, "type": "string", "description": title, **named, "custom": True}


def _cells(number):
    return "1 cell" if number == 1 else f"{number} cells"
