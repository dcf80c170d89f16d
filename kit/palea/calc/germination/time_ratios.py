"""Declared contrasts on a time: ratios of times with verdicts, on batches where both arms have them, else on dishes."""

from typing import NamedTuple

import numpy as np

from palea.calc.germination.arms import ONE_BATCH
from palea.calc.germination.batch_times import Place
from palea.calc.germination.timed import FIXED, ON_DISHES, TIMES, Timed
from palea.calc.results import Estimate
from palea.calc.stats.contrasts import Question, answer
from palea.calc.stats.resampling import percentile_interval
from palea.calc.stats.verdicts import UNDECLARED, judge
from palea.calc.terms import Rung, Verdict

FINALS_APART = 10.0  # points between final germination above which times of germinants mislead
OUTER, INNER = 0.95, 0.90  # what a verdict rests on, whatever confidence is shown; 0.90: two one-sided tests at 5 %


class Asked(NamedTuple):
    """A declared contrast in one place, and the two arms there (None: it has no dish)."""

    row: tuple
    place: Place | None
    a: Timed | None
    b: Timed | None

    @property
    def means(self):
        """Means over batches that hold both arms; None: to be judged on dishes, or not at all."""
        return self.place.on_batches(self.row.quantity, self.row.a, self.row.b) if self.a and self.b else None

    @property
    def apart(self):
        """Points between the final germination of the arms."""
        return 100 * abs(self.a.final - self.b.final) if self.a and self.b else 0.0


def ratios(found, asked, confidence):
    """Estimates of the declared contrasts on a time, warnings, and the places where one was judged on dishes.

    found : {(taxon, environment): Place}.  asked : as in palea.calc.germination.time.times.
    """
    questions = _questions(asked, found)
    answers = iter(_answers([q for q in questions if _on_batches(q)], confidence))
    taken = {(q.row.taxon, q.row.environment, q.row.a, q.row.b) for q in questions if q.row.quantity == FIXED}
    effects, warnings = [], []
    for question in questions:
        row = question.row
        effects.append(next(answers) if _on_batches(question) else _on_dishes(question, confidence))
        if question.apart > FINALS_APART and row.quantity != FIXED:
            warnings.append(f"Mean time compared although finals differ by {question.apart:.0f} points: use time to a "
                            f"share of sown. ({row.a} against {row.b}.)")
            pair = (row.taxon, row.environment, row.a, row.b)
            if pair not in taken:
                taken.add(pair)
                effects.append(_companion(question, confidence))
    leant = dict.fromkeys(
        (e.of["taxon"], e.of["environment"]) for e in effects if e.rung == Rung.DISH and np.isfinite(e.value)
    )
    return effects, tuple(warnings), leant


def _questions(asked, found):
    """Rows about a time, blank text as "", one for each place where the question names none."""
    mine = asked[asked["quantity"].isin(TIMES)]
    text = mine.columns.difference(["margin", "primary", "margin_late", "primaries", "elsewhere"])
    mine = mine.assign(**{name: mine[name].astype(object).where(mine[name].notna(), "") for name in text})
    return [_in_place(row, place, found) for row in mine.itertuples(index=False) for place in _places(row, found)]


def _places(row, found):
    if row.environment:
        return [row.environment]
    held = [key[1] for key, place in found.items() if key[0] == row.taxon and {row.a, row.b} & set(place.timed)]
    return sorted(held) or [""]


def _in_place(row, environment, found):
    place = found.get((row.taxon, environment))
    arms = (place.timed.get(name) if place else None for name in (row.a, row.b))
    return Asked(row._replace(environment=environment), place, *arms)


def _on_batches(question):
    return not question.row.refused and question.means is not None


def _answers(questions, confidence):
    """Estimates of questions that can be judged on batches: verdict at 95 and 90 %, interval at `confidence`."""
    posed = [_pose(question) for question in questions]
    judged = answer(posed, OUTER)
    shown = judged if confidence == OUTER else answer(posed, confidence)
    return [_of_answers(*each, confidence) for each in zip(questions, judged, shown, strict=True)]


def _pose(question):
    """On the log scale."""
    row = question.row
    margin = float(np.log(row.margin)) if row.margin > 0 else np.nan
    scope = (row.taxon, row.environment, row.quantity, str(Rung.BATCH))
    return Question(question.means, row.a, row.b, scope, row.taxon, row.kind, margin, row.wanted, bool(row.primary),
                    row.asks_about, bool(row.margin_late), int(getattr(row, "elsewhere", 0)))


def _of_answers(question, judged, shown, confidence):
    behind = _both(question.a.behind, question.b.behind)
    numbers = np.exp([judged.value, *shown.outer, *judged.inner]).tolist()
    return Estimate(
        **dict(zip(("value", "lower", "upper", "inner_lower", "inner_upper"), numbers, strict=True)),
        df=float(judged.df), p_value=float(judged.p_value), rung=str(Rung.BATCH), verdict=judged.verdict,
        reason=judged.reason, **_named(question.row, confidence), **_declared(question.row), **behind,
    )


def _on_dishes(question, confidence, *, declared=True):
    """The ratio from dishes drawn within batches on both sides; not judged, with the reason, where there is none."""
    row, a, b = question.row, question.a, question.b
    common = _named(row, confidence) | (_declared(row) if declared else {})
    common |= _both(*(side.arm.behind for side in (a, b) if side)) | {"rung": str(Rung.DISH)}
    refused = row.refused or _cannot(row, a, b)
    if refused:
        return Estimate(value=np.nan, verdict=str(Verdict.NOT_JUDGED), reason=refused, **common)
    with np.errstate(invalid="ignore"):
        drawn = a.drawn[row.quantity] / b.drawn[row.quantity]
    df = a.arm.df + b.arm.df
    outer, judged, inner = (percentile_interval(drawn, level, df, logged=a.on_logs) for level in (confidence, OUTER, INNER))
    verdict, reason = judge(
        judged, inner, row.kind, row.margin, row.wanted, scale="ratio", margin_late=bool(row.margin_late)
    ) if declared else ("", UNDECLARED)
    holds_for = ONE_BATCH if ONE_BATCH in (a.holds_for, b.holds_for) else ON_DISHES
    return Estimate(
        value=a.value[row.quantity] / b.value[row.quantity], lower=outer[0], upper=outer[1], inner_lower=inner[0],
        inner_upper=inner[1], verdict=str(verdict), reason=" ".join(filter(None, (holds_for, reason))), **common,
    )


def _companion(question, confidence):
    """The same contrast on the time to a share of sown, without a verdict: it was not declared."""
    row = question.row._replace(quantity=FIXED, primary=False)
    alone = question._replace(row=row)
    if not _on_batches(alone):
        return _on_dishes(alone, confidence, declared=False)
    effect = _answers([alone], confidence)[0]
    bare = {"verdict": "", "kind": "", "margin": np.nan, "reason": UNDECLARED}
    return Estimate(**{name: getattr(effect, name) for name in effect.__dataclass_fields__} | bare)


def _named(row, confidence):
    of = {"taxon": row.taxon, "environment": row.environment, "a": row.a, "b": row.b}
    return {"quantity": row.quantity, "of": of, "scale": "ratio", "unit": "1", "confidence": confidence,
            "asks_about": row.asks_about}


def _declared(row):
    return {"margin": row.margin, "kind": row.kind, "primary": bool(row.primary)}


def _cannot(row, a, b):
    """Why a ratio cannot be had, as a sentence; "" where it can."""
    for name, group in ((row.a, a), (row.b, b)):
        if group is None:
            return f"No dish of {name} has counts over time here."
        if group.reason:
            return f"{name}: {group.reason}"
        if not np.isfinite(group.value[row.quantity]):
            return f"{name}: {group.why_not(row.quantity)}"
        if len(group.arm.units) < 2:
            return f"{name} has one dish; its variation cannot be known. Two dishes at least are needed, better four."
    return ""


def _both(*sides):
    return {name: sum(side[name] for side in sides) for name in ("n_batches", "n_units", "n_seeds")}
