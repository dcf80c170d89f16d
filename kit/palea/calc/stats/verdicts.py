"""The one place where an interval becomes a word.

An effect has its 95 % interval (outer) and its 90 % interval (inner: two one-sided tests at 5 %). Together with a
margin that was fixed before the first count they give exactly one word of the verdict list, or none where none is due.
"""

from typing import NamedTuple

import numpy as np

from palea.calc.terms import Kind, Verdict

UNDECLARED = "This contrast was not declared in the plan: it earns an interval and no verdict."
LATE = "The margin was typed after the first count: it earns an interval and no verdict."
NO_MARGIN = "No margin was declared that says what would matter. Declare one before the first count."
NO_INTERVAL = "There is no interval to judge by."
NO_DIRECTION = "It was not declared whether higher or lower counts as better."


class Judgement(NamedTuple):
    """A word of the verdict list, or "" where none is due, and the reason where it is "" or not judged."""

    verdict: str
    reason: str = ""


def judge(outer, inner, kind, margin=np.nan, wanted="higher", *, scale="difference", declared=True, margin_late=False):
    """The verdict on a against b.

    outer, inner : (lower, upper) at 95 % and at 90 %; adjusted ones where comparisons are many.
    kind : what the contrast asks, a word of calc.terms.Kind.  margin : what matters, > 0, on the scale of the effect (a
    ratio's margin is a ratio above 1, as in 1.25); nan, or one that no effect could stay inside: none was declared.
    wanted : whether "higher" or "lower" values of a count as better.
    scale : "difference" has its null at 0; any ratio has it at 1 and is judged on the log scale.
    declared : False for a contrast or outcome that the plan does not name.  margin_late : typed after the first count.

    better, worse : outer excludes the null.  differs by less than matters : it does, and inner lies inside the margin.
    equivalent within m : outer includes the null, inner lies inside the margin.
    no worse by more than m : only if that was asked: inner ends short of the margin on the worse side, and the effect
    is not shown to be better by what may matter.  not shown : the rest.  not judged : no interval, margin or direction.
    An interval that ends exactly at null or margin excludes neither.
    Source: Schuirmann 1987, J. Pharmacokinet. Biopharm. 15:657 (two one-sided tests); Lakens 2017, SPPS 8:355.

    >>> judge((0.2, 9.0), (0.9, 8.3), "equivalence", margin=15).verdict
    <Verdict.LESS_THAN_MATTERS: 'differs by less than matters'>
    """
    margin = _on_line(margin, scale)
    margin = margin if 0 < margin < np.inf else np.nan
    refused = _not_due(outer, inner, kind, margin, wanted, declared, margin_late)
    if refused:
        return refused
    sign = _direction(wanted)
    low, high, inner_low, inner_high = (sign * _on_line(end, scale) for end in (*outer, *inner))
    if sign < 0:
        low, high, inner_low, inner_high = high, low, inner_high, inner_low
    return Judgement(_word(low, high, inner_low, inner_high, kind, margin))


def _on_line(value, scale):
    """On a scale whose null is 0."""
    if scale == "difference":
        return value
    return np.log(value) if value > 0 else np.nan if np.isnan(value) else -np.inf


def _direction(wanted):
    """Which way counts as better: 1, -1, or 0 where it was not said."""
    return int(wanted == "higher") - int(wanted == "lower")


def _not_due(outer, inner, kind, margin, wanted, declared, margin_late):
    if np.isnan([*outer, *inner]).any():
        return Judgement(Verdict.NOT_JUDGED, NO_INTERVAL)
    if not declared:
        return Judgement("", UNDECLARED)
    if np.isnan(margin) and kind != Kind.SUPERIORITY:
        return Judgement(Verdict.NOT_JUDGED, NO_MARGIN)
    if margin_late and not np.isnan(margin):
        return Judgement("", LATE)
    return None if _direction(wanted) else Judgement(Verdict.NOT_JUDGED, NO_DIRECTION)


def _word(low, high, inner_low, inner_high, kind, margin):
    """From ends turned so that above 0 is better. Comparisons with a missing margin are false, as they should be."""
    inside = inner_low > -margin and inner_high < margin
    if kind == Kind.NO_WORSE and inner_low > -margin:
        return Verdict.BETTER if low > 0 and not inside else Verdict.NO_WORSE
    if inside:
        return Verdict.LESS_THAN_MATTERS if low > 0 or high < 0 else Verdict.EQUIVALENT
    if low > 0:
        return Verdict.BETTER
    return Verdict.WORSE if high < 0 else Verdict.NOT_SHOWN
