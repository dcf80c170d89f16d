"""Declared contrasts and the kept results that answer them: which row answers which contrast, and how a row is said.

Only a declared contrast earns a verdict, so a row that answers one carries a verdict or a reason why there is none.
"""

import math
from dataclasses import dataclass

from palea import schema
from palea.derived.ladder import alike
from palea.record.spread import symbol
from palea.words.numbers import interval, p_value, places, plain, points, short, signed
from palea.words.prose import capital, inside

MARGIN = "the margin"  # how verdicts that hold within a margin name it
BATCH, UNIT_OF_SEEDER = "batch", "seeder run"  # words of the list of rungs
NONE_OF = {"difference": 0.0}  # the effect that is none; 1 on the scales of ratios
TIMES = tuple(w for w in schema.words("effect_scale") if w.endswith("ratio"))  # scales on which 1 is no effect


@dataclass(frozen=True)
class Answer:
    """A contrast of the plan and the row of `results` that answers it; None for a contrast that is not answered yet."""

    contrast: dict
    row: dict | None

    @property
    def judged(self):
        """Whether there is an estimate."""
        return self.row is not None and self.row["estimate"] is not None


def answers(story, trial_id):
    """Answers to the contrasts of a trial, in the order of the plan; several where a contrast has several rows."""
    key = ("answers", trial_id)
    if key not in story.memory:
        story.memory[key] = _answers(story, trial_id)
    return story.memory[key]


def _answers(story, trial_id):
    contrasts = story.rows("contrasts", trial_id=trial_id)
    free = [row for row in _verdicts(story) if row["trial"] in (trial_id, None)]
    found = {}
    # What is asked within one setting is told first, for what is asked across settings may bear the same names.
    for contrast in sorted(contrasts, key=lambda c: c["across"] is not None):
        rows = _rows(story, contrast, free)
        found[contrast["contrast_id"]] = rows
        free = [row for row in free if row not in rows]
    return [Answer(c, row) for c in contrasts for row in found[c["contrast_id"]] or [None]]


def _verdicts(story):
    """Rows of results with a verdict, each with the trial of its analysis (None for one about the whole package)."""
    trial = {row["analysis_id"]: row["trial_id"] for row in story.rows("analyses")}
    return [
        row | {"trial": trial.get(row["analysis_id"])}
        for row in story.rows("results")
        if row["treatment_b"] and (row["contrast_id"] or row["verdict"])
    ]


def _rows(story, contrast, free):
    named = [row for row in free if row["contrast_id"] == contrast["contrast_id"] and row["verdict"]]
    if named:
        return _of_first(named)
    same = {row["environment"]: row["like"] for row in story.frame(alike)}

    def fits(row):
        place = row["environment_id"], contrast["environment_id"]
        here = None in place or len({same.get(x, x) for x in place}) == 1
        return (
            (row["treatment_a"], row["treatment_b"], row["margin"])
            == (contrast["a"], contrast["b"], contrast["margin"])
            and here
            and (contrast["across"] is not None or (row["quantity"] == contrast["outcome"] and row["trial"]))
        )

    fitting = [row for row in free if not row["contrast_id"] and fits(row)]
    return _of_first(fitting)


def _of_first(rows):
    """Those rows that stand with the first in one analysis and are about the same quantity."""
    key = ("analysis_id", "quantity", "denominator", "environment_id", "scale")
    return [row for row in rows if all(row[k] == rows[0][k] for k in key)]


def quantity(row):
    """What a row of results is about, with its denominator: “Normal seedlings of filled units”."""
    of = f" {schema.word('denominator', row['denominator'])['of']}" if row["denominator"] else ""
    return f"{capital(schema.word('quantity', row['quantity'])['title'])}{of}"


def asked(contrast):
    """Kind of question, with its margin: “equivalence, 15 points”."""
    kind = contrast["kind"]
    if contrast["margin"] is None:
        return kind
    unit = "points" if contrast["margin_unit"] == "%" else symbol(contrast["margin_unit"])
    return f"{kind}, {short(contrast['margin'])} {unit}".rstrip()


def numbers(row):
    """(estimate with its unit, interval) of a row of results, as texts; ("", "") where there is no estimate."""
    if row["estimate"] is None:
        return "", ""
    low, high = (row[side] if row[side] is not None else math.nan for side in ("lower", "upper"))
    share, difference = row["unit"] == "%", row["scale"] == "difference"
    lines = (
        [none_of(row), *([-row["margin"], row["margin"]] if row["margin"] is not None else [])]
        if row["treatment_b"]
        else []
    )
    many = places(row["estimate"], low, high, share=share, lines=tuple(lines))
    text = (signed if difference else plain)(row["estimate"], many)
    shown = "" if math.isnan(low) and math.isnan(high) else interval(low, high, many, sign=difference)
    return points(text) if share and difference else f"{text}{_unit(row, share=share)}", shown


def _unit(row, *, share):
    if row["scale"] in TIMES:
        return " ×"
    if share:
        return " %"
    return f" {symbol(row['unit'])}" if row["unit"] not in {None, "1"} else ""


def none_of(row):
    """The effect that is none, on the scale of a row."""
    return NONE_OF.get(row["scale"], 1.0)


def with_interval(row):
    """Estimate and interval of a row: “+31 points (23 to 39)”."""
    value, span = numbers(row)
    return f"{value} ({span})" if span else value


def verdict(story, row):
    """The verdict, with the margin that it was held against in its words; else why there is none."""
    word = inside(story.value("results", row, "verdict"))
    if word and row["margin"] is not None and MARGIN in word:
        return word.replace(MARGIN, f"{row['margin']:g}{' points' if row['unit'] == '%' else ''}")
    return word or row["reason"] or ""


def behind(row, unit="unit"):
    """What an estimate rests on, the rung on which it was judged first: “8 batches (32 dishes)”, “32 dishes (2 batches)”.

    unit : what a unit of the trial is called, where the row was judged on batches or says no rung.
    """
    is_unit = row["rung"] in {UNIT_OF_SEEDER, *schema.words("unit_kind")}
    units = _several(row["n_units"], row["rung"] if is_unit else unit)
    batches = _several(row["n_batches"], BATCH)
    first, second = (batches, units) if row["rung"] == BATCH else (units, batches)
    told = f"{first} ({second})" if first and second else first or second
    return told if is_unit or row["rung"] in {None, BATCH} else f"{told}, by {row['rung']}"


def _several(n, one):
    if n is None:
        return ""
    return f"{n:.0f} {one if n == 1 else one + ('es' if one.endswith(('h', 's')) else 's')}"


def p(row):
    """The p-value as text; "" where there is none."""
    return p_value(row["p_value"]).removeprefix("p ").removeprefix("= ") if row["p_value"] is not None else ""
