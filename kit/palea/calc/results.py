"""What a calculation hands back: frozen families by shape, not by stage, and the refusal.

*Values* is a number a group, *Effects* is a against b with a verdict, *Curves* is steps or lines with a band, *Layout*
is which treatment lies where, and *Refusal* says what is missing and what would make the question answerable. Each family
has one function that makes rows of it, one that says it and one that draws it, so a new calculation needs none of the three.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
import pandas as pd

from palea.calc.simulated import Caution

NOTHING = MappingProxyType({})


class Change(NamedTuple):
    """That an effect is how a difference between a and b changes from one place to another.

    quantity : what a and b differ in.  here, there : the two places, by id or in words.  in_here, in_there : a against b in
    each, on the scale of the effect: the effect is in_here less in_there, or for a ratio in_here over in_there.
    note : the part of the effect's `reason` that says the same.
    """

    quantity: str
    here: str
    there: str
    in_here: float
    in_there: float
    note: str = ""


@dataclass(frozen=True)
class Estimate:
    """One number with its interval, what it is of, and what stands behind it.

    quantity : what was estimated, a word of the quantity list.
    of : which group: any of taxon, lot, environment, treatment; for an effect a and b in place of treatment.
    scale : "value", "difference", "ratio", "odds ratio" or "hazard ratio"; differences of shares are in points.
    value, lower, upper : estimate and interval at `confidence`; nan where there is none.
    unit : UCUM code; shares are in "%".
    denominator : "sown units", "filled", "viable", "emerged", or "" where the quantity is no share.
    time : day, for a quantity read at a time; nan else.
    df, p_value : degrees of freedom and two-sided p (adjusted where `reason` says so); nan where there is none.
    n_batches, n_units, n_seeds : how many stand behind it (for an effect: both sides together).
    rung : the rung of replication it was judged on: "batch" or "dish".
    inner_lower, inner_upper : for an effect, the 90 % interval (two one-sided tests at 5 %); nan else.
    margin, kind, primary, asks_about : of the declared contrast; nan, "" and False else.
    verdict : a word of the verdict list, or "" where none is due.
    reason : why it is not judged, or how it was adjusted, as a sentence; "" else.
    change : where the effect is how a difference changes; None where it is the difference itself.
    contrast : id of the declared contrast that an effect answers; "" where none is known.
    caution : where simulation has shown that intervals of such a design hold the truth too seldom; None else.
    """

    quantity: str
    of: Mapping[str, str]
    value: float
    lower: float = np.nan
    upper: float = np.nan
    scale: str = "value"
    confidence: float = 0.95
    unit: str = "%"
    denominator: str = ""
    time: float = np.nan
    df: float = np.nan
    p_value: float = np.nan
    n_batches: int = 0
    n_units: int = 0
    n_seeds: int = 0
    rung: str = ""
    inner_lower: float = np.nan
    inner_upper: float = np.nan
    margin: float = np.nan
    kind: str = ""
    primary: bool = False
    asks_about: str = ""
    verdict: str = ""
    reason: str = ""
    change: Change | None = None
    contrast: str = ""
    caution: Caution | None = None


@dataclass(frozen=True)
class Result:
    """What every family carries.

    units : frame, one row a unit of replication (dish): the keys of `of`, unit, batch, quantity, denominator, value.
    method : the model and the interval, in a sentence or two.  assumptions, warnings : sentences.
    """

    units: pd.DataFrame = field(default_factory=pd.DataFrame, repr=False)
    method: str = ""
    assumptions: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Values(Result):
    """A number a group."""

    estimates: tuple[Estimate, ...] = ()


@dataclass(frozen=True)
class Effects(Result):
    """Groups, and effects of a against b with verdicts; `estimates` are both, groups first."""

    groups: tuple[Estimate, ...] = ()
    effects: tuple[Estimate, ...] = ()

    @property
    def estimates(self):
        """Groups, then effects."""
        return self.groups + self.effects


@dataclass(frozen=True)
class Curve:
    """One curve with its band. Steps hold their value from a time until the next one.

    of : as in Estimate.  time, value, lower, upper : (n,) arrays.  shape : "step" or "line".
    """

    of: Mapping[str, str]
    time: np.ndarray = field(repr=False)
    value: np.ndarray = field(repr=False)
    lower: np.ndarray = field(repr=False)
    upper: np.ndarray = field(repr=False)
    shape: str = "step"
    n_batches: int = 0
    n_units: int = 0
    n_seeds: int = 0


@dataclass(frozen=True)
class Curves(Result):
    """Curves of one quantity; `units` holds each dish's own curve (columns also time). `estimates`: at the last time.

    along : what the curves run over, as an axis names it ("Sown area"); "" for days.  along_unit : its UCUM code, "" for a
    plain number. Where they run over something else than days, `time` of every Curve holds that.
    """

    quantity: str = ""
    denominator: str = ""
    unit: str = "%"
    curves: tuple[Curve, ...] = ()
    estimates: tuple[Estimate, ...] = ()
    along: str = ""
    along_unit: str = "d"


@dataclass(frozen=True)
class Refusal(Result):
    """The question cannot be answered from what there is. It is a result too: it is kept and shared.

    quantity : what was asked for.  missing : what is missing, a sentence.  remedy : what would make it answerable.
    """

    quantity: str = ""
    missing: str = ""
    remedy: str = ""

    @property
    def estimates(self):
        """One estimate without a number: not judged, with the reason."""
        reason = f"{self.missing} {self.remedy}".strip()
        return (Estimate(self.quantity, NOTHING, np.nan, unit="", verdict="not judged", reason=reason),)


class Check(NamedTuple):
    """Something that a balanced layout has, as a sentence, and whether this one has it."""

    says: str
    holds: bool


@dataclass(frozen=True)
class Layout(Result):
    """Where each unit lies and which treatment it gets; `units`: one row a unit, in walking order.

    units : unit (1, 2, ...), block, main_plot, row, column (numbers from 1, 0 where there is none), main, treatment.
    design : as asked for.  seed, algorithm, version : name the same layout for ever.  checks : what makes it balanced.
    estimates : efficiency of incomplete blocks, where there are such.
    """

    design: str = ""
    seed: int = 0
    algorithm: str = ""
    version: int = 0
    checks: tuple[Check, ...] = ()
    estimates: tuple[Estimate, ...] = ()
