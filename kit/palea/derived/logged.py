"""What loggers wrote, logger by logger: steps between readings, holes, and clocks that were put forward or back."""

import numpy as np
import pandas as pd

from palea.calc.spans import earliest
from palea.derived.view import view

HOUR = np.timedelta64(1, "h")


@view(conditions="equipment_id logged_at quantity of_the_day")
def steps(conditions):
    """One row a single reading that has one before it: line, logger, quantity, at, since, hours, usual, offset, offset_before.

    hours : true time since the reading before, by the offsets where both have one (else by the wall clock).
    usual : the median step of that logger and quantity, h.  Daily summaries are left out.
    """
    single = conditions[conditions["of_the_day"].eq("reading").fillna(value=False)]
    text = single["logged_at"].astype("string")
    minutes = text.str[-6:].map(_minutes()).astype(float)
    minutes = minutes.mask(text.str.endswith("Z").fillna(value=False), 0.0)
    at = pd.Series(earliest(single["logged_at"]), index=single.index)
    told = pd.DataFrame(
        {"line": single.index, "logger": single["equipment_id"], "quantity": single["quantity"], "at": at,
         "written": text, "offset": minutes}
    ).dropna(subset=["at"])  # fmt: skip
    told = told.assign(utc=told["at"] - pd.to_timedelta(told["offset"].fillna(0), unit="m"))
    told = told.sort_values(["logger", "quantity", "utc"], kind="stable")
    by = told.groupby(["logger", "quantity"], sort=False)
    told = told.assign(since=by["written"].shift(), offset_before=by["offset"].shift(), hours=by["utc"].diff() / HOUR)
    told = told.dropna(subset=["hours"])
    return told.assign(usual=told.groupby(["logger", "quantity"])["hours"].transform("median")).reset_index(drop=True)


def _minutes():
    """{"+02:00": 120, ...} for every offset that clocks on Earth have."""
    quarter = range(-14 * 4, 14 * 4 + 1)
    return {f"{'-' if q < 0 else '+'}{abs(q) // 4:02d}:{abs(q) % 4 * 15:02d}": 15 * q for q in quarter}
