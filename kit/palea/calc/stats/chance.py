"""Chance from a seed: one stream a purpose and group, so that neither order nor the number of workers matters.

Only the raw bits of PCG64 are used, which NumPy promises never to change; the methods of its Generator carry no such
promise, and a colleague who reruns a package years later must meet the same draws.
"""

import hashlib

import numpy as np

from palea.errors import UnfitValue


def stream(seed, *names):
    """A source of bits for one purpose and group.

    seed : whole number >= 0, the option `seed` of an analysis.
    names : what it is for, as text: a purpose, then the keys of a group; order counts, neighbours do not run together.
    Returns numpy PCG64. Equal arguments give equal streams; any other name gives one that is independent of it.
    Raises UnfitValue for a seed that is no whole number >= 0.
    Source: PCG64 and SeedSequence as in NumPy (bit streams guaranteed stable by its NEP 19); names enter by SHA-256.
    """
    if isinstance(seed, bool) or not isinstance(seed, (int, np.integer)) or seed < 0:
        msg = f"seed is {seed!r}; a seed is a whole number, 0 or above, such as 1."
        raise UnfitValue(msg)
    digest = hashlib.sha256("".join(f"{len(name)}:{name}" for name in map(str, names)).encode()).digest()
    return np.random.PCG64(np.random.SeedSequence([int(seed), *np.frombuffer(digest, "<u4").tolist()]))


def uniforms(source, shape):
    """Even draws in [0, 1), 53 bits each; `shape` as in numpy.

    >>> uniforms(stream(1, "doc"), 3).round(6).tolist() == uniforms(stream(1, "doc"), 3).round(6).tolist()
    True
    """
    raw = np.asarray(source.random_raw(int(np.prod(shape))), np.uint64)
    raw >>= np.uint64(11)
    drawn = raw.view(np.int64).astype(float)  # below 2^53, so the sign bit is free, and signed numbers convert faster
    drawn *= 2.0**-53
    return drawn.reshape(shape)
