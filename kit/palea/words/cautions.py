"""Sentences on estimates whose intervals hold the truth less often than they say, as simulation has shown."""

from palea.words import naming, prose

SIDES = ("treatment", "a", "b", "lot")
MOST = 5  # groups that a sentence names


def say(result, names):
    """A sentence for each kind of caution that estimates of a result carry, with all that it concerns."""
    found = {}
    for each in result.estimates:
        if each.caution is not None:
            found.setdefault(each.caution, {}).setdefault(_who(each, names))
    return [sentence(caution, list(whom)) for caution, whom in found.items()]


def _who(estimate, names):
    """What an estimate is of, as a list of cautions names it: "T03 against T02 (Corynephorus canescens)"."""
    sides = [estimate.of[side] for side in SIDES if estimate.of.get(side)]
    where = naming.place(estimate.of, names)
    return f"{' against '.join(sides)}{f' ({where})' if where else ''}"


def sentence(caution, whom):
    """What is said of one kind of caution. whom : the groups that it concerns, in words."""
    named = [*whom[:MOST], *([f"{len(whom) - MOST} more"] if len(whom) > MOST else [])]
    return prose.together(
        f"Intervals of {prose.listed(named)} may be too narrow: {caution.because}",
        f"Of 100 simulated data sets of such a design ({caution.design}) 95 % intervals held the true value in as few as "
        f"{caution.least:.0f} (tests/coverage, {caution.study})",
    )
