"""One way in: a result of any family, in sentences."""

from palea.calc.results import Curves, Effects, Layout, Refusal, Values
from palea.errors import RecipeError
from palea.words import curves, effects, layout, refusal, values

FAMILIES = ((Effects, effects), (Curves, curves), (Values, values), (Layout, layout), (Refusal, refusal))


def say(result, names):
    """All sentences of a result, in the order in which they should be read.

    result : Values, Effects, Curves, Layout or Refusal.  names : {id: readable label} for taxa, treatments and environments; an
    id without a label is shown as it is. Raises RecipeError for anything else.
    """
    return [sentence for _, sentence in lines(result, names)]


def by_taxon(result, names):
    """{taxon id: its sentences}, in order; "" holds what is said of no single taxon."""
    found = {}
    for taxon, sentence in lines(result, names):
        found.setdefault(taxon, []).append(sentence)
    return found


def summary(result, names):
    """(taxon id, sentence) of what comes first for each taxon: its primary contrasts, else its first sentence."""
    if isinstance(result, Effects) and result.effects:
        return [(taxon, s) for taxon, sentences in effects.headlines(result, names).items() for s in sentences]
    return [(taxon, sentences[0]) for taxon, sentences in by_taxon(result, names).items()]


def lines(result, names):
    """(taxon id, sentence) of each sentence."""
    for family, module in FAMILIES:
        if isinstance(result, family):
            return module.lines(result, names)
    msg = f"No sentences can be made of a {type(result).__name__}. What can be told: Values, Effects, Curves, Layout, Refusal."
    raise RecipeError(msg)
