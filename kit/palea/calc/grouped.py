"""Rows of arrays by group, without a frame a group."""

import numpy as np


def together(number):
    """Positions of equal numbers, a list of arrays, the lowest number first; positions rise in each.

    number : (n,) whole numbers.

    >>> [part.tolist() for part in together(np.array([1, 0, 1]))]
    [[1], [0, 2]]
    """
    order = number.argsort(kind="stable")
    return np.split(order, np.flatnonzero(np.diff(number[order])) + 1) if len(number) else []
