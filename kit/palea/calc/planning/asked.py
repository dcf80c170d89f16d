"""One plan at a time, asked in plain numbers and names: how many units, what they can see, and how they lie."""

import numpy as np
import pandas as pd

from palea.calc.planning import layout as layouts
from palea.calc.planning import size as sizes
from palea.calc.results import Refusal
from palea.calc.terms import Kind
from palea.errors import UnfitValue

SEPARATOR = ";"
UNKNOWN = 0.0  # of a margin or a number of units at hand: not said


def size_of(
    level_a=85.0, level_b=70.0, seeds=25, rho=0.02, have=0, kind="superiority", margin=UNKNOWN, wanted="higher", dishes=1,
    batch_sd=0.0, power=0.8, alpha=0.05, trials=1000, seed=1,
):  # fmt: skip
    """Units an arm for one question about two shares, and what those at hand can show -> Values, or Refusal.

    level_a, level_b : shares expected [%].  seeds : seeds a dish, or plants a plot.  rho : how alike seeds of one are.
    have : units an arm that there are, 0: not said.  margin : points, 0: none.  dishes, batch_sd : where batches are the
    units: dishes of each, and how far batches differ [logit].  kind, wanted, power, alpha, trials, seed : as in `size.size`.
    Refusal where a question of a margin has none. Raises UnfitValue for a share outside 0 to 100 %.
    Source: Fleiss 1981, ch. 3; Kish 1965; Schuirmann 1987; power simulated from the models of the analysis.
    """
    for name, share in (("level_a", level_a), ("level_b", level_b)):
        if not 0 <= share <= 100:
            msg = f"{name} is {share:g}; allowed is 0 to 100 %."
            raise UnfitValue(msg)
    if kind != Kind.SUPERIORITY and margin <= 0:
        return Refusal(
            quantity=sizes.NEEDED, missing=f"“{kind}” is asked of a margin, and none is given.",
            remedy="Give the smallest difference that matters, in points.",
        )  # fmt: skip
    row = {
        "level_a": level_a, "level_b": level_b, "seeds": seeds, "rho": rho, "have": have or np.nan, "kind": kind,
        "margin": margin or np.nan, "wanted": wanted, "dishes": dishes, "batch_sd": batch_sd, "quantity": "the share",
    }  # fmt: skip
    return sizes.size(pd.DataFrame([row]), power, alpha, trials, seed)


def power_of(level_b=60.0, seeds=25, rho=0.02, sizes_asked="8; 16; 32; 64", alpha=0.05, most=40.0):
    """Power against the difference, a line for each number of units an arm -> Curves, or Refusal.

    sizes_asked : numbers of units, separated by semicolons.  most : largest difference [points].  The rest as in `size_of`.
    Raises UnfitValue for numbers that are none.
    Source: Fleiss 1981, ch. 3; Kish 1965.
    """
    if not 0 < level_b < 99.9:
        msg = f"level_b is {level_b:g}; allowed is above 0 and below 99.9 %."
        raise UnfitValue(msg)
    numbers = parts_of(sizes_asked)
    if not all(part.isdigit() and int(part) > 1 for part in numbers) or not numbers:
        msg = f"sizes is “{sizes_asked}”; write whole numbers of 2 or more, separated by semicolons, as in 8; 16."
        raise UnfitValue(msg)
    return sizes.power_curves(level_b, [int(part) for part in numbers], seeds, rho, alpha, most)


def layout_of(
    treatments="A; B; C; D", mains="", design="randomised blocks", repeats=4, block_size=0, columns=0, seed=1
):
    """Treatments laid out on units -> Layout, or Refusal where the design cannot hold them.

    treatments, mains : names separated by semicolons; mains are what whole main plots get (split plot).
    The rest as in `layout.layout`.
    Source: Cochran & Cox 1957, Experimental Designs, ch. 4 and 7; alpha: Patterson & Williams 1976, Biometrika 63:83.
    """
    arms = pd.DataFrame({"treatment": parts_of(treatments)}, dtype=object)
    levels = pd.DataFrame({"main": parts_of(mains)}, dtype=object) if mains else None
    return layouts.layout(arms, levels, design, repeats, block_size, columns, seed)


def parts_of(text):
    """Names in a text, separated by semicolons; empty ones are passed over.

    >>> parts_of("A; B;; C ")
    ['A', 'B', 'C']
    """
    return [part.strip() for part in text.split(SEPARATOR) if part.strip()]
