"""One way in: a result of any family as a chart."""

from altair.utils.schemapi import debug_mode

from palea.calc.results import Curves, Effects, Layout, Refusal, Values
from palea.errors import RecipeError
from palea.figures import curves, effects, layout, losses, refusal, values

FAMILIES = ((Effects, effects), (Curves, curves), (Values, values), (Layout, layout), (Refusal, refusal))


def draw(result, sentences, names):
    """The chart of a result.

    result : Values, Effects, Curves, Layout or Refusal.  sentences : what `palea.words.say` made of it.
    names : {id: readable label} for taxa, treatments and environments. Raises RecipeError for anything else.
    """
    with debug_mode(arg=False):  # parts are not held against the grammar one by one; the tests hold whole charts against it
        return _module(result).draw(result, sentences, names)


def _module(result):
    if losses.fits(result):
        return losses
    for family, module in FAMILIES:
        if isinstance(result, family):
            return module
    msg = f"No figure can be made of a {type(result).__name__}. What can be drawn: Values, Effects, Curves, Layout, Refusal."
    raise RecipeError(msg)
