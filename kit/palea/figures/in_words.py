"""A figure in words, for who cannot see it: what is drawn, how many of what, and the sentences of the result."""

from palea.calc.results import Curves, Effects, Refusal
from palea.words import prose, say
from palea.words import refusal as refused

PICTURE = {
    Effects: "A row a group with its dishes, estimate and interval; beside it a row a contrast and its verdict",
    Curves: "A panel a group with the course of each dish, the estimate and its band",
}


def alternative(result, names):
    """The text alternative of the figure of a result: its kind, its size, then all its sentences."""
    if isinstance(result, Refusal):
        return prose.together("No figure", *refused.say(result, names))
    picture = next((text for family, text in PICTURE.items() if isinstance(result, family)), "A row a group")
    return prose.together(picture, _size(result), *say(result, names))


def _size(result):
    """How much is drawn: "3 species, 28 groups and 448 dishes"."""
    groups = getattr(result, "curves", None) or getattr(result, "groups", None) or result.estimates
    taxa = dict.fromkeys(g.of.get("taxon", "") for g in groups)
    dishes = result.units["unit"].nunique() if "unit" in result.units else 0
    parts = [prose.counted(len(taxa), "species", "species"), prose.counted(len({_key(g) for g in groups}), "group")]
    parts += [prose.counted(dishes, "dish", "dishes")] if dishes else []
    return prose.listed(parts)


def _key(group):
    return tuple(sorted(group.of.items()))
