"""Results in sentences. `say(result, names)` takes any family; each family has its own module."""

from palea.words.cautions import say as cautions
from palea.words.saying import by_taxon, say, summary

__all__ = ["by_taxon", "cautions", "say", "summary"]
