"""Jobs of a stage: each is an entry in one table, with what belongs to it, and the answers that follow while it is typed.

A stage's panel is a list of jobs, told as data: which table, which fields, what is given, which lines below, which recipes
answer. panels/jobs.py shows them.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from palea import schema

NOTHING = MappingProxyType({})


@dataclass(frozen=True)
class Answer:
    """A recipe that answers beside the form.

    recipe : its id.  about : the field whose text the answer is narrowed to ("lot_id"); "" for the whole answer.
    options : a function of the texts typed that gives the recipe's options; None where it is asked plainly, and what it
    gives is None where the question cannot be asked yet.
    """

    recipe: str
    about: str = ""
    options: Callable | None = None


def only_where(name, words):
    """Options of an Answer that is asked only where the text of that field is one of these words."""
    return lambda texts: {} if texts.get(name) in words else None


@dataclass(frozen=True)
class Job:
    """One thing that is done at a stage, and kept as one row with what belongs to it.

    title : what is done ("Receive a lot").  table : where the row is kept.  ask : fields that are typed, in order; one of
    another table is written "movements.mass_g", and makes a row there that belongs to this one.
    given : {name: text} that the job itself says; in place of a text may stand a function of the texts typed.
    folded : names under “More fields”.  headings : {name: text}.
    remembers : names that a new entry takes over from the last one.
    lines : a function (package, texts) that gives the Lines below the form, or None where there are none (yet).
    answers : recipes that answer while it is typed.  only : {field: word} of the rows that belong to this job.
    """

    title: str
    table: str
    ask: tuple[str, ...]
    given: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    folded: tuple[str, ...] = ()
    headings: Mapping[str, str] = field(default_factory=lambda: NOTHING)
    remembers: tuple[str, ...] = ()
    lines: Callable | None = None
    answers: tuple[Answer, ...] = ()
    only: Mapping[str, str] = field(default_factory=lambda: NOTHING)

    @property
    def key(self):
        """The field that names a row; "" where several do together."""
        key = schema.table(self.table).primary_key
        return key[0] if len(key) == 1 else ""

    @property
    def own(self):
        """Fields of its own table."""
        return tuple(name for name in self.ask if "." not in name)

    @property
    def beside(self):
        """Other tables in which it makes a row, in the order asked."""
        return tuple(dict.fromkeys(name.partition(".")[0] for name in self.ask if "." in name))
