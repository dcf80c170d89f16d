"""Values fetched by key from another table, and frames laid together, with dtypes that do not depend on what was found."""

import numpy as np
import pandas as pd

TEXT = pd.StringDtype("pyarrow")


def numbers(keys, found):
    """Series of float64 along `keys`, nan where the key is unknown.

    found : mapping or Series by key; of a key that occurs twice (a fault that the check reports) the first is taken.
    """
    return pd.Series(_fetch(keys, found).to_numpy(dtype=np.float64, na_value=np.nan), index=keys.index)


def texts(keys, found):
    """Series of text along `keys`, missing where the key is unknown."""
    return pd.Series(_fetch(keys, found).to_numpy(dtype=object), index=keys.index, dtype=TEXT)


def moments(keys, found):
    """Series of datetime64[s] along `keys`, NaT where the key is unknown."""
    return pd.Series(_fetch(keys, found).to_numpy(dtype="datetime64[s]"), index=keys.index)


def _fetch(keys, found):
    found = found if isinstance(found, pd.Series) else pd.Series(found, dtype=object)
    found = found[~found.index.duplicated()]
    found.index = pd.Index(found.index.to_numpy(dtype=object))
    return found.reindex(pd.Index(keys.to_numpy(dtype=object)))


def stacked(frames):
    """Frames of the same columns, one below the other; empty ones are left out, since they would blur the dtypes."""
    filled = [frame for frame in frames if len(frame)]
    return pd.concat(filled) if filled else frames[0]
