"""The one-factor map: which treatments differ in exactly one thing, and which arm is missing where they do not."""

from itertools import combinations
from types import MappingProxyType

import pandas as pd

from palea.calc.results import Estimate, Refusal, Values
from palea.errors import UnfitValue

QUANTITY = "factors that differ"
METHOD = "Two treatments are joined where exactly one factor differs; what a factor brings along does not count beside it."


def differing(a, b, factors, brings=MappingProxyType({})):
    """Factors in which two treatments differ.

    a, b : mappings from factor to level, as text ("": none).  factors : those to look at.
    brings : {factor: factors that come along with it}: they count only where that factor is the same on both sides. What
    is itself brought along brings nothing.

    >>> differing({"hull": "on", "coat": ""}, {"hull": "off", "coat": ""}, ("hull", "coat"))
    ['hull']
    """
    plain = [name for name in factors if a[name] != b[name]]
    brought = {also for name in plain for also in brings.get(name, ())}
    along = {also for name in plain if name not in brought for also in brings.get(name, ())}
    return [name for name in plain if name not in along]


def missing_arms(a, b, levels, factors, brings=MappingProxyType({}), only_with=MappingProxyType({})):
    """Arms that would split a against b into steps of one factor each, and are not there -> list of mappings.

    Each is b with one of the differing factors (and what it brings) as in a, beside those that exist already.
    levels : mappings of all treatments there are.  only_with : {factor: (other, level)}: a level of that factor can only
    be had beside that level of the other, so an arm without it is none. Empty where one factor differs or none.
    """
    changed = differing(a, b, factors, brings)
    if len(changed) < 2:
        return []
    there = [tuple(row[name] for name in factors) for row in levels]
    steps = []
    for name in changed:
        step = {each: (a if each == name or each in brings.get(name, ()) else b)[each] for each in factors}
        if tuple(step[each] for each in factors) not in there and _can_be(step, only_with):
            steps.append(step)
    return steps


def _can_be(step, only_with):
    return all(not step.get(name) or step.get(other) == level for name, (other, level) in only_with.items())


def one_factor(levels, asked=None, brings=MappingProxyType({}), only_with=MappingProxyType({})):
    """All pairs that differ in exactly one factor, and for what was asked which arm is missing -> Values, or Refusal.

    levels : frame, one row a treatment: taxon, treatment, and one column a factor with its level as text ("": none).
    Only treatments of one taxon are joined.
    asked : frame with taxon, a, b: pairs to be compared; None: no pair in particular.  brings : see `differing`.
    only_with : see `missing_arms`.
    `units` holds the map: one row an edge: taxon, a, b, factor, level_a, level_b. Estimates: every asked pair (else
    every edge) with the number of factors that differ; its reason names them and the arm to add.
    Refusal where there are no two treatments of one taxon. Raises UnfitValue for a treatment named twice.
    Source: common practice, no source (one factor at a time; Cochran & Cox 1957, Experimental Designs, ch. 1).
    """
    factors = [name for name in levels.columns if name not in ("taxon", "treatment")]
    rows = levels.assign(**{name: levels[name].fillna("").astype(str) for name in levels.columns}).to_dict("records")
    by_name = {(row["taxon"], row["treatment"]): row for row in rows}
    if len(by_name) < len(rows):
        msg = "A treatment is named twice for one taxon; its levels must be said once."
        raise UnfitValue(msg)
    pairs = [(x, y) for x, y in combinations(rows, 2) if x["taxon"] == y["taxon"]]
    if not pairs:
        return Refusal(
            quantity=QUANTITY, missing="There are no two treatments of one species.",
            remedy="Add the treatments, the untreated control among them.",
        )  # fmt: skip
    edges = [(x, y, changed[0]) for x, y in pairs if len(changed := differing(x, y, factors, brings)) == 1]
    wanted = [(x, y) for x, y, _ in edges] if asked is None else _sides(asked, by_name)
    told = [_estimate(x, y, rows, factors, brings, only_with) for x, y in wanted]
    return Values(
        units=_frame(edges), estimates=tuple(told), method=METHOD,
        warnings=tuple(e.reason for e in told if e.value > 1) + _alone(rows, edges),
    )  # fmt: skip


def _sides(asked, by_name):
    """Rows of the two sides of every asked pair; a side that is not there is a row without levels."""
    for row in asked.to_dict("records"):
        taxon = str(row["taxon"])
        yield tuple(
            by_name.get((taxon, str(row[side])), {"taxon": taxon, "treatment": str(row[side])}) for side in ("a", "b")
        )


def _estimate(a, b, rows, factors, brings, only_with):
    of = MappingProxyType({"taxon": a["taxon"], "a": a["treatment"], "b": b["treatment"]})
    unknown = [side["treatment"] for side in (a, b) if not set(factors) <= set(side)]
    if unknown:
        reason = f"{' and '.join(unknown)} is not among the treatments, so nobody knows what it changes."
        return Estimate(QUANTITY, of, float("nan"), unit="1", verdict="not judged", reason=reason)
    changed = differing(a, b, factors, brings)
    own = [row for row in rows if row["taxon"] == a["taxon"]]
    return Estimate(QUANTITY, of, float(len(changed)), unit="1", reason=_reason(a, b, changed, own, factors, brings, only_with))


def _reason(a, b, changed, rows, factors, brings, only_with):
    names = f"{a['treatment']} and {b['treatment']}"
    if not changed:
        return f"{names} do not differ in anything that is recorded."
    told = [_factor(name) for name in changed]
    if len(changed) == 1:
        return f"{names} differ in {told[0]} alone."
    steps = missing_arms(a, b, rows, factors, brings, only_with)
    arms = "; or ".join(_arm(step, b, factors) for step in steps)
    add = f" Missing: {b['treatment']} with {arms}." if steps else " The arms between them are there: ask about those."
    return f"{names} differ in {len(changed)} things at once: {', '.join(told[:-1])} and {told[-1]}.{add}"


def _arm(step, b, factors):
    return " and ".join(f"{_factor(name)} {step[name] or 'none'}" for name in factors if step[name] != b[name])


def _factor(name):
    return name.replace("_", " ")


def _alone(rows, edges):
    """Treatments that no single factor joins to any other."""
    joined = {(row["taxon"], row["treatment"]) for x, y, _ in edges for row in (x, y)}
    alone = [row["treatment"] for row in rows if (row["taxon"], row["treatment"]) not in joined]
    return (f"No other treatment differs in one factor alone from {', '.join(alone)}.",) if alone else ()


def _frame(edges):
    columns = ["taxon", "a", "b", "factor", "level_a", "level_b"]
    found = [(x["taxon"], x["treatment"], y["treatment"], name, x[name], y[name]) for x, y, name in edges]
    return pd.DataFrame(found, columns=columns)
