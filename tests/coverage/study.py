"""A study: settings (cells), a way to simulate one set of data in a cell and ask palea about it, and what is wanted.

`asked` gets a random stream and a cell and gives {measure: True, False or None}: whether an interval held the truth, a
test rejected, an equivalence was claimed; None where palea gave no answer (not judged), which is counted apart.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import sqrt

import numpy as np

from palea.words.cautions import sentence

NOMINAL = 0.95
# measure -> (from, to): what the true share of True may be
COVERS, ERRS, CLAIMS = "covers", "errs", "claims"
WANTED = {COVERS: (0.93, 0.97), ERRS: (0.03, 0.07), CLAIMS: (0.0, 0.05)}
SAYS = {
    COVERS: "true values inside the 95 % interval",
    ERRS: "differences shown where there is none (two-sided 5 %)",
    CLAIMS: "equivalence claimed where the difference is as large as the margin",
}


@dataclass(frozen=True)
class Limit:
    """Where an interval holds the truth less (or more) often than it says, and why that is left so.

    says : sentence for the page.  of : function of a row that says whether it is concerned.
    printed : the sentence that palea itself prints with results from such data.
    """

    says: str
    of: Callable
    printed: str = ""


@dataclass(frozen=True, eq=False)
class Study:
    """name : of the file and the command.  title, about : for the page.  sets : simulated in each cell.

    cells : settings, as dicts.  asked : see above; measures are named "covers", "errs" or "claims", or one of these
    followed by ": " and what.  sets : simulated in a cell.  pack : sets that `asked` makes at once, as a list and with
    their number as a third argument, where one call of palea answers many.  limits : see Limit; a row that is short
    has to have one.  careful : the sentence that palea prints where intervals are wider than they say.
    """

    name: str
    title: str
    about: str
    cells: tuple[dict, ...]
    asked: Callable
    sets: int = 1000
    pack: int = 0
    limits: tuple[Limit, ...] = ()
    careful: str = ""


def printed(caution, whom="a treatment"):
    """The sentence that palea prints where an estimate carries this Caution."""
    return sentence(caution, [whom])


def simulate(study, sets=None, seed=2026):
    """Every cell with so many sets -> list of rows: settings, measure, share, sets that were answered, its error."""
    rows = []
    for number, cell in enumerate(study.cells):
        stream = np.random.default_rng([seed, *study.name.encode(), number])
        told = list(_told(study, stream, cell, sets or study.sets))
        measures = dict.fromkeys(name for each in told for name in each)
        rows += [_row(cell, measure, [each.get(measure) for each in told]) for measure in measures]
    return rows


def _told(study, stream, cell, sets):
    if not study.pack:
        yield from (study.asked(stream, cell) for _ in range(sets))
        return
    for first in range(0, sets, study.pack):
        yield from study.asked(stream, cell, min(study.pack, sets - first))


def _row(cell, measure, answers):
    given = [bool(a) for a in answers if a is not None]
    share = sum(given) / len(given) if given else None
    error = sqrt(share * (1 - share) / len(given)) if given else None
    return {"cell": cell, "measure": measure, "sets": len(answers), "answered": len(given),
            "share": None if share is None else round(share, 4), "error": None if error is None else round(error, 4)}


def verdict(row):
    """"", "short" (an interval that holds the truth too seldom, a test that errs too often), "wide" or "no answer".

    Two Monte Carlo errors are allowed for. An equivalence test may claim less than 5 %, and that is no fault.
    """
    if row["share"] is None:
        return "no answer"
    kind = row["measure"].split(":")[0]
    low, high = WANTED[kind]
    slack = 2 * max(row["error"], sqrt(NOMINAL * (1 - NOMINAL) / row["answered"]))
    below, above = row["share"] < low - slack, row["share"] > high + slack
    if kind == COVERS:
        return "short" if below else "wide" if above else ""
    return "short" if above else "wide" if below else ""


def inside(truth, lower, upper):
    """Whether an interval holds the truth; None where it has no end on either side."""
    if np.isnan(lower) and np.isnan(upper):
        return None
    return bool(not truth < lower and not truth > upper)


def alike(stream, share, rho, seeds, units):
    """(units,) counts of a beta-binomial: seeds of one unit correlated by rho."""
    if rho == 0:
        return stream.binomial(seeds, share, units).astype(float)
    total = (1 - rho) / rho
    return stream.binomial(seeds, stream.beta(share * total, (1 - share) * total, units)).astype(float)


def grid(**values):
    """All settings of these values, the last one running fastest."""
    cells = [{}]
    for name, many in values.items():
        cells = [cell | {name: value} for cell in cells for value in many]
    return tuple(cells)
