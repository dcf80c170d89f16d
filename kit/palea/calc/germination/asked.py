"""Declared contrasts as a calculation takes them: plain values, one for each environment they are asked in."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from palea.calc.stats.contrasts import rows_of


@dataclass(frozen=True)
class Asked:
    """A declared contrast of a share in one environment, missing values as "", nan and False.

    declared : the denominator it was declared for; `denominator` : the one to judge it on (another in a what-if).
    margin : in points.  across : the factor over which the difference is compared, "" where it is asked itself.
    elsewhere : see palea.calc.stats.contrasts.with_elsewhere.  refused : why it cannot be judged, "" where it can.
    The rest as in the contrasts table.
    """

    taxon: str
    environment: str
    a: str
    b: str
    quantity: str
    denominator: str
    declared: str
    kind: str
    margin: float
    wanted: str
    primary: bool
    asks_about: str
    refused: str
    margin_late: bool
    across: str = ""
    elsewhere: int = 0

    @property
    def of(self) -> Mapping[str, str]:
        """As in Estimate."""
        return MappingProxyType({"taxon": self.taxon, "environment": self.environment, "a": self.a, "b": self.b})

    def key(self, denominator=None):
        """Of the cell that holds its dishes, on another denominator where one is given."""
        return self.taxon, self.environment, self.quantity, denominator or self.denominator


def read(asked, places, quantity=None, denominator=None):
    """Rows of declared contrasts -> list of Asked, in order.

    asked : frame, see germination.final.  places : function from a taxon to its environments, for rows that name none.
    quantity : only questions about it.  denominator : in place of the declared one.
    A question without denominator is about no share and is passed over.
    """
    rows = rows_of(asked)
    about = [row for row in rows if row["denominator"] and quantity in (None, row["quantity"])]
    return [
        _asked(row, place, denominator or row["denominator"])
        for row in about
        for place in ([row["environment"]] if row["environment"] else places(row["taxon"]))
    ]


def _asked(row, environment, denominator):
    row = row | {"declared": row["denominator"], "environment": environment, "denominator": denominator}
    text = {name: str(row.get(name, "")) for name, kind in Asked.__annotations__.items() if kind is str}
    flags = {name: bool(row.get(name, False)) for name in ("primary", "margin_late")}
    margin = float(row["margin"]) if row["margin"] != "" else np.nan
    return Asked(margin=margin, elsewhere=int(row.get("elsewhere", 0)), **text, **flags)
