"""Declared contrasts on quantities that are no shares: read as plain values, answered from means or from intervals."""

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from palea.calc.results import Estimate
from palea.calc.stats.contrasts import Question, answer, of_primaries, rows_of, with_elsewhere
from palea.calc.stats.verdicts import UNDECLARED, judge
from palea.calc.terms import Verdict

OUTER, INNER = 0.95, 0.90  # what a verdict rests on, whatever confidence is shown; 0.90: two one-sided tests at 5 %


@dataclass(frozen=True)
class Declared:
    """One declared contrast in one environment ("": whichever there is), blanks as "", nan and False.

    margin : a ratio above 1 for a quantity that is compared as a ratio, else in the unit of the quantity.
    primaries, elsewhere : see palea.calc.stats.contrasts.with_elsewhere.
    declared : False for a pair that was declared on another quantity: it earns an interval and no verdict.
    """

    taxon: str
    environment: str
    a: str
    b: str
    quantity: str
    kind: str = ""
    margin: float = np.nan
    wanted: str = ""
    primary: bool = False
    asks_about: str = ""
    refused: str = ""
    margin_late: bool = False
    declared: bool = True
    primaries: int = 0
    elsewhere: int = 0

    @property
    def of(self):
        """As in Estimate."""
        return MappingProxyType({"taxon": self.taxon, "environment": self.environment, "a": self.a, "b": self.b})


def about(asked, quantities, beside=()):
    """Rows of `asked` about these quantities -> list of Declared, in order.

    asked : frame, see palea.calc.germination.final.  beside : quantities that every declared pair is shown on too,
    without a verdict, where it was not declared on them.
    """
    asked = with_elsewhere(asked, asked["quantity"].isin(quantities))
    rows = rows_of(asked)
    found = [_declared(row) for row in rows if row["quantity"] in quantities]
    taken = {(d.taxon, d.environment, d.a, d.b, d.quantity) for d in found}
    for row in rows:
        for quantity in beside:
            key = (*(str(row[name]) for name in ("taxon", "environment", "a", "b")), quantity)
            if key not in taken:
                taken.add(key)
                found.append(Declared(*key, asks_about=str(row["asks_about"]), refused=str(row["refused"]),
                                      declared=False))
    return found


def _declared(row):
    text = {name: str(row.get(name, "")) for name, kind in Declared.__annotations__.items() if kind is str}
    flags = {name: bool(row.get(name, False)) for name in ("primary", "margin_late")}
    numbers = {name: int(row[name]) for name in ("primaries", "elsewhere")}
    return Declared(margin=float(row["margin"]) if row["margin"] != "" else np.nan, **text, **flags, **numbers)


def by_means(posed, confidence, unit, *, ratio):
    """Effects of declared contrasts answered from means of units -> list of Estimate, in order.

    posed : list of (Declared, ValueMeans, {field of Estimate: value} of what stands behind it, remark).
    ratio : the means are of logs, so that effects are ratios of a to b. Dunnett and Holm as in stats.contrasts, among
    those that were declared on the quantity; verdicts at 95 and 90 % whatever `confidence` is.
    """
    questions = [_question(row, means, behind, ratio) for row, means, behind, _ in posed]
    alone = [[q] if not row.declared else None for q, (row, *_) in zip(questions, posed, strict=True)]
    together = [q for q, own in zip(questions, alone, strict=True) if own is None]
    judged, shown = iter(answer(together, OUTER)), iter(answer(together, confidence))
    found = []
    for own, (row, _, behind, remark) in zip(alone, posed, strict=True):
        at_outer = answer(own, OUTER)[0] if own else next(judged)
        at_shown = answer(own, confidence)[0] if own else next(shown)
        found.append(_estimate(row, at_outer, at_shown, behind, remark, confidence, unit, ratio=ratio))
    return found


def _question(row, means, behind, ratio):
    margin = row.margin
    if ratio:
        margin = float(np.log(margin)) if margin > 0 else np.nan
    scope = (row.taxon, row.environment, row.quantity, behind["rung"])
    return Question(means, row.a, row.b, scope, row.taxon, row.kind, margin, row.wanted, row.primary, row.asks_about,
                    row.margin_late, row.elsewhere)


def _estimate(row, judged, shown, behind, remark, confidence, unit, *, ratio):
    turn = np.exp if ratio else np.asarray
    value, lower, upper, low, high = (float(turn(x)) for x in (judged.value, *shown.outer, *judged.inner))
    verdict, reason = (judged.verdict, judged.reason) if row.declared else ("", UNDECLARED)
    return Estimate(
        row.quantity, row.of, value, lower, upper, scale="ratio" if ratio else "difference", confidence=confidence,
        unit="1" if ratio else unit, df=float(judged.df), p_value=float(judged.p_value), inner_lower=low,
        inner_upper=high, verdict=verdict, reason=" ".join(filter(None, (remark, reason))), **_as_declared(row),
        **behind,
    )  # fmt: skip


def _as_declared(row):
    asked = {"margin": row.margin, "kind": row.kind, "primary": row.primary} if row.declared else {}
    return asked | {"asks_about": row.asks_about}


def by_intervals(row, value, interval, confidence, unit, behind, *, ratio, remark="", p_value=np.nan):
    """The effect of one declared contrast from a function confidence -> (lower, upper) -> Estimate.

    For what no unit has a value of its own of: parameters fitted to all dishes together, drawn again or profiled. Each
    stands by itself, without Dunnett; a primary one at the first step of Holm among the primaries of its species.
    """
    many = max(row.primaries, 1) if row.primary else 1
    levels = (1 - (1 - level) / many for level in (OUTER, INNER, confidence))
    outer, inner, shown = (tuple(map(float, interval(level))) for level in levels)
    scale = "ratio" if ratio else "difference"
    verdict, reason = "", UNDECLARED
    if row.declared:
        verdict, reason = judge(
            outer, inner, row.kind, row.margin, row.wanted, scale=scale, margin_late=row.margin_late
        )
    return Estimate(
        row.quantity, row.of, float(value), *shown, scale=scale, confidence=confidence, unit="1" if ratio else unit,
        p_value=float(np.minimum(many * p_value, 1.0)), inner_lower=inner[0], inner_upper=inner[1], verdict=str(verdict),
        reason=" ".join(filter(None, (remark, of_primaries(many * row.primary, many - 1), reason))), **_as_declared(row), **behind,
    )  # fmt: skip


def not_judged(row, reason, confidence, unit, *, ratio, behind=None):
    """The effect that cannot be had, with the reason; without a verdict where it was not declared."""
    verdict = str(Verdict.NOT_JUDGED) if row.declared else ""
    return Estimate(
        row.quantity, row.of, np.nan, scale="ratio" if ratio else "difference", confidence=confidence,
        unit="1" if ratio else unit, verdict=verdict, reason=row.refused or reason, **_as_declared(row),
        **(behind or {}),
    )  # fmt: skip
