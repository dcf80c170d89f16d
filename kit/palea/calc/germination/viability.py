"""What the end of a test says of seed that did not germinate: alive and waiting, or dead."""

import numpy as np

from palea.calc.checked import above_zero, not_below_zero
from palea.errors import UnfitValue


def total_viable(germinated, hard, fresh):
    """Living seeds at the end: germinated, hard, and fresh ones that were found alive; nan where one was not looked for.

    Source: AASCO rule 12-01 (total viable = germination + dormant + hard); 7 CFR 201.57a (dormant).
    """
    parts = [not_below_zero(part, name) for part, name in ((germinated, "germinated"), (hard, "hard"), (fresh, "fresh"))]
    return parts[0] + parts[1] + parts[2]


def after_adjustment(germinated, basis):
    """Germinated as a share of filled or of viable seed [%]: 100 G / V.

    germinated, basis : seeds, or shares of one whole. Raises UnfitValue where more germinated than there were.
    Source: 7 CFR 201.57a; arithmetic.

    >>> float(after_adjustment(45, 60))
    75.0
    """
    germinated, basis = _within(germinated, basis)
    return 100 * germinated / basis


def dormant_share(germinated, viable):
    """Living seed that did not germinate, as a share of living seed [%]: 100 (V - G) / V.

    Source: 7 CFR 201.57a (dormant: viable, failing to germinate under the conditions); arithmetic.

    >>> float(dormant_share(45, 60))
    25.0
    """
    germinated, viable = _within(germinated, viable)
    return 100 * (viable - germinated) / viable


def _within(germinated, basis):
    germinated, basis = np.broadcast_arrays(not_below_zero(germinated, "germinated"), above_zero(basis, "basis"))
    wrong = germinated > basis
    if wrong.any():
        at = int(np.flatnonzero(wrong)[0])
        msg = (f"germinated[{at}] is {germinated.flat[at]:g} of {basis.flat[at]:g}; allowed is up to as many as there were. "
               "Look at the counts of the end of the test.")
        raise UnfitValue(msg)
    return germinated, basis
