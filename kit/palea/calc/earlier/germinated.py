"""Version 1 of final germination."""

from functools import cached_property

from palea.calc.earlier import block_means
from palea.calc.germination import dishes as present
from palea.calc.germination.dishes import counted_dishes
from palea.calc.germination.final import answered, nothing_counted
from palea.calc.terms import Rung


class Cell(present.Cell):
    """Means by `block_means`, for they were those of version 1."""

    @cached_property
    def on_batches(self):
        """See the present Cell."""
        rows = self.counts(Rung.BATCH)
        return block_means.of_batches(rows.treatment, rows.k, rows.n, rows.block) if rows.k.size else None

    @cached_property
    def on_dishes(self):
        """See the present Cell."""
        rows = self.counts(Rung.DISH)
        return block_means.of_counts(rows.treatment, rows.k, rows.n, rows.block, beta=True) if rows.k.size else None


def final_1(shares, asked, quantity=None, denominator=None, confidence=0.95):
    """Version 1 of germination.final.final: same arguments, same shapes.

    Changed since: means in blocks (see block_means), and Holm. A primary question was adjusted for the primaries that this
    recipe answers, not for those of the same species in the same trial that others answer (as t50). The later is better
    because the error of 5 % is promised for the primaries of a species together, whichever recipe answers them.
    The view handed to it counted a dish in which every seed came up as cut, though its neighbours were not; see
    derived.earlier.
    Source: as germination.final.final; penalised likelihood: Firth 1993, Biometrika 80:27.
    """
    dishes, warnings = counted_dishes(shares)
    if quantity is not None:
        dishes = dishes[dishes["quantity"] == quantity]
    if dishes.empty:
        return nothing_counted(quantity, warnings)
    found = {key: Cell(key, rows) for key, rows in dishes.groupby(present.KEYS, sort=False)}
    mine = asked["quantity"].isin({key[2] for key in found})
    if "across" in asked:
        mine &= asked["across"].eq("")
    return answered(dishes, found, asked[mine], quantity, denominator, confidence, warnings)
