"""Answers at the bench: one-step questions that need no record, each with its formula so that it can be checked on paper."""

from palea.analyses import catalogue
from palea.panels.ask import AskPanel

AT_HAND = ("The numbers on the bottle and on the balance. Nothing typed here is kept.",)


def bench(package, first=None):
    """Ask what takes no record: a volume for a dose, a solution, plots for a difference. first : recipe to begin with."""
    plain = [r.id for r in catalogue.RECIPES if not r.reads]
    asked = tuple(sorted(plain, key=lambda name: name.startswith("planning.")))  # those of the bench before those of the desk
    return AskPanel(package, "At the bench: quick answers", asked, at_hand=AT_HAND, first=first, figures=False)
