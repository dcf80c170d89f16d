"""Which declared contrast a judged effect answers, so that a kept row can name it."""

from dataclasses import replace

import pandas as pd


def with_contrasts(result, asked):
    """Effects of which each names the one declared contrast that it answers; "" where it answers none, or one of several.

    asked : rows of palea.derived.contrasts.asked.  Only what was judged (or is not judged, and says why) answers a contrast;
    what is shown beside it does not. Both sides, margin and, where both say it, species, environment, kind and denominator
    are those of the contrast; and the quantity, or where the contrast is asked across a factor, that factor. Where several
    fit, what is asked within one setting goes before what is asked across, and then the day decides.
    """
    of_pair = {}
    for row in asked.to_dict("records"):
        of_pair.setdefault((row["a"], row["b"]), []).append(row)
    pairs = [of_pair.get((each.of.get("a"), each.of.get("b")), ()) for each in result.effects]
    named = (replace(each, contrast=_answered(each, rows)) for each, rows in zip(result.effects, pairs, strict=True))
    return replace(result, effects=tuple(named))


def _answered(estimate, rows):
    fitting = [row for row in rows if _fits(estimate, row)] if estimate.verdict else []
    plain = [row for row in fitting if _blank(row["across"])] or fitting
    on_its_day = [row for row in plain if row["at_day"] == estimate.time] or plain
    names = {row["contrast"] for row in on_its_day if not _blank(row["contrast"])}
    return names.pop() if len(names) == 1 else ""


def _fits(estimate, row):
    pairs = (
        (estimate.of.get("environment"), row["environment"]), (estimate.of.get("taxon"), row["taxon"]),
        (estimate.kind, row["kind"]), (estimate.denominator, row["denominator"]),
    )  # fmt: skip
    agree = all(_blank(one) or _blank(other) or one == other for one, other in pairs)
    same_margin = estimate.margin == row["margin"] or (_blank(estimate.margin) and _blank(row["margin"]))
    return agree and same_margin and _same_question(estimate, row)


def _same_question(estimate, row):
    """A difference answers what asks for it. How it changes answers what asks across a factor, and so does a quantity that
    is of that factor alone, as a half-life in storage.
    """
    same, change = estimate.quantity == row["quantity"], estimate.change
    if _blank(row["across"]):
        return same and change is None
    told = change.quantity == row["quantity"] if change is not None else not same
    return told and estimate.asks_about in (row["across"], row["asks_about"])


def _blank(value):
    return value == "" if isinstance(value, str) else pd.isna(value)
