"""How the seed was cleaned, method by method."""

from palea.documents.page import Paragraph, Part
from palea.record import batches as of
from palea.record import procedures, tested

KINDS = ("clean", "grade")
NAME, CAPTION, HEAD = "tests-cleaned", "Cleaned lots", "Recovered, % of mass"


def part(story):
    """The Part on cleaning, or None where no seed was cleaned."""
    every = of.all_batches(story, KINDS)
    if not every:
        return None
    told = [procedures.part(story, p, of.recovery, HEAD) for p in procedures.together(story, every)]
    how = tested.how(story, every, NAME)
    return Part("Cleaning", (*told, *([Paragraph(how)] if how else [])), "cleaning")


def tables(story):
    """Grids for the appendix: amounts of each procedure, tests on what was cleaned."""
    every = of.all_batches(story, KINDS)
    grids = [procedures.grid(story, p, of.recovery, HEAD) for p in procedures.together(story, every)]
    return [*filter(None, grids), *tested.summary(story, every, CAPTION, NAME)]
