"""The cleaning stage on screen: a cleaning run step by step, and what was lost on the way."""

from palea.panels.job import Answer
from palea.panels.run import RunPanel

AT_HAND = (
    "The lot, weighed, and its container for what comes out.",
    "The procedure; where there is none yet, write one at the planning stage, or record the steps as they come.",
    "The local risk assessment and the safety data sheets; a second person for acid and flame.",
)
TEACHING = """\
This stage records how hulls, awns and chaff came off: every step with amount, time and end point, and all that came out.
From that follow recovery by number and by mass, damage, and minutes a gram.
An example: 300 g of pods go into the brush machine for four passes; 122 g of clean seed come out, and 160 g of chaff."""


def cleaning(package, who=None):
    """Clean a lot: open a procedure, tick its steps as they are done, weigh what comes out, finish.

    package : Package.  who : the name for the journal. Returns a widget; a run can be left at any step and taken up again.
    """
    answers = (Answer("cleaning.recovery"), Answer("cleaning.effort"))
    return RunPanel(package, "Cleaning: a run at the bench", "cleaning", at_hand=AT_HAND, teaching=TEACHING,
                    answers=answers, who=who)  # fmt: skip
