"""What a planted mistake is: a number, what somebody did wrong, and the findings that have to come of it."""

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Mistake:
    """One mistake. `plant` changes the Desk and returns the findings expected, as (rule, table, row) with row a mapping.

    row : the row of that table to which the finding points, as it lies on the Desk; None for a whole file.
    """

    number: int
    what: str
    plant: Callable


def mistake(number, what):
    """Make a Mistake of the function below."""
    return lambda function: Mistake(number, what, function)
