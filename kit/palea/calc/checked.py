"""What a number must be before it is reckoned with: one sentence for a number that cannot be."""

import numpy as np

from palea.errors import UnfitValue


def above_zero(value, name):
    """The value as float array, each above 0 or nan; UnfitValue naming argument and position otherwise.

    >>> above_zero(2, "mass_g")
    array(2.)
    """
    return within(value, name, 0, np.inf, "a number above 0", open_low=True)


def not_below_zero(value, name):
    """As `above_zero`, 0 allowed."""
    return within(value, name, 0, np.inf, "0 or above")


def share(value, name, *, open_low=False, open_high=False):
    """As `above_zero`, for a share from 0 to 1; the ends excluded where they are open."""
    words = f"a share {'above 0' if open_low else 'from 0'} {'and below' if open_high else 'to'} 1"
    return within(value, name, 0, 1, words, open_low=open_low, open_high=open_high)


def within(value, name, low, high, allowed, *, open_low=False, open_high=False):
    """As `above_zero`, for any two ends; `allowed` says them in words. nan passes: it is a value that is missing."""
    value = np.asarray(value, float)
    bad = (value <= low if open_low else value < low) | (value >= high if open_high else value > high)
    if bad.any():
        at = int(np.flatnonzero(bad)[0])
        where = name if value.ndim == 0 else f"{name}[{at}]"
        msg = f"{where} is {value.flat[at]:g}; allowed is {allowed}. Correct it, or leave it blank if it is not known."
        raise UnfitValue(msg)
    return value
