"""The reason beside a published number against the one that comes out now: whether only words changed, and why they may.

A reason says why a number was refused, or how it came to its verdict, so it is held against the new one like a number. Another
version of the recipe may say it otherwise, and another palea may word it better: that makes no published number a different one.
"""

from palea import __version__
from palea.analyses import catalogue
from palea.sharing import since
from palea.sharing.compare import AGREE, REASON
from palea.sharing.reasons import WORDS, Reason
from palea.tables.paths import printable

LONGEST = 200  # characters of a reason that a sentence quotes
SAME = "Data, version, options and palea are the ones recorded, so the words were altered."


def weighed(compared, recorded, package):
    """(the comparison, Reason of what only words set apart; None where nothing does).

    compared : as `compare` gives it.  recorded : Recorded.  Results that only words set apart differ where the same version
    of recipe and palea wrote them; where another palea did, they stay what their numbers are, and the Reason tells it.
    """
    if catalogue.find(recorded.recipe).version != recorded.version or not compared["reworded"].any():
        return compared, None
    numbers_too = compared["reworded"] & compared["verdict"].eq("differs")
    compared = compared.assign(apart=compared["apart"].mask(numbers_too, compared["apart"] + f", {REASON}"))
    alone = compared["reworded"] & compared["verdict"].isin(AGREE)
    if not alone.any():
        return compared, None
    told = f"{_only_words(compared, alone)} {_cause(recorded, package)}"
    if recorded.code_version == __version__:
        compared = compared.assign(verdict=compared["verdict"].mask(alone, "differs"), apart=compared["apart"].mask(alone, REASON))
    return compared, Reason(WORDS, told)


def _only_words(compared, alone):
    first, n = compared[alone].iloc[0], int(alone.sum())
    of = f"{first['quantity']} ({first['group']})" if first["group"] else first["quantity"]
    many = "" if n == 1 else f" The same goes for {n - 1} more of its {len(compared)} results."
    return (
        f"Only words changed: number and verdict of {of} came out, but the reason beside them {_says('was', first['said_was'])} "
        f"and {_says('is', first['said_now'])}.{many}"
    )


def _says(be, text):
    quoted = printable(text.rstrip("."), LONGEST)  # the sentence around it has a full stop of its own
    return f"{be} “{quoted}”" if text else f"{be} blank"


def _cause(recorded, package):
    """Why the words may be others, in a sentence."""
    if recorded.code_version != __version__:
        wrote = f"palea {printable(recorded.code_version, 20)}" if recorded.code_version else "A palea that is not named"
        return f"{wrote} wrote them, this is palea {__version__}, and its words may be others."
    if recorded.still_fits(package) is False:
        told = since.told(package, recorded, since.lines(package, recorded))
        return f"The data that it rests on were changed after it was run. {told}"
    return SAME
