"""An answer: its rows, its sentences, its figure, and what it rests on."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from palea.analyses.recipe import Recipe
from palea.analyses.rows import rows_of
from palea.calc.results import Refusal, Result, Values


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

    @cached_property
    def cautions(self):
        """Of which estimates simulation has shown that the interval may be too narrow, in words."""
        from palea.words import cautions

        return cautions(self.result, self.names)

    @property
    def warnings(self):
        """What to bear in mind: intervals that may be too narrow, warnings of the calculation, then doubts about the data."""
        return [*self.cautions, *self.result.warnings, *self.doubts]

    def about(self, own):
        """The same answer, only what it says of one thing: estimates of which `own` is the lot, taxon, treatment ...

        A refusal stays as it is. Curves are narrowed too.
        """
        mine = lambda e: own in e.of.values()  # noqa: E731 - said once, used for each family
        parts = {name: getattr(self.result, name) for name in ("groups", "effects", "curves") if hasattr(self.result, name)}
        if not parts and isinstance(self.result, Values):
            parts = {"estimates": self.result.estimates}
        kept = {name: tuple(filter(mine, found)) for name, found in parts.items()}
        return replace(self, result=replace(self.result, **kept)) if kept else self

    def figure(self):
        """The answer as an altair chart."""
        from palea.figures import draw

        return draw(self.result, self.sentences, self.names)
