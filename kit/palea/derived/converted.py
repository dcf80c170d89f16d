"""Columns of written amounts brought to one unit."""

import pandas as pd

from palea.calc.units import convert
from palea.errors import UnfitValue

COUNT = "1"


def converted(values, unit, wanted):
    """Values in another unit, nan where their own does not lead there.

    values : Series of numbers.  unit : Series of UCUM codes along it.  wanted : one code, or a Series along it.
    A share is never taken for a count: 84 % is no number of seeds.
    """
    to = wanted if isinstance(wanted, pd.Series) else pd.Series(wanted, index=values.index)
    pairs = pd.Series(list(zip(unit.fillna(""), to.fillna(""), strict=True)), index=values.index, dtype=object)
    return values * pairs.map({pair: _factor(*pair) for pair in pairs.unique()}).astype(float)


def _factor(unit, wanted):
    if COUNT in (unit, wanted) and unit != wanted:
        return float("nan")
    try:
        return convert(1.0, unit, wanted)
    except UnfitValue:
        return float("nan")
