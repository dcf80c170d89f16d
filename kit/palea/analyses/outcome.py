"""An answer: its rows, its sentences, its figure, and what it rests on."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from palea.analyses.recipe import Recipe
from palea.analyses.rows import rows_of
from palea.calc.results import Refusal, Result


@dataclass(frozen=True)
class Outcome:
    """What `palea.run` gives back. Nothing of it is on disk until it is kept.

    result : the calculation's own result, or a Refusal.  names : readable labels of ids.
    reads, data_hash : the columns it rests on and their hash.  doubts : warnings of the check on rows that it reads.
    """

    recipe: Recipe
    trial: str
    options: Mapping
    result: Result = field(repr=False)
    names: Mapping[str, str] = field(repr=False)
    reads: Mapping[str, tuple[str, ...]] = field(repr=False)
    data_hash: str = ""
    doubts: tuple[str, ...] = ()

    @property
    def refused(self):
        """Whether the question could not be answered."""
        return isinstance(self.result, Refusal)

    @cached_property
    def results(self):
        """The answer as rows of the table `results`."""
        return rows_of(self.result)

    @cached_property
    def sentences(self):
        """The answer in words, the declared contrasts first."""
        from palea.words import say

        return list(say(self.result, self.names))

    @property
    def warnings(self):
        """What to bear in mind: warnings of the calculation, then doubts about the data."""
        return [*self.result.warnings, *self.doubts]

    def figure(self):
        """The answer as an altair chart."""
        from palea.figures import draw

        return draw(self.result, self.sentences, self.names)
