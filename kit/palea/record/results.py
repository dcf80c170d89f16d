"""What was found, trial by trial: the primary answers in sentences, every declared contrast in a table and a drawing.

What was asked of the whole package follows, question by question. All other numbers stand in the appendix (`estimates`).
"""

from collections import Counter

from palea import schema
from palea.checks.record import stale_results
from palea.documents.page import Column, Grid, Link, Listing, Note, Paragraph, Part, Picture, Row, reference
from palea.record import declared, followed, forest, kept, steps, trials
from palea.record.story import anchor
from palea.words.prose import counted, inside, listed, stop

PRIMARY = "Primary contrast."  # how words.effects begins the sentence of a primary contrast
DRAWN_FROM = 4  # contrasts of which a drawing says more than their table
FEW, SENTENCES = 3, 1  # cautions on a trial, and sentences on a question of the package, that are printed


def part(story, *, figures=True):
    """The Part with the answers of every trial, or None where nothing was computed and nothing declared."""
    told = [one for trial in story.rows("trials") if (one := _trial(story, trial, figures=figures))]
    beyond = _beyond(story)
    parts = [*_stale(story), *told, *([beyond] if beyond else [])]
    return Part("Results", tuple(parts), "results") if parts else None


def _stale(story):
    """A Note where data were changed after an analysis read them: its numbers are not those of these data."""
    old = [finding.message for finding in stale_results(story.package)]
    if old:
        yield Note(
            "caution", (Listing(tuple(old), small=True), Paragraph("Run palea analyse again.")), "older than the data"
        )


def _trial(story, trial, *, figures):
    key = trial["trial_id"]
    answers, analyses = declared.answers(story, key), story.rows("analyses", trial_id=key)
    if not answers and not analyses:
        return None
    unit = trials.unit(story, key)
    drawn = forest.draw(answers, unit) if figures and sum(a.judged for a in answers) >= DRAWN_FROM else None
    blocks = [
        *_primary(story, answers),
        *_counted(answers, key),
        *([_contrasts(story, key, answers, unit)] if answers else []),
        *([Picture(*drawn, _caption(key, answers), f"figure-{key}")] if drawn else []),
        *(kept.pictures(story, analyses) if figures else ()),
        *kept.doubts(story, analyses, FEW),
        *(
            [
                Paragraph(
                    ("Computed by the analyses", *followed.rows("analyses", [a["analysis_id"] for a in analyses]), "."),
                    small=True,
                )
            ]
            if analyses
            else []
        ),
    ]
    return Part(f"{key}. {trial['title'].rstrip('.')}", tuple(blocks), f"results-{key}")


def _primary(story, answers):
    """The sentences that answer the primary contrasts."""
    primary = [answer for answer in answers if answer.contrast["primary"] and answer.row]
    count = Counter()
    told = []
    for answer in primary:
        name = answer.contrast["contrast_id"]
        told.append(sentence(story, answer, count[name]))
        count[name] += 1
    return [Listing(tuple(told), small=True)] if told else []


def sentence(story, answer, number=0):
    """Runs that say what came of a contrast: the kept sentence of its analysis, or its numbers where there is none.

    number : which of several answers to the same contrast this is.
    """
    row, contrast = answer.row, answer.contrast
    lead = (Link(contrast["contrast_id"], anchor("contrasts", contrast["contrast_id"])), ". ")
    mine = [
        s
        for s in kept.sentences(story, row["analysis_id"])[0]
        if s.startswith(PRIMARY) and all(f"({contrast[side]})" in s for side in ("a", "b"))
    ]
    return (
        (*lead, mine[number].removeprefix(PRIMARY).strip())
        if number < len(mine)
        else (*lead, *short(story, answer), ".")
    )


def short(story, answer):
    """Runs that say a contrast and its answer in one line: who against whom, what, how much, on what it rests, verdict."""
    row, contrast = answer.row, answer.contrast
    names = [_called(story, contrast[side]) for side in ("a", "b")]
    where = f" at {story.setting(contrast['environment_id'])}" if contrast["environment_id"] else ""
    across = f", across {inside(contrast['across'])}" if contrast["across"] else ""
    number, span = declared.numbers(row)
    unit = trials.unit(story, contrast["trial_id"])
    of = story.row("taxa", row["taxon_id"]) if row["taxon_id"] else None
    yield from ((story.species_short(row["taxon_id"]), ", ") if of else ())
    yield f"{names[0]} against {names[1]}{where}{across}: {inside(declared.quantity(row))}"
    level = f" ({100 * (row['confidence'] or 0.95):g} % interval {span})" if span else ""
    yield f" {number}{level}" if number else ""
    yield f"; {declared.behind(row, unit)}: " if declared.behind(row, unit) else ": "
    yield declared.verdict(story, row)


def _called(story, key):
    row = story.row("treatments", key)
    return f"{inside(row['label'])} ({key})" if row else key


def _counted(answers, key):
    """How the declared contrasts came out, counted by verdict."""
    count = Counter(a.row["verdict"] or "without a verdict" for a in answers if a.row)
    many = len({a.contrast["contrast_id"] for a in answers})
    if count:
        told = listed(f"{_word(verdict)} {n}" for verdict, n in count.most_common())
        yield Paragraph(
            (f"Verdicts on {counted(many, 'declared contrast')}: {told} (", reference(f"contrasts-{key}"), ").")
        )


def _word(verdict):
    words = schema.vocabulary("verdict").words
    return inside(words[verdict]["title"]) if verdict in words else verdict


def _contrasts(story, key, answers, unit):
    """Every declared contrast: what was asked, with which margin, and what came of it."""
    days = {a.contrast["declared_at"][:10] for a in answers}
    on = f", declared on {days.pop()}" if len(days) == 1 else ""
    answered = any(a.row for a in answers)
    heads = (
        "Contrast",
        "Compared, and what differs",
        "Asked",
        *((Column("Effect (interval)", "right"), Column("p", "right"), "Judged by", "Verdict") if answered else ()),
        *([] if on else ["Declared"]),
    )
    usual = Counter(map(_outcome, answers)).most_common(1)[0][0]
    level = next((f"{100 * (a.row['confidence'] or 0.95):g}" for a in answers if a.judged), "95")
    effect = f"; effect with {level} % interval" if answered else ""
    caption = f"Contrasts of {key}{on}: {inside(usual)}, where no other outcome is named{effect}"
    rows, seen = [], set()
    for answer in answers:
        name = answer.contrast["contrast_id"]
        rows.append(_contrast(story, answer, unit, usual, answered=answered, dated=not on, first=name not in seen))
        seen.add(name)
    return Grid(caption, heads, tuple(rows), f"contrasts-{key}")


def _outcome(answer):
    """What the answer is about, or was to be."""
    return declared.quantity(answer.row or {"quantity": answer.contrast["outcome"], "denominator": None})


def _contrast(story, answer, unit, usual, *, answered, dated, first):
    contrast, row = answer.contrast, answer.row
    outcome = _outcome(answer)
    more = (
        inside(outcome) if outcome != usual else "",
        contrast["environment_id"],
        f"across {inside(contrast['across'])}" if contrast["across"] else "",
    )
    effect = (
        (declared.with_interval(row), declared.p(row), declared.behind(row, unit), declared.verdict(story, row))
        if row
        else ("", "", "", "not answered yet")
    )
    return Row(
        (
            f"{contrast['contrast_id']}{' (primary)' if contrast['primary'] else ''}",
            "; ".join(
                filter(
                    None,
                    (
                        f"{contrast['a']} against {contrast['b']}",
                        story.value("contrasts", contrast, "asks_about"),
                        *more,
                    ),
                )
            ),
            _asked(story, contrast),
            *(effect if answered else ()),
            *([contrast["declared_at"][:10]] if dated else []),
        ),
        anchor("contrasts", contrast["contrast_id"]) if first else "",
    )


def _asked(story, contrast):
    """Kind and margin; a gap for a margin that its kind of question needs."""
    needs = contrast["margin"] is None and story.due("contrasts", contrast, "margin")
    return (
        declared.asked(contrast),
        *((", ", story.cell("contrasts", contrast, "margin", contrast["contrast_id"])) if needs else ()),
    )


def _caption(key, answers):
    margin = " Bands are the margins that were declared." if any(a.row and a.row["margin"] for a in answers) else ""
    return (
        f"Declared contrasts of {key} (bold: primary): estimate and interval, with the unit of replication.{margin}"
        " The broken line is no effect."
    )


def _beyond(story):
    """The Part on questions about the whole package; None where none was asked.

    Questions that compare treatments are told with their first sentence; what describes seed and coats stands in the
    methods already, so that only its analyses are named.
    """
    rows = [row for row in story.rows("analyses") if row["trial_id"] is None]
    if not rows:
        return None
    comparing = {r["analysis_id"] for r in story.rows("results") if r["treatment_b"]}
    told = [row for row in rows if row["analysis_id"] in comparing]
    rest = [row["analysis_id"] for row in rows if row not in told]
    items = tuple(item for row in told if (item := _question(story, row)))
    blocks = [Listing(items, small=True)] if items else []
    links = steps.joined([Link(name, anchor("analyses", name)) for name in rest], ", ", " and ")
    if rest:
        blocks.append(
            Paragraph(
                ("Further analyses, of seed, coats and plans, with their numbers in the package: ", links, "."),
                small=True,
            )
        )
    short = kept.doubts(story, rows, FEW, kept.OF_INTERVALS)
    return Part("Across the trials", (*blocks, *short), "results-package")


def _question(story, row):
    told, _ = kept.sentences(story, row["analysis_id"])
    recipe = kept.recipe(row)
    several = [s for s in told if len(kept.named(story, s)) > 1] or told
    if not several:
        return None
    shown = [stop(s) for s in several[:SENTENCES]]
    more = f" (and {len(told) - len(shown)} more)" if len(told) > len(shown) else ""
    title = stop(recipe.title) if recipe else row["analysis_id"]
    return (
        f"{title} ",
        " ".join(shown),
        f"{more}",
        " [",
        Link(row["analysis_id"], anchor("analyses", row["analysis_id"])),
        "]",
    )


def answers(story):
    """(Answer) of every primary contrast of every trial that has a row, in order."""
    return [
        a
        for trial in story.rows("trials")
        for a in declared.answers(story, trial["trial_id"])
        if a.contrast["primary"] and a.row
    ]


def contrast_rows(story):
    """(analysis, number) of rows of results that answer a declared contrast."""
    return {
        (a.row["analysis_id"], a.row["result_no"])
        for trial in story.rows("trials")
        for a in declared.answers(story, trial["trial_id"])
        if a.row
    }
