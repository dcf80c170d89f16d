"""From what mass a machine is quicker than hands."""

import numpy as np

from palea.calc.checked import not_below_zero
from palea.calc.cleaning.effort import Effort, quicker_from
from palea.calc.formula import shown
from palea.calc.results import NOTHING, Estimate, Refusal, Values

QUICKER = "mass from which it is quicker"


def machine_or_hands(setup_min=30.0, machine_min_g=0.25, hand_min_g=4.5, hand_setup_min=0.0):
    """The mass from which a machine takes fewer minutes than hands -> Values, or Refusal where it never does.

    setup_min, hand_setup_min : minutes that do not depend on the mass.  machine_min_g, hand_min_g : minutes a gram.
    Raises UnfitValue for minutes below 0.
    Source: derived by hand (two straight lines cross).

    >>> round(machine_or_hands().estimates[0].value, 1)
    7.1
    """
    for name, value in (("setup_min", setup_min), ("machine_min_g", machine_min_g), ("hand_min_g", hand_min_g),
                        ("hand_setup_min", hand_setup_min)):  # fmt: skip
        not_below_zero(value, name)
    mass = float(quicker_from(Effort(setup_min, 0, machine_min_g), Effort(hand_setup_min, 0, hand_min_g)))
    if not np.isfinite(mass):
        return Refusal(quantity=QUICKER, missing="The machine takes no fewer minutes a gram than hands: it is never quicker.",
                       remedy="Time both again, or clean by hand.")
    filled = f"({setup_min:g} min - {hand_setup_min:g} min) / ({hand_min_g:g} min/g - {machine_min_g:g} min/g)"
    return Values(
        method=shown("m", "(setup of machine - setup of hands) / (hands a gram - machine a gram)", filled,
                     (setup_min - hand_setup_min) / (hand_min_g - machine_min_g), "g"),
        estimates=(Estimate(QUICKER, NOTHING, mass, unit="g"),),
        warnings=("It is quicker from the first gram.",) if mass == 0 else (),
        assumptions=("Hands-on minutes only; what is lost or damaged on the way is another question.",),
    )  # fmt: skip
