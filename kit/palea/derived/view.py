"""What a view is: a function of tables and other views, and the exact columns that it rests on.

A view states its columns, is handed no others, and so the hash kept beside an answer covers what the answer read and
nothing else. Parameters are named after what is read: a table by its name, a view by its own.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType


@dataclass(frozen=True, eq=False)  # each view is itself: equality by what it reads would be slow and mean nothing
class View:
    """A function with what it reads. Call it through Facts, which makes each view once.

    columns : {table: its columns}.  views : other views that it reads.
    """

    function: Callable
    columns: Mapping[str, tuple[str, ...]]
    views: tuple["View", ...] = ()

    @property
    def name(self):
        """The function's name, which is also the parameter name in a view that reads this one."""
        return self.function.__name__

    @cached_property
    def reads(self):
        """{table: columns} that this view rests on, its own and those of the views below it, sorted."""
        return joined([self.columns, *(v.reads for v in self.views)])


def view(*views, **columns):
    """Make a View of the function below: `@view(other_view, units="unit_id lot_id")`."""
    named = {table: tuple(text.split()) for table, text in columns.items()}
    return lambda function: View(function, MappingProxyType(named), views)


def joined(all_reads):
    """Several {table: columns} as one, sorted."""
    together = {}
    for reads in all_reads:
        for table, columns in reads.items():
            together.setdefault(table, set()).update(columns)
    return MappingProxyType({table: tuple(sorted(together[table])) for table in sorted(together)})
