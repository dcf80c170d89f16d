"""A bag that holds seed back: grams of each of two portions for so many live seeds."""

from types import MappingProxyType

import numpy as np

from palea.calc.checked import not_below_zero, share
from palea.calc.decision.mixture import GRAMS, bag
from palea.calc.formula import shown
from palea.calc.results import Estimate, Values
from palea.errors import UnfitValue


def bag_of(
    held_back_pct=50.0, live_seeds=10_000.0, live_pct="90; 50", tsw_g="0.9; 1.45", build_up_pct="0; 0",
    portions="treated; held back",
):  # fmt: skip
    """Grams of each portion in a bag with so many live seeds -> Values.

    held_back_pct : share of live seed in the second portion.  live_seeds : in the bag.  live_pct : live of the units of
    each portion.  tsw_g : bare thousand-seed weights.  build_up_pct : coat on bare seed.  portions : their names. The
    last four hold two values each, separated by a semicolon.
    Raises UnfitValue for anything but two numbers, a share outside 0 to 100 or a mass not above 0.
    Source: common practice, no source (live seeds over live a unit, times the mass of a unit).

    >>> [round(e.value, 2) for e in bag_of().estimates]
    [5.0, 14.5]
    """
    names = [part.strip() for part in portions.split(";")]
    live, thousand, coat = _two(live_pct, "live_pct"), _two(tsw_g, "tsw_g"), _two(build_up_pct, "build_up_pct")
    if len(names) != 2 or not (thousand > 0).all():
        msg = f"A bag has two portions with a mass above 0; portions is “{portions}”, tsw_g “{tsw_g}”."
        raise UnfitValue(msg)
    share(live / 100, "live_pct / 100", open_low=True)
    held = float(share(held_back_pct / 100, "held_back_pct / 100"))
    weights = np.array([1 - held, held])
    seeds = weights * not_below_zero(live_seeds, "live_seeds")
    mass = bag(weights, live_seeds, live / 100, thousand, not_below_zero(coat, "build_up_pct"))
    told = [
        f"{name}: " + shown(
            "m", "live seeds x share / live x TSW x (1 + B / 100) / 1000",
            f"{live_seeds:g} x {weights[i]:g} / {live[i] / 100:g} x {thousand[i]:g} g x {1 + coat[i] / 100:g} / 1000", mass[i], "g",
        )
        for i, name in enumerate(names)
    ]  # fmt: skip
    return Values(
        method=" ".join(told), estimates=tuple(
            Estimate(GRAMS, MappingProxyType({"treatment": name}), float(mass[i]), unit="g",
                     n_seeds=round(float(seeds[i] / live[i] * 100)))
            for i, name in enumerate(names)
        ),
        assumptions=(
            f"{seeds[0]:.0f} live seeds of {names[0]} and {seeds[1]:.0f} of {names[1]}.",
            "TSW is of bare seed, B the coat in % of it.",
        ),
    )  # fmt: skip


def _two(text, name):
    try:
        found = [float(part) for part in str(text).split(";")]
    except ValueError:
        found = []
    if len(found) != 2:
        msg = f"{name} is “{text}”; write two numbers separated by a semicolon, as 90; 50."
        raise UnfitValue(msg)
    return np.array(found)
