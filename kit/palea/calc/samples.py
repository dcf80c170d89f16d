"""How well a count of a sample tells a share of the whole. Light: the check reaches it, so it needs numpy alone."""

import numpy as np


def relative_error(k, n):
    """Standard error of a share known as k of n, as a part of that share: sqrt((1 - p) / (p n)); nan for k = 0, and
    where k is above n.

    k, n : (m,).  Source: variance of a binomial share, McCullagh & Nelder 1989, ch. 4.

    >>> relative_error([90, 50], [100, 100]).round(3).tolist()
    [0.033, 0.1]
    """
    k, n = np.asarray(k, float), np.asarray(n, float)
    return np.sqrt((n - k) / (n * np.where((k > 0) & (k <= n), k, np.nan)))
