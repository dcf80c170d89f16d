"""Whether an instrument was in calibration on the day."""

import pandas as pd

from palea.calc.spans import earliest, latest
from palea.derived.view import view


@view(calibrations="equipment_id done_on quantity due_on")
def held_until(calibrations):
    """One row a calibration: equipment, quantity, done (first moment it can mean), due (last moment), due_on as written."""
    return pd.DataFrame(
        {
            "equipment": calibrations["equipment_id"],
            "quantity": calibrations["quantity"],
            "done": pd.Series(earliest(calibrations["done_on"]), index=calibrations.index),
            "due": pd.Series(latest(calibrations["due_on"]), index=calibrations.index),
            "due_on": calibrations["due_on"],
        }
    ).dropna(subset=["equipment", "done"])


def overdue(equipment, at, held_until):
    """Uses of instruments past the day until which their last calibration before held: frame with due_on, along `equipment`.

    equipment : Series of ids.  at : Series of written dates.  A use before the first known calibration is left alone, and
    so is one whose last calibration set no day. Each kind of quantity has calibrations of its own; the worst is told.
    """
    used = pd.DataFrame({"line": equipment.index, "equipment": equipment, "first": earliest(at), "last": latest(at)})
    both = used.dropna(subset=["equipment", "first"]).merge(held_until, on="equipment")
    known = both[both["done"] <= both["last"]].sort_values(["done", "due"], kind="stable")
    last = known.drop_duplicates(["line", "quantity"], keep="last")
    late = last[last["due"] < last["first"]].sort_values("due", kind="stable").drop_duplicates("line")
    return late.set_index("line").sort_index()[["quantity", "due_on"]]
