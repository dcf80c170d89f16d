"""Where each plot and row of the field trials stands, over all species whether they are written or not."""

from dataclasses import dataclass
from functools import cache

from palea.demo.chance import Chance
from palea.demo.field.truth import UNSOWN, field_setting, field_truth


@dataclass(frozen=True)
class Spot:
    """One plot or row: what was sown in it and where it stands.

    taxon, arm : "" and UNSOWN where nothing was sown.  block : from 1.  level : of the fence, "" without main plots.
    grid_row, grid_column : in the field, from 1.  number : in walking order, on its peg.
    """

    trial: str
    taxon: str
    arm: str
    block: int
    level: str
    grid_row: int
    grid_column: int
    number: int

    @property
    def unit_id(self):
        """Its name in the package."""
        names = (self.trial, self.taxon, self.arm, f"{self.block:02d}", self.level)
        return "-".join(name for name in names if name)

    @property
    def main_plot(self):
        """The name of the main plot that it is part of, or None."""
        return f"{self.trial}-{self.block:02d}-{self.level}" if self.level else None

    @property
    def lost(self):
        """Whether it was lost before its outcome was known."""
        gone = field_setting("lost")
        return (self.trial, self.block) == (gone["trial"], gone["block"]) and self.grid_column in gone["columns"]


def treatment_id(spot):
    """The treatment of a plot."""
    return f"{spot.taxon}-{spot.arm}" if spot.taxon else UNSOWN


@cache
def spots(trial, seed):
    """All plots or rows of a trial, in walking order: along one line, back along the next."""
    plan = field_truth()["trials"][trial]
    lines = [
        (block, level, Chance(seed, trial, "plots", block, level).shuffled(_sown(plan)))
        for block in range(1, plan["blocks"] + 1)
        for level in Chance(seed, trial, "main plots", block).shuffled(plan["main_plots"])
    ]
    numbers = iter(range(1, 1 + sum(len(arms) for *_, arms in lines)))
    return [
        Spot(trial, taxon, name, block, level, row, column, next(numbers))
        for row, (block, level, arms) in enumerate(lines, 1)
        for column, (taxon, name) in _walked(row, arms)
    ]


def _sown(plan):
    """What stands once in each block or main plot."""
    every = [(taxon, name) for taxon, names in plan["arms"].items() for name in names]
    return [*every, ("", UNSOWN)] if plan["unsown"] else every


def _walked(row, arms):
    """Columns of a line with what stands there, from the left in odd lines and from the right in even ones."""
    placed = list(enumerate(arms, 1))
    return placed if row % 2 else placed[::-1]


def written(trial, taxa, seed):
    """The plots that a package of these species holds: theirs, and the unsown ones."""
    return [spot for spot in spots(trial, seed) if spot.taxon in (*taxa, "")]
