"""What a reader still needs, cell by cell: the open items of the checklist as questions that somebody can answer.

Each question names the table, the row and the column that its answer belongs into, so that a filled-in questionnaire can
be read back. Where the answer lives in rows that are not there yet, a few new ones are offered.
"""

from dataclasses import dataclass

from palea import schema
from palea.checks.checklist import State
from palea.errors import PaleaError

OPEN = (State.WITHHELD, State.MISSING, State.NOT_RECORDED)
NEW = "new-"  # how the id of something begins that is not in the package yet
NEW_ROWS = 3  # rows that are offered where a step or a part of a preparation is asked for and none is there
RESPONSIBLE = (
    "withheld_by",
    "contractor",
    "done_by",
    "tested_by",
    "visited_by",
    "measured_by",
    "taken_by",
    "identified_by",
    "made_by",
)


@dataclass(frozen=True)
class Question:
    """One cell that is open. row : pairs of key column and value, a new row where `new`, () where words have to do.

    items : of the checklist that ask for it.  people : ids of those who could answer.  about : id of the subject.
    """

    items: tuple[str, ...]
    words: str
    weight: str
    stage: str
    table: str
    row: tuple[tuple[str, str], ...]
    column: str
    state: State
    people: tuple[str, ...] = ()
    about: str = ""
    new: bool = False

    @property
    def row_id(self):
        """The row as the questionnaire writes it: “run_id=R-1; step=2”."""
        return "; ".join(f"{name}={value}" for name, value in self.row)


def questions(story, about=None):
    """Questions on all open items, on those of one run, lot, material or trial, or on those that one person can answer.

    Raises PaleaError for an id that nothing in the package bears.
    """
    every = _merged(_every(story))
    if about is None:
        return every
    people = {row["person_id"] for row in story.rows("people")}
    if about not in people and about not in _ids(story):
        msg = f"Nothing in this package is called “{about}”. Name a run, a lot, a material, a trial or a person by its id."
        raise PaleaError(msg)
    return [q for q in every if about in (q.people if about in people else (q.about, *(value for _, value in q.row)))]


def _ids(story):
    """Every id of a row that a checklist item can be about."""
    tables = {item["subject"] for item in schema.checklist()} - {""}
    return {row[schema.table(t).primary_key[0]] for t in tables for row in story.rows(t)}


def _every(story):
    items = {item["id"]: item for item in schema.checklist()}
    for answer in story.answers:
        if answer.state in OPEN and answer.about and answer.columns:
            item = items[answer.item]
            people = _people(story, answer)
            for row, new, columns in _cells(story, item, answer):
                for column in columns:
                    yield Question(
                        (answer.item,),
                        answer.question,
                        answer.weight,
                        answer.stage,
                        answer.where,
                        row,
                        column,
                        answer.state,
                        people,
                        answer.subject,
                        new,
                    )


def _cells(story, item, answer):
    """(row key, whether it is new, open columns) of the cells that an answer would fill."""
    keys = schema.table(answer.where).primary_key
    if not item.get("link"):
        found = [row for row in story.rows(answer.about) if row["line"] == answer.row]
        return [(_key(row, keys), False, answer.columns) for row in found]
    rows = _linked(story, item, answer)
    if rows:
        return [
            (_key(row, keys), False, open_ones)
            for row in rows
            if (open_ones := [c for c in answer.columns if row[c] is None])
        ]
    return [(key, True, _with_required(answer) if key else answer.columns) for key in _new(story, answer, item)]


def _linked(story, item, answer):
    """Rows of the other table that belong to the subject."""
    subject = next((row for row in story.rows(answer.about) if row["line"] == answer.row), None)
    if subject is None or item.get("link_via"):
        return []
    value = subject[item.get("link_from") or schema.table(answer.about).primary_key[0]]
    wanted = {c["column"]: c["in"] for c in item.get("having", ()) if "in" in c}
    return [
        row
        for row in story.rows(answer.where)
        if row[item["link"]] == value and all(row[c] in some for c, some in wanted.items())
    ]


def _new(story, answer, item):
    """Keys of rows that are offered: the id of the subject, numbered where a table holds several a subject.

    Nothing is offered where the row would have to name something that only the laboratory can name, as a visit: such a
    question is answered in words.
    """
    first, *more = schema.table(answer.where).primary_key
    if first != item["link"]:
        return [()]
    if not more:
        return [((first, answer.subject),)]
    taken = [row[more[0]] for row in story.rows(answer.where) if row[first] == answer.subject]
    many = 1 if item.get("having") else NEW_ROWS  # one thing is asked for, or however many there are
    if schema.table(answer.where)[more[0]].type == "integer":
        start = max((n for n in taken if n is not None), default=0)
        return [((first, answer.subject), (more[0], str(start + n))) for n in range(1, many + 1)]
    return [((first, answer.subject), (more[0], f"{NEW}{n}")) for n in range(1, many + 1)]


def _with_required(answer):
    """Open columns, after those without which the table would not take the row, and a key that names something."""
    table = schema.table(answer.where)
    keys = [name for name in table.primary_key[1:] if table.link(name)]
    needed = [name for name, field in table.fields.items() if field.required and name not in table.primary_key]
    return list(dict.fromkeys((*keys, *needed, *answer.columns)))


def _key(row, keys):
    return tuple((name, str(row[name])) for name in keys)


def _people(story, answer):
    """Who could answer: those that the row, or its run, names."""
    row = next((row for row in story.rows(answer.about) if row["line"] == answer.row), {})
    run = story.row("runs", row["run_id"]) if row.get("run_id") else None
    named = [answer.by, *(r.get(c) for r in (row, run or {}) for c in RESPONSIBLE)]
    if run and run["contractor"]:
        named = [answer.by, run["contractor"]]  # a contractor's step is nobody else's to tell
    treated = answer.about == "treatments" and answer.by
    return tuple(
        dict.fromkeys(name for name in ([answer.by] if treated else named) if name and story.row("people", name))
    )


def _merged(found):
    """Questions about the same cell as one, essential first, in the order of the checklist."""
    cells = {}
    for q in found:
        place = q.table, q.row, q.column
        have = cells.get(place)
        cells[place] = q if have is None else _both(have, q)
    ordered = sorted(cells.values(), key=lambda q: (q.about, q.table, q.row))
    return sorted(ordered, key=lambda q: q.weight)


def _both(one, other):
    people = tuple(dict.fromkeys((*one.people, *other.people)))
    weight = min(one.weight, other.weight)  # essential before recommended
    return Question(
        (*one.items, *other.items),
        one.words,
        weight,
        one.stage,
        one.table,
        one.row,
        one.column,
        one.state,
        people,
        one.about,
        one.new,
    )
