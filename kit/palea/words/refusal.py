"""The sentence for a Refusal: what was asked, what is missing, what would make it answerable."""

from palea import schema
from palea.calc.terms import Verdict
from palea.words import naming, prose


def say(result, names):
    """One sentence or two; a refusal is an answer too."""
    return [sentence for _, sentence in lines(result, names)]


def asked_for(result):
    """What was asked for: a quantity in the schema's words, or the id of a recipe as it is."""
    known = schema.vocabulary("quantity").words
    return naming.title(result.quantity) if result.quantity in known else result.quantity or "this question"


def lines(result, names):  # noqa: ARG001  every family is asked in the same way; a refusal names nobody
    """("", sentence): a refusal holds for all that was asked about."""
    asked = asked_for(result)
    return [("", prose.together(f"{asked}: {Verdict.NOT_JUDGED}", result.missing, result.remedy))]
