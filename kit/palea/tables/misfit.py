"""Why a text cannot be taken: what a parser says instead of raising."""

from dataclasses import dataclass

from palea.tables.paths import printable


@dataclass(frozen=True)
class Misfit:
    """Why a text cannot be taken. rule : end of a rule id.  what, advice : halves of a sentence, without their
    full stop.
    """

    rule: str
    what: str
    advice: str

    def __str__(self):
        """One sentence."""
        return f"{self.what}; {self.advice}."

    @property
    def message(self):
        """What is wrong, as a sentence of its own."""
        return f"{self.what}."

    @property
    def remedy(self):
        """What to do next, as a sentence of its own."""
        return f"{self.advice[:1].upper()}{self.advice[1:]}."


def quoted(text):
    """A text as it stands in a sentence: in quotation marks, cut short, harmless."""
    return f"“{printable(text, 60)}”"
