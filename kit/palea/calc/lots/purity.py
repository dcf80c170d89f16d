"""What a sample is made of by mass: pure seed, other seed, inert matter, and what went missing while it was sorted."""

from dataclasses import replace

import numpy as np
import pandas as pd

from palea.calc import simulated
from palea.calc.checked import not_below_zero
from palea.calc.lots.readings import group_estimates
from palea.calc.results import Refusal, Values

PURE, OTHER = "pure seed by mass", "other seed by mass"
INERT, LOSS = "inert matter by mass", "loss of working sample"
MOST_LOSS = 5.0  # % of the working sample, either way
EVEN = (
    "Working samples of the lot vary alike to either side; near 0 or 100 % in an uneven lot they do not, and the interval "
    "is somewhat too narrow."
)
TELLING = 0.5  # % of the working sample that is worth a word


def shares(pure_g, other_g, inert_g):
    """Pure seed, other seed and inert matter as shares of the sum of the three, 0 to 1: three arrays.

    Masses [g] >= 0, broadcast; nan where one is missing or all are 0. Shares are of what was found again, not of what
    was weighed in, so they add to 1. Raises UnfitValue for a negative mass.
    Source: ISTA Rules ch. 3 (from memory); AOSA purity unit.

    >>> [float(x) for x in shares(4.5, 0.1, 0.4)]
    [0.9, 0.02, 0.08]
    """
    names = ("pure_g", "other_g", "inert_g")
    parts = np.broadcast_arrays(*(not_below_zero(m, n) for m, n in zip((pure_g, other_g, inert_g), names, strict=True)))
    total = np.where(sum(parts) > 0, sum(parts), np.nan)
    return tuple(part / total for part in parts)


def purity(purity_parts, confidence=0.95, most_loss=MOST_LOSS):
    """Parts of each lot by mass in %, and what was lost or gained in sorting as % of the working sample -> Values.

    purity_parts : frame, one row a working sample: taxon, lot, test, replicate, pure_g, other_g, inert_g, sample_g [g];
    a part that was not found is 0, one not weighed is nan and its sample is left out. sample_g nan: no loss is given.
    most_loss : % of the sample either way, from which the test must be done again.
    Mean of the samples with a t interval; one sample: no interval. Refusal where no sample is complete. Near 100 % in an
    uneven lot (97 %, samples differing by 2 points) the interval of four samples holds the truth in 91 of 100 lots, not 95
    (tests/coverage, purity): such estimates carry a `caution`.
    Source: ISTA Rules ch. 3 (sum of parts; loss of 5 %; from memory).
    """
    read = purity_parts.dropna(subset=["pure_g", "other_g", "inert_g"])
    read = read[read[["pure_g", "other_g", "inert_g"]].sum(axis=1) > 0]
    if read.empty:
        return Refusal(quantity=PURE, missing="No working sample has all three parts weighed.",
                       remedy="Weigh pure seed, other seed and inert matter; write 0 for a part that was not there.")
    found = shares(*(read[c].to_numpy(float) for c in ("pure_g", "other_g", "inert_g")))
    frames = [read.assign(quantity=q, value=100 * v) for q, v in zip((PURE, OTHER, INERT), found, strict=True)]
    lost = read.assign(quantity=LOSS, value=100 * _missing(read) / read["sample_g"]).dropna(subset=["value"])
    units, (*shown,) = group_estimates(frames, confidence, highest=dict.fromkeys((PURE, OTHER, INERT), 100.0))
    if len(lost):
        of_loss, losses = group_estimates([lost], confidence, lowest=-np.inf)
        units, shown = pd.concat([units, of_loss], ignore_index=True), [*shown, *losses]
    return Values(
        units=units, estimates=tuple(_with_caution(each, units) for each in shown), warnings=tuple(_unaccounted(read, most_loss)),
        method="Each part as a share of the sum of the parts, by mass; mean of the working samples with a t interval.",
        assumptions=("The working sample stands for the lot: it was drawn from all of it.", EVEN),
    )


def _with_caution(estimate, units):
    """The estimate; a share with the Caution of its design, where simulation has shown that its interval is short."""
    mine = units["lot"].eq(estimate.of["lot"]) & units["quantity"].eq(estimate.quantity)
    short = estimate.quantity != LOSS and simulated.leaning(units.loc[mine, "value"])
    return replace(estimate, caution=simulated.LEANING) if short else estimate


def _missing(read):
    return read["sample_g"] - read[["pure_g", "other_g", "inert_g"]].sum(axis=1)


def _unaccounted(read, most_loss):
    for row, gone in zip(read.itertuples(), _missing(read), strict=True):
        part = 100 * abs(gone) / row.sample_g
        if part > TELLING:
            what = f"{gone:.3f} g is unaccounted for" if gone > 0 else f"that is {-gone:.3f} g too much"
            again = f" Above {most_loss:g} % the test is done again." if part > most_loss else ""
            yield (f"{row.lot}: purity parts of {row.test} add to {row.sample_g - gone:.3f} g, the sample was "
                   f"{row.sample_g:.3f} g: {what}.{again}")
