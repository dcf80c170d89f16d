"""One way in: a result of any family as a chart."""

from palea.calc.results import Curves, Effects, Layout, Refusal, Values
from palea.errors import RecipeError
from palea.figures import curves, effects, layout, losses, refusal, values

FAMILIES = ((Effects, effects), (Curves, curves), (Values, values), (Layout, layout), (Refusal, refusal))


def draw(result, sentences, names):
    """The chart of a result.

    result : Values, Effects, Curves, Layout or Refusal.  sentences : what `palea.words.say` made of it.
    names : {id: readable label} for taxa, treatments and environments. Raises RecipeError for anything else.
    """
    if losses.fits(result):
        return losses.draw(result, sentences, names)
    for family, module in FAMILIES:
        if isinstance(result, family):
            return module.draw(result, sentences, names)
    msg = f"No figure can be made of a {type(result).__name__}. What can be drawn: Values, Effects, Curves, Layout, Refusal."
    raise RecipeError(msg)
