"""Results in sentences. `say(result, names)` takes any family; each family has its own module."""

from palea.words.saying import by_taxon, say, summary

__all__ = ["by_taxon", "say", "summary"]
