"""Declared questions to their answers: which comparisons belong together, and what that does to intervals and verdicts.

Several treatments asked about the same thing against one control form a family and share a Dunnett quantile. Declared
primary contrasts of one species in one trial are stepped through by Holm; a family counts there as one, and those that
another calculation answers count as not yet rejected, which Holm's first steps allow. The verdict is read from the
very interval that is handed back, so what is drawn and what is said cannot disagree.
"""

from collections import Counter, defaultdict
from dataclasses import dataclass

import numpy as np
from scipy import special

from palea.calc.stats import comparisons
from palea.calc.stats.proportions import t_quantile
from palea.calc.stats.share_means import ShareMeans
from palea.calc.stats.verdicts import judge
from palea.calc.terms import Kind

ONE_PRIMARY = "It is the one primary question of its species in this trial."
PRIMARIES = "Interval and p are adjusted for the {} primary questions of its species in this trial (Holm{})."
STILL_OPEN = "; {} of them answered by other recipes, taken as still open"


@dataclass(frozen=True)
class Question:
    """Is a different from b?

    arms : the means to compare, on the rung where both can be.  scope : what must agree for a family (species,
    environment, quantity, denominator, rung).  species : the primaries of one species share one error of 5 %.
    margin : on the scale of the arms; nan: none.  elsewhere : primaries of the species that others answer, see
    `with_elsewhere`.  The rest as declared; see verdicts.judge.
    """

    arms: ShareMeans
    a: str
    b: str
    scope: tuple[str, ...]
    species: str
    kind: str
    margin: float = np.nan
    wanted: str = "higher"
    primary: bool = False
    asks_about: str = ""
    margin_late: bool = False
    elsewhere: int = 0

    @property
    def family(self):
        """What the members of a Dunnett family have in common; None for a question that stands alone."""
        return (self.scope, self.b, self.asks_about) if self.kind == Kind.SUPERIORITY else None


@dataclass(frozen=True)
class Answer:
    """Difference a minus b, its outer (95 %) and inner (90 %) interval, p of no difference, verdict, how adjusted."""

    value: float
    outer: tuple[float, float]
    inner: tuple[float, float]
    df: float
    p_value: float
    verdict: str
    reason: str


@dataclass(frozen=True)
class _Family:
    """Comparisons that share a control, or a single one. `members` are treatments."""

    members: tuple[str, ...]
    control: str
    arms: ShareMeans

    def critical(self, alpha):
        if len(self.members) == 1:
            return t_quantile(1 - alpha, self.arms.df)
        return comparisons.dunnett_critical(self._loads, self.arms.df, 1 - alpha)

    def p_value(self, statistic):
        if len(self.members) == 1:
            return float(2 * special.stdtr(self.arms.df, -abs(statistic)))
        return float(comparisons.dunnett_p(statistic, self._loads, self.arms.df)[0])

    @property
    def _loads(self):
        return self.arms.loadings(self.members, self.control)

    @property
    def says(self):
        together = f"the {len(self.members)} comparisons with {self.control} together"
        return f"Interval and p hold for {together} (Dunnett)." if len(self.members) > 1 else ""


def with_elsewhere(asked, here):
    """Declared contrasts with two more columns: `primaries` of their species and trial that can be judged, and how many of
    those are `elsewhere`, not among the rows `here` (a mask); treatments against one control count once.

    >>> import pandas as pd
    >>> rows = pd.DataFrame({"taxon": "S", "environment": "", "a": ["x", "y", "x"], "b": "c", "primary": [True, True, False],
    ...                      "quantity": ["germinated", "emerged", "t50"], "kind": "equivalence", "refused": ""})
    >>> with_elsewhere(rows, rows["quantity"] == "germinated")[["primaries", "elsewhere"]].values.tolist()
    [[2, 1], [2, 1], [2, 1]]
    """
    scope = [name for name in ("trial", "taxon") if name in asked]
    same = [*scope, *(name for name in ("environment", "b", "quantity", "asks_about", "across") if name in asked)]
    rows = {name: _values(asked[name]) for name in {*same, "a", "kind", "primary", "refused"}}
    own = list(zip(*(rows[name] for name in scope), strict=True))
    units = {}  # whether one of the rows that count as one is here
    for line, (is_here, wanted, refused) in enumerate(zip(np.asarray(here, bool), rows["primary"], rows["refused"], strict=True)):
        if wanted and not refused:
            a = "" if rows["kind"][line] == Kind.SUPERIORITY else rows["a"][line]
            unit = own[line], a, *(rows[name][line] for name in same)
            units[unit] = units.get(unit, False) or is_here
    primaries, elsewhere = Counter(of for of, *_ in units), Counter(of for (of, *_), is_here in units.items() if not is_here)
    found = {"primaries": primaries, "elsewhere": elsewhere}
    return asked.assign(**{name: np.array([many[of] for of in own], np.int64) for name, many in found.items()})


def _values(column, missing=None):
    """What stands in a column, `missing` where nothing does."""
    return [missing if lacks else value for value, lacks in zip(column, column.isna(), strict=True)]


def rows_of(asked):
    """Declared contrasts as a list of {column: value}, "" where a value is missing."""
    columns = {name: _values(asked[name], "") for name in asked}
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def answer(questions, confidence=0.95):
    """Answer all questions together -> list of Answer, in order.

    confidence : of the outer interval; the inner one is at 2 confidence - 1, so that it holds two one-sided tests.
    Source: Dunnett 1955, J. Am. Stat. Assoc. 50:1096; Holm 1979, Scand. J. Stat. 6:65.
    """
    questions, alpha = list(questions), 1 - confidence
    families = _families(questions)
    divisors = _divisors(questions, families, alpha)
    return [_answer(q, f, d, alpha) for q, f, d in zip(questions, families, divisors, strict=True)]


def _families(questions):
    """The family of each question."""
    alike = defaultdict(list)
    for question in questions:
        if question.family and question.a not in alike[question.family]:
            alike[question.family].append(question.a)
    return [_Family(tuple(alike.get(q.family, (q.a,))), q.b, q.arms) for q in questions]


def _divisors(questions, families, alpha):
    """Holm over the primaries of each species; (divisor, primaries, of them elsewhere) a question, (1, 0, 0) for others."""
    found = [(1, 0, 0)] * len(questions)
    for species in dict.fromkeys(q.species for q in questions if q.primary):
        at = [i for i, q in enumerate(questions) if q.primary and q.species == species]
        units = [questions[i].family if len(families[i].members) > 1 else i for i in at]
        p_values = defaultdict(lambda: 1.0)
        for i, unit in zip(at, units, strict=True):
            p_values[unit] = min(p_values[unit], _p_asked(questions[i], families[i]))
        away = max(questions[i].elsewhere for i in at)
        every = [*p_values.values(), *[1.0] * away]  # those answered elsewhere stand last, and are not passed
        divisors = dict(zip(p_values, comparisons.holm_divisors(every, alpha).tolist(), strict=False))
        for i, unit in zip(at, units, strict=True):
            found[i] = (divisors[unit], len(every), away)
    return found


def _p_asked(question, family):
    """Of the question that was declared: no difference, or a difference as large as the margin."""
    arms, a, b, m = question.arms, question.a, question.b, question.margin
    if question.kind == Kind.SUPERIORITY or not m > 0:
        return family.p_value(arms.statistic(a, b))
    above_low = special.stdtr(arms.df, -arms.statistic(a, b, -m))
    below_high = special.stdtr(arms.df, arms.statistic(a, b, m))
    if question.kind == Kind.NO_WORSE:
        return float(below_high if question.wanted == "lower" else above_low)
    return float(max(above_low, below_high))


def _answer(question, family, step, alpha):
    divisor, *primaries = step
    arms, a, b = question.arms, question.a, question.b
    value, *outer = arms.difference(a, b, family.critical(alpha / divisor))
    _, *inner = arms.difference(a, b, family.critical(2 * alpha / divisor))
    p_value = min(divisor * family.p_value(arms.statistic(a, b)), 1.0)
    judged = judge(outer, inner, question.kind, question.margin, question.wanted, margin_late=question.margin_late)
    reason = " ".join(filter(None, (family.says, of_primaries(*primaries), judged.reason)))
    return Answer(value, tuple(outer), tuple(inner), arms.df, p_value, str(judged.verdict), reason)


def of_primaries(primaries, elsewhere=0):
    """What is said of a question that is one of so many primaries; "" where it is none.

    >>> of_primaries(2)
    'Interval and p are adjusted for the 2 primary questions of its species in this trial (Holm).'
    """
    if primaries < 2:
        return ONE_PRIMARY * primaries
    return PRIMARIES.format(primaries, STILL_OPEN.format(elsewhere) if elsewhere else "")
