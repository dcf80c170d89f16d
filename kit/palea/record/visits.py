"""Who looked at the units when, what counted as what, and which units were lost or left out."""

import numpy as np

from palea import schema
from palea.calc.spans import earliest
from palea.derived.counting import DAY, dishes
from palea.documents.page import Paragraph
from palea.record import followed
from palea.record.spread import period, several
from palea.record.story import applies, gap, gaps
from palea.words.numbers import short
from palea.words.prose import inside, listed

DAYS_TOLD = 16  # days of visits that a sentence lists


def paragraph(story, trial):
    """The Paragraph on visits, outcomes and losses of a trial."""
    key = trial["trial_id"]
    rows = story.rows("visits", trial_id=key)
    told = [*_criteria(story, trial), *(_visits(story, key, rows) if rows else ()), _outcomes(story, key)]
    return Paragraph((*told, *_how_ended(story, rows), *_left_out(story, key)))


def units_of(kind):
    """What a kind of unit is called where there are several.

    >>> units_of("dish"), units_of("plot")
    ('dishes', 'plots')
    """
    words = schema.vocabulary("unit_kind").words
    title = inside(words[kind]["title"]) if kind in words else kind
    return f"{title}es" if title.endswith(("sh", "ch", "s", "x")) else f"{title}s"


def said_before(story, about, words, key):
    """The words themselves where they stand for the first time; else “as in” the trial that said them."""
    first = story.memory.setdefault(("said", about, words), key)
    return words if first == key else f"as in {first}"


def locked_before(story, trial):
    """Whether the plan was locked before the first visit."""
    first = min((v["visited_at"] for v in story.rows("visits", trial_id=trial["trial_id"])), default="")
    return bool(trial["locked_at"] and first and trial["locked_at"][:10] <= first[:10])


def _criteria(story, trial):
    """What counted as germinated and when time began; nothing of what does not apply to the trial."""
    for lead, column in (("Counted as germinated: ", "germinated_when"), ("Day 0: ", "time_zero")):
        if trial[column] is not None or applies(trial, column):
            yield (lead, story.cell("trials", trial, column, trial["trial_id"]), ". ")


def _visits(story, key, rows):
    seen = [f"{day:.0f}" for day in days(story, key)]
    on = f"on days {listed(seen)}" if 0 < len(seen) <= DAYS_TOLD else f"on {several(len(seen), 'day')}"
    people = listed(dict.fromkeys(story.person(v["visited_by"]) for v in rows))
    blind = {v["blind"] for v in rows}
    names = [f"visit {v['visit_id']}" for v in rows]
    marks = [x for mark in gaps("visits", rows, "blind", names, f"all visits of {key}") for x in (", ", mark)]
    knew = (
        "; the counter did not know the treatment"
        if blind == {True}
        else "; the counter knew the treatment"
        if blind == {False}
        else "; the counter knew the treatment at some visits"
        if False in blind
        else ""
    )
    ways = listed(dict.fromkeys(story.value("visits", v, "counting") for v in rows))
    when = f"{several(len(rows), 'visit')}, {period([v['visited_at'] for v in rows])}"
    yield (f"Units were looked at {on} ({when}) by {people}{knew}", *marks, f". Counts are written as: {ways}.")
    yield (*followed.rows("visits", [v["visit_id"] for v in rows]), " ")
    yield from (
        f"Thinning: {inside(v['notes'].rstrip('.'))} ({v['visited_at'][:10]}). "
        for v in rows
        if v["thinning_rule"] and v["notes"]
    )


def days(story, key):
    """Days of the visits since the first wetting of the first unit, rising, each once; none where nothing was sown."""
    start = story.facts[dishes]
    start = start[start["trial"].eq(key)]["start"].min()
    rows = story.facts["visits"]
    at = earliest(rows[rows["trial_id"].eq(key)]["visited_at"])
    if not len(at) or start != start:
        return []
    found = np.floor((at - np.datetime64(start)) / DAY)
    return sorted({float(day) for day in found[np.isfinite(found)]})


def _outcomes(story, key):
    told = []
    for row in story.rows("trial_outcomes", trial_id=key):
        quantity = inside(schema.word("quantity", row["outcome"])["title"])
        of = f" {schema.word('denominator', row['denominator'])['of']}" if row["denominator"] else ""
        day = f" by day {short(row['at_day'])}" if row["at_day"] is not None else ""
        first = ", the primary one" if row["primary"] else ""
        words = f" ({said_before(story, 'criterion', row['criterion'].rstrip('.'), key)})" if row["criterion"] else ""
        told.append(f"{quantity}{of}{day}{first}{words}")
    return f"Outcomes set in the plan: {'; '.join(told)}. " if told else ""


def _how_ended(story, rows):
    """How seed that was left at the end was told apart."""
    mine = {v["visit_id"] for v in rows}
    counts = story.facts["counts"]
    last = counts[counts["visit_id"].isin(mine) & counts["outcome"].isin(schema.words("outcome", seen="at the end"))]
    methods = [m for m in last["method"].unique() if isinstance(m, str)]
    if methods:
        titles = listed(inside(schema.word("count_method", m)["title"]) for m in methods)
        what = listed(inside(schema.word("outcome", o)["title"]) for o in last["outcome"].unique())
        yield f"Seed left at the end was told apart ({what}) by: {titles}. "


def _left_out(story, key):
    """Units that do not count, with their reason."""
    out = [u for u in story.rows("units", trial_id=key) if u["status"] in schema.words("unit_status", counts=False)]
    if not out and story.rows("units", trial_id=key):
        yield "No unit was lost or left out."
    for unit in out:
        why = unit["reason"].rstrip(".") if unit["reason"] else gap("units", [unit], "reason", unit["unit_id"])
        blind = {True: ", with its outcome known", False: ", before its outcome was known"}.get(
            unit["outcome_known"], ""
        )
        yield (
            f"{unit['unit_id']} is {story.value('units', unit, 'status')}: ",
            why,
            f" (decided{blind}). " if blind else ". ",
        )
