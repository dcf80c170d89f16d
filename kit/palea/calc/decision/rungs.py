"""Means of plain values on the highest rung on which treatments are replicated: batches, else dishes or plots."""

from dataclasses import dataclass, field

from palea.calc.stats import value_means
from palea.calc.stats.value_means import ValueMeans
from palea.calc.terms import Rung


@dataclass(frozen=True)
class Rungs:
    """Means of all treatments of one place on either rung.

    several : {rung: treatments with two batches, or two units}.  means : {rung: means of these}; None where there are none,
    or all units of a treatment agree.
    """

    several: dict[Rung, frozenset[str]]
    means: dict[Rung, ValueMeans | None] = field(repr=False)

    def on(self, *treatments):
        """(rung, means) on which all of these have two; (dish, None) where there is none."""
        for rung, names in self.several.items():
            if names.issuperset(treatments):
                return rung, self.means[rung]
        return Rung.DISH, None


def rungs_of(units):
    """Rungs of units of one place: treatment, batch and value, one row a unit."""
    batches = units.groupby(["treatment", "batch"], sort=True)["value"].mean().reset_index()
    rows = {Rung.BATCH: batches, Rung.DISH: units}
    several = {rung: _several(part["treatment"]) for rung, part in rows.items()}
    return Rungs(several, {rung: _means(part, several[rung]) for rung, part in rows.items()})


def _several(treatment):
    times = treatment.value_counts()
    return frozenset(times.index[times >= 2])


def _means(rows, several):
    kept = rows[rows["treatment"].isin(several)]
    return value_means.of_values(kept["treatment"], kept["value"]) if len(kept) else None
