"""How the seed was cleaned, method by method."""

from palea.documents.page import Part
from palea.record import batches as of
from palea.record import procedures, tested

KINDS = ("clean", "grade")


def part(story):
    """The Part on cleaning, or None where no seed was cleaned."""
    every = of.all_batches(story, KINDS)
    if not every:
        return None
    told = [procedures.part(story, p, of.recovery, "Recovered, % of mass") for p in procedures.together(story, every)]
    return Part("Cleaning", (*told, *tested.summary(story, every, "Cleaned lots", "tests-cleaned")), "cleaning")
