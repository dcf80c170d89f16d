"""What is left of a lot: the sum of its movements, as weighed and as dry matter, beside the last weighing."""

import numpy as np

from palea.calc.lots.readings import estimate_of
from palea.calc.lots.water import dry_mass
from palea.calc.means import Interval
from palea.calc.results import Refusal, Values

LEFT, LEFT_DRY = "seed left by the book", "dry matter left by the book"
AGAINST, AFTER = "last weighing less the book", "seed left after planned draws"
UNWEIGHED = "A movement was not weighed, so the sum is not known."
WATER_UNKNOWN = "The water content of a movement is not known, so dry matter is not known."


def left(signed_g, moisture=None):
    """Sum of movements: (mass as weighed, dry matter) [g].

    signed_g : (n,) in above 0, out below; nan: not weighed, which makes both sums nan.  moisture : (n,) shares, wet
    basis; nan or None: not known, which makes the dry matter nan. A blank is never taken for 0.

    >>> left([100.0, -20.0], [0.10, 0.12])
    (80.0, 72.4)
    """
    signed = np.asarray(signed_g, float)
    wet = np.full(signed.shape, np.nan) if moisture is None else np.asarray(moisture, float)
    dry = np.sign(signed) * dry_mass(np.abs(signed), wet)
    return float(signed.sum()), round(float(dry.sum()), 10) if dry.size else 0.0


def balance(lot_movements, planned_draws, confidence=0.95):
    """What each lot holds by its movements, beside the last weighing and after planned draws -> Values.

    lot_movements : frame, one row a movement in order of time: taxon, lot, signed_g (in above 0, out below; nan: not
    weighed), moisture_pct (wet basis, nan: unknown), weighed_g (for a mere weighing: all that was there; nan else).
    planned_draws : frame, one row a planned draw: lot, grams. May be empty.
    A weighing is held against the book as it stood then; the book is not corrected by it. A plan that takes more than
    is left is a warning. `confidence` is taken for the sake of a common call: a sum has no interval.
    Refusal where there is no movement. Source: arithmetic.
    """
    if lot_movements.empty:
        return Refusal(quantity=LEFT, missing="No movement of seed was entered.",
                       remedy="Enter what was received, and each draw, with its mass.")
    estimates, warnings = [], []
    draws = planned_draws.groupby("lot")["grams"].sum() if len(planned_draws) else {}
    for (taxon, lot), rows in lot_movements.groupby(["taxon", "lot"], sort=False, dropna=False):
        found, told = _lot(rows, draws.get(lot, np.nan))
        warnings += [f"{lot}: {sentence}" for sentence in told]
        estimates += [
            estimate_of(taxon, lot, quantity, Interval(value), confidence, unit="g", reason=reason)
            for quantity, value, reason in found
        ]
    return Values(estimates=tuple(estimates), warnings=tuple(warnings),
                  method="Sum of what came in and what went out, as weighed; as dry matter where every water content is "
                  "known. The last weighing stands beside the book and does not change it.")  # fmt: skip


def _lot(rows, draws):
    """[(quantity, value, reason)], [warning] of one lot."""
    moved = rows[rows["weighed_g"].isna()]
    mass, dry = left(moved["signed_g"], moved["moisture_pct"] / 100)
    found = [(LEFT, mass, UNWEIGHED if np.isnan(mass) else "")]
    if np.isnan(mass) or not np.isnan(dry):
        found.append((LEFT_DRY, dry, UNWEIGHED if np.isnan(mass) else ""))
    else:
        found.append((LEFT_DRY, dry, WATER_UNKNOWN))
    told = [f"more was taken out than came in: {mass:.4g} g by the book."] if mass < -1e-9 else []
    found += _weighed(rows)
    if not np.isnan(draws):
        found.append((AFTER, mass - draws, ""))
        if mass - draws < -1e-9:
            told.append(f"the plan takes {draws:.4g} g; the lot holds {mass:.4g} g.")
    return found, told


def _weighed(rows):
    """The last weighing against the book at that moment."""
    at = np.flatnonzero(rows["weighed_g"].notna())
    if at.size:
        before = rows.iloc[: at[-1]]
        book, _ = left(before[before["weighed_g"].isna()]["signed_g"])
        yield AGAINST, float(rows["weighed_g"].iloc[at[-1]] - book), UNWEIGHED if np.isnan(book) else ""
