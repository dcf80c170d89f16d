"""Is the difference smaller than what matters? Two one-sided tests on any measured value, and in all species at once."""

from dataclasses import replace
from types import MappingProxyType
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy import special

from palea.calc.decision.rungs import rungs_of
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats.proportions import t_quantile
from palea.calc.stats.verdicts import judge
from palea.calc.terms import Kind, Rung, Verdict
from palea.errors import UnfitValue

ONE_BATCH = "These units come from one batch: the answer holds for that batch, not yet for the recipe."
ALL = "In all of {}: the largest p decides, because a claim for all needs each one."
METHOD = (
    "Two one-sided t tests at 5 %: equivalent where the 90 % interval of a minus b lies inside the margin either way. "
    "One variance pooled over the treatments of a species and environment; batch means where both sides have two "
    "batches, else units. p is the larger of the two."
)
ASSUMPTIONS = ("Units (or batch means) of all treatments scatter alike about their means.",)


class Tost(NamedTuple):
    """Two one-sided t tests of a difference against -margin and margin.

    t_low, t_high : statistics against the lower and the upper margin.  p_value : the larger one-sided p.
    lower, upper : interval of the difference at 1 - 2 alpha.
    """

    difference: float
    t_low: float
    t_high: float
    df: float
    p_value: float
    lower: float
    upper: float


def tost(mean_a, mean_b, sd_a, sd_b, n_a, n_b, margin, *, pooled=True, alpha=0.05):
    """Two one-sided tests from means, standard deviations and numbers of units -> Tost.

    margin : > 0, on the scale of the means; rejects (equivalent) where p_value < alpha.
    pooled : one variance, else Welch's. Raises UnfitValue for a margin that is not above 0 or fewer than 2 units.
    Source: Schuirmann 1987, J. Pharmacokinet. Biopharm. 15:657; Welch 1947, Biometrika 34:28.

    >>> round(tost(5.25, 5.22, 0.95, 0.83, 95, 89, 0.383569, pooled=False).t_high, 4)  # Lakens 2017
    -2.6928
    """
    if not margin > 0 or min(n_a, n_b) < 2:
        msg = f"margin is {margin}, units are {n_a} and {n_b}; allowed are a margin above 0 and 2 units or more a side."
        raise UnfitValue(msg)
    va, vb = sd_a**2 / n_a, sd_b**2 / n_b
    df = (va + vb) ** 2 / (va**2 / (n_a - 1) + vb**2 / (n_b - 1))
    error = np.sqrt(va + vb)
    if pooled:
        df = n_a + n_b - 2
        error = np.sqrt(((n_a - 1) * sd_a**2 + (n_b - 1) * sd_b**2) / df * (1 / n_a + 1 / n_b))
    return _tost(mean_a - mean_b, error, df, margin, alpha)


def _tost(difference, error, df, margin, alpha=0.05):
    low, high = (difference + margin) / error, (difference - margin) / error
    half = t_quantile(1 - 2 * alpha, df) * error
    p = max(special.stdtr(df, -low), special.stdtr(df, high))
    return Tost(*map(float, (difference, low, high, df, p, difference - half, difference + half)))


def equivalence(values, asked, confidence=0.95):
    """Is a equivalent to b within the margin, in each species, and in all of them -> Effects, or Refusal.

    values : frame, one row a unit: taxon, treatment, environment, batch, unit, quantity, value; denominator optional.
    asked : frame, one row a pair and quantity: taxon ("": each one), a, b, quantity, margin (in units of value), and
    optional environment and denominator (blank: each one), contrast (what is asked of several species under one name;
    else a and b name it), wanted, margin_late.
    confidence : of the outer interval; the inner one is at 2 confidence - 1.
    Groups: means. Effects: differences with verdict and the p of two one-sided tests; where one contrast was asked of
    several species, last its answer for all of them: the largest p, no value. Not judged, with the reason, where a side
    has one unit or none, units agree to the last digit, or no margin above 0 was declared (the interval stands).
    Source: Schuirmann 1987, J. Pharmacokinet. Biopharm. 15:657; all at once: Berger 1982, Technometrics 24:295
    (intersection-union).
    """
    rows = values.dropna(subset=["value"])
    if rows.empty or asked.empty:
        return Refusal(
            quantity="" if asked.empty else str(asked["quantity"].iloc[0]), missing="No unit has a value for it.",
            remedy="Declare a pair with its margin, and enter the values of its units.",
        )  # fmt: skip
    rows = rows.assign(denominator=rows["denominator"].fillna("") if "denominator" in rows else "")
    cells = dict(iter(rows.groupby(["taxon", "environment", "quantity", "denominator"], sort=False)))
    rungs = {key: rungs_of(part) for key, part in cells.items()}
    effects, told = [], {}
    for row in asked.to_dict("records"):
        taxon, place, base = ("" if pd.isna(row.get(n)) else row[n] for n in ("taxon", "environment", "denominator"))
        wanted = (taxon, place, row["quantity"], base)
        here = [key for key in cells if all(w in ("", part) for w, part in zip(wanted, key, strict=True))]
        for key in here or [wanted]:
            effect = _effect(key, cells.get(key), rungs.get(key), row, confidence)
            effects.append(effect)
            name = row.get("contrast") or (row["a"], row["b"])
            told.setdefault((name, *key[1:]), []).append(effect)
    together = [_all(parts) for parts in told.values() if len({e.of["taxon"] for e in parts}) > 1]
    return Effects(
        units=rows, method=METHOD, assumptions=ASSUMPTIONS, effects=tuple(effects + together),
        groups=tuple(e for key, part in cells.items() for e in _groups(key, part, rungs[key], confidence)),
        warnings=(ONE_BATCH,) if any(ONE_BATCH in e.reason for e in effects) else (),
    )  # fmt: skip


def _behind(part, *sides):
    own = part[part["treatment"].isin(sides)]
    return {"n_batches": int(own.groupby("treatment")["batch"].nunique().sum()), "n_units": len(own)}


def _groups(key, part, rungs, confidence):
    taxon, environment, quantity, denominator = key
    for name in part["treatment"].unique():
        rung, means = rungs.on(name)
        of = MappingProxyType({"taxon": taxon, "environment": environment, "treatment": name})
        value, low, high = np.nan, np.nan, np.nan
        if means is not None:
            value, low, high = means.interval(name, t_quantile(confidence, means.df))
        yield Estimate(
            quantity, of, value, low, high, confidence=confidence, unit=_unit(denominator), denominator=denominator,
            df=means.df if means else np.nan, rung=str(rung), **_behind(part, name),
        )  # fmt: skip


def _unit(denominator):
    return "%" if denominator else ""


def _effect(key, part, rungs, row, confidence):
    taxon, environment, quantity, denominator = key
    a, b, margin = str(row["a"]), str(row["b"]), row.get("margin")
    margin = float(margin) if pd.notna(margin) and margin > 0 else np.nan
    of = MappingProxyType({"taxon": taxon, "environment": environment, "a": a, "b": b})
    bare = Estimate(
        quantity, of, np.nan, scale="difference", confidence=confidence, unit=_unit(denominator),
        denominator=denominator, margin=margin, kind=str(Kind.EQUIVALENCE), verdict=str(Verdict.NOT_JUDGED),
    )  # fmt: skip
    rung, means = rungs.on(a, b) if rungs else (Rung.DISH, None)
    if means is None:
        return replace(bare, reason=f"{a} and {b} need two units each that do not agree to the last digit.")
    value, *outer = means.difference(a, b, t_quantile(confidence, means.df))
    _, *inner = means.difference(a, b, t_quantile(2 * confidence - 1, means.df))
    error = (value - outer[0]) / t_quantile(confidence, means.df)
    judged = judge(outer, inner, Kind.EQUIVALENCE, margin, row.get("wanted") or "higher",
                   margin_late=bool(row.get("margin_late", False)))
    return replace(
        bare, value=value, lower=outer[0], upper=outer[1], inner_lower=inner[0], inner_upper=inner[1], df=means.df,
        p_value=_tost(value, error, means.df, margin, 1 - confidence).p_value, verdict=str(judged.verdict),
        rung=str(rung), reason=" ".join(filter(None, (ONE_BATCH * (rung == Rung.DISH), judged.reason))),
        **_behind(part, a, b),
    )  # fmt: skip


def _all(parts):
    """One answer for all species: equivalent only where each one is."""
    first = parts[0]
    taxa = sorted({e.of["taxon"] for e in parts})
    inside = {str(Verdict.EQUIVALENT), str(Verdict.LESS_THAN_MATTERS)}
    words = {e.verdict for e in parts}
    verdict = Verdict.NOT_SHOWN
    if words <= inside:
        verdict = Verdict.EQUIVALENT if words == {str(Verdict.EQUIVALENT)} else Verdict.LESS_THAN_MATTERS
    elif words & {str(Verdict.NOT_JUDGED), ""}:
        verdict = Verdict.NOT_JUDGED
    of = MappingProxyType({name: value for name, value in first.of.items() if name != "taxon"})
    return replace(
        first, of=of, value=np.nan, lower=np.nan, upper=np.nan, inner_lower=np.nan, inner_upper=np.nan, df=np.nan,
        p_value=float(max(e.p_value for e in parts)), verdict=str(verdict), reason=ALL.format(" and ".join(taxa)),
        n_batches=sum(e.n_batches for e in parts), n_units=sum(e.n_units for e in parts),
    )  # fmt: skip
