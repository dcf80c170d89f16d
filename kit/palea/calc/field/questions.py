"""Declared contrasts of the field stage, the scales they are shown on, and the places that can answer them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from palea.calc.stats.contrasts import rows_of, with_elsewhere
from palea.calc.terms import Rung

ONE_BATCH = "These plots come from one batch: the answer holds for that batch, not yet for the recipe."
ONE_PLOT = "One plot of {} cannot show how much plots differ. Two at least are needed, better eight."
NOTHING = "Nothing was counted for {}."


class Scale(NamedTuple):
    """How a difference of means is shown.

    name : a word of the effect scale list.  unit : of the effect.  shown : from means to what is shown.  within : a
    margin, as declared, on the scale of the means.  group : from a mean to what is shown of a group; its unit.
    """

    name: str
    unit: str
    shown: Callable
    within: Callable
    group: Callable
    group_unit: str


def _log(margin):
    return np.log(margin) if margin > 0 else np.nan


POINTS = Scale("difference", "%", lambda x: 100 * x, lambda m: m / 100, lambda x: 100 * x, "%")
RATIO = Scale("ratio", "1", np.exp, _log, np.exp, "1")
HAZARD = RATIO._replace(name="hazard ratio")


def plain(unit):
    """Scale of differences in the unit of the values themselves."""
    return Scale("difference", unit, lambda x: x, lambda m: m, lambda x: x, unit)


@dataclass(frozen=True)
class Asked:
    """A declared contrast in one environment, missing values as "", nan and False. Columns as in `read`."""

    taxon: str
    environment: str
    a: str
    b: str
    quantity: str
    denominator: str
    declared: str
    kind: str
    wanted: str
    asks_about: str
    refused: str
    across: str
    margin: float = np.nan
    primary: bool = False
    margin_late: bool = False
    elsewhere: int = 0

    @property
    def of(self) -> Mapping[str, str]:
        """As in Estimate."""
        return MappingProxyType({"taxon": self.taxon, "environment": self.environment, "a": self.a, "b": self.b})

    @property
    def key(self):
        """Of the place that answers it."""
        return self.taxon, self.environment, self.quantity, self.denominator


@dataclass(frozen=True)
class Place:
    """What answers questions about one quantity of one species in one environment.

    key : (taxon, environment, quantity, denominator).  rungs : (rung, means) from the top; the first that has both sides
    judges.  behind : {treatment: (batches, plots, seeds or plants)}.  levels : {level of the main plots: its own means}.
    missing : {treatment: why it has no mean, a sentence}.
    """

    key: tuple[str, str, str, str]
    rungs: tuple
    behind: Mapping = field(repr=False)
    levels: Mapping = field(default_factory=dict, repr=False)
    missing: Mapping = field(default_factory=dict)

    def on(self, *names):
        """(rung, means) that judge these together, or ("", a sentence)."""
        for rung, means in self.rungs:
            if means is not None and all(name in means.names for name in names):
                return str(rung), means
        told = [self.missing[name] for name in names if name in self.missing]
        if told:
            return "", " ".join(dict.fromkeys(told))
        absent = [name for name in names if name not in self.behind]
        sentence = NOTHING.format(" and ".join(absent)) if absent else ONE_PLOT.format(" and ".join(names))
        return "", sentence

    def stands(self, *names):
        """How many stand behind these together, as fields of an Estimate."""
        counts = [self.behind[name] for name in names if name in self.behind]
        batches, units, seeds = map(sum, zip(*counts, strict=True)) if counts else (0, 0, 0)
        return {"n_batches": batches, "n_units": units, "n_seeds": round(seeds)}

    def one_batch(self, rung, *names):
        """The sentence for an answer on plots of a single batch, or ""."""
        single = rung == Rung.PLOT and any(self.behind[name][0] < 2 for name in names if name in self.behind)
        return ONE_BATCH if single else ""


def read(asked, places, quantities, denominator=None):
    """Rows of declared contrasts about these quantities -> list of Asked, in order, one for each environment.

    asked : frame of palea.derived.contrasts: taxon, environment ("": each one), a, b, quantity, denominator, kind,
    margin, wanted, primary, asks_about, refused, margin_late; and, where there is such a column, across (the factor whose
    levels change the difference).  places : {key: Place}.  denominator : to judge on in place of the declared one.
    """
    asked = with_elsewhere(asked, asked["quantity"].isin(quantities))
    rows = rows_of(asked)
    found = []
    for row in rows:
        if row["quantity"] not in quantities:
            continue
        base = _base(row, places, denominator)
        here = dict.fromkeys(k[1] for k in places if k[0] == row["taxon"] and k[2:] == (row["quantity"], base))
        if row.get("across", "") == "site":
            here = [""]  # one question, however many sites it was sown at
        elif row["environment"] or not here:
            here = [row["environment"]]
        found += [_asked(row, environment, base) for environment in here]
    return list(dict.fromkeys(found))


def _base(row, places, denominator):
    """The denominator to judge on: "" where the quantity is no share."""
    known = [key[3] for key in places if key[2] == row["quantity"]]
    is_share = any(known) or not known
    return (denominator or row.get("denominator", "")) if is_share else ""


def _asked(row, environment, base):
    named = row | {"environment": environment, "declared": row.get("denominator", ""), "denominator": base}
    text = {name: str(named.get(name, "")) for name, kind in Asked.__annotations__.items() if kind is str}
    margin = float(row["margin"]) if row["margin"] != "" else np.nan
    flags = {name: bool(row[name]) for name in ("primary", "margin_late")}
    return Asked(**text, margin=margin, elsewhere=int(row["elsewhere"]), **flags)
