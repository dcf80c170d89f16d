"""What several trials, species or packages say together, and how far they differ: only where they measured the same."""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pandas as pd

from palea.calc import simulated
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats.pooling import REML, pool, variance_of
from palea.calc.terms import Rung

SPREAD = "scatter beyond sampling"
ALIKE = ("quantity", "denominator", "unit", "scale")
LOGS = "ratio"
ONE_MORE = "Where the effect in one more trial like these may lie."
ASSUMPTIONS = (
    "True effects scatter about their mean like normal errors, and trials are as good as drawn from those of interest.",
    "Each trial is one: results that share dishes, plots or a control are not counted twice.",
)


def pool_evidence(effects, confidence=0.95, method=REML):
    """A random-effects mean of effects that several trials reported -> Effects, or Refusal.

    effects : frame, one row an effect: trial (its name; package, trial or species, one a row), quantity, denominator,
    unit, scale, value, lower, upper, confidence, and optional df, package, taxon, environment, a, b, n_batches, n_units.
    Ratios are pooled as logs and come back as ratios.
    Groups: each effect as it was. Effects: the pooled mean (Hartung-Knapp interval, p), the same with the prediction
    interval for one more trial, and the scatter beyond sampling (I2, %). Their reasons hold tau, Q and its p.
    method : of the variance between trials, REML or DL (DerSimonian & Laird).
    Refusal: different quantities, denominators, units or scales; fewer than two effects with an interval; the same trial
    twice. True coverage of nominal 95 % (tests/coverage, evidence): 93 to 100 %, most with three trials.
    Source: Viechtbauer 2005, J. Educ. Behav. Stat. 30:261; DerSimonian & Laird 1986, Control. Clin. Trials 7:177;
    Hartung & Knapp 2001, Stat. Med. 20:3875; Higgins, Thompson & Spiegelhalter 2009, J. R. Stat. Soc. A 172:137.
    """
    rows = effects.assign(denominator=effects["denominator"].fillna(""), unit=effects["unit"].fillna(""))
    refused = _refused(rows)
    if refused:
        return refused
    known = _known(rows)
    logs = LOGS in known["scale"].iloc[0]
    value, lower, upper = (known[name].to_numpy(float) for name in ("value", "lower", "upper"))
    if logs:
        value, lower, upper = np.log(value), np.log(lower), np.log(upper)
    df = known["df"].to_numpy(float, na_value=np.nan) if "df" in known else np.full(len(known), np.nan)
    pooled = pool(value, variance_of(lower, upper, known["confidence"].to_numpy(float), df), method=method,
                  confidence=confidence)
    dropped = len(rows) - len(known)
    return Effects(
        units=known.assign(weight=100 * pooled.weights), method=_method(method, logs=logs), assumptions=ASSUMPTIONS,
        warnings=_warnings(dropped, len(known), known, pooled),
        groups=tuple(_group(row) for row in known.to_dict("records")),
        effects=tuple(_pooled(known, pooled, confidence, logs=logs)),
    )  # fmt: skip


def pool_question(effects, a="", b="", quantity="", confidence=0.95, method=REML):
    """One question of a table of effects, pooled over the trials and places that asked it -> Effects, or Refusal.

    effects : as in `pool_evidence`, of any number of questions.  a, b, quantity : the question; "": that which most
    trials answered (of as many, the one with most effects, then the first). Where no such question was asked, a Refusal.
    The rest as in `pool_evidence`.
    Source: Viechtbauer 2005, J. Educ. Behav. Stat. 30:261; DerSimonian & Laird 1986, Control. Clin. Trials 7:177;
    Hartung & Knapp 2001, Stat. Med. 20:3875; Higgins, Thompson & Spiegelhalter 2009, J. R. Stat. Soc. A 172:137.
    """
    given = {"a": a, "b": b, "quantity": quantity}
    rows = effects.loc[np.logical_and.reduce([effects[n].eq(v).fillna(value=False) | (v == "") for n, v in given.items()])]
    if rows.empty:
        told = " ".join(v for v in given.values() if v)
        return Refusal(
            quantity=quantity, missing=f"No trial has an answer{f' on {told}' if told else ''}.",
            remedy="Declare the same contrast in two trials or more, or name one that was declared.",
        )  # fmt: skip
    keys = ["a", "b", "quantity", "denominator"]
    by = rows.groupby(keys, sort=False).agg(trials=("trial", "nunique"), many=("trial", "size")).reset_index()
    asked = by.sort_values(["trials", "many"], ascending=False, kind="stable").iloc[0]
    mine = rows[np.logical_and.reduce([rows[name].eq(asked[name]) for name in keys])]
    return pool_evidence(mine.reset_index(drop=True), confidence, method)


def _refused(rows):
    quantity = str(rows["quantity"].iloc[0]) if len(rows) else ""
    for name in ALIKE:
        found = list(dict.fromkeys(rows[name].astype(str).replace("", "none")))
        if len(found) > 1:
            return Refusal(
                quantity=quantity, missing=f"The effects differ in {name}: {', '.join(found)}.",
                remedy=f"Pool effects of one {name} at a time; different ones do not add up to one number.",
            )  # fmt: skip
    known = _known(rows)
    if len(known) < 2:
        return Refusal(
            quantity=quantity, missing=f"{len(known)} effect has a value with an interval; pooling needs 2 or more.",
            remedy="Add another trial, or read the one there is.",
        )  # fmt: skip
    return _doubled(known, quantity)


def _doubled(known, quantity):
    named = [name for name in ("package", "trial", "taxon", "environment", "a", "b") if name in known]
    twice = known[known.duplicated(named)]
    if twice.empty:
        return None
    return Refusal(
        quantity=quantity, missing=f"{twice['trial'].iloc[0]} is there twice with the same comparison.",
        remedy="Keep one of them: the same seed counted twice looks like more evidence than there is.",
    )


def _known(rows):
    """Effects with an interval that has a width; on logs only where all of it is above 0."""
    kept = rows.dropna(subset=["value", "lower", "upper", "confidence"])
    kept = kept[np.isfinite(kept[["value", "lower", "upper"]].to_numpy(float)).all(axis=1) & (kept["upper"] > kept["lower"])]
    ratios = kept["scale"].str.contains(LOGS)
    return kept[~ratios | (kept["lower"] > 0)].reset_index(drop=True)


def _group(row):
    names = ("taxon", "environment", "a", "b", "contrast")
    of = {name: str(row[name]) for name in names if name in row and pd.notna(row[name]) and row[name] != ""}
    return Estimate(
        row["quantity"], MappingProxyType(of), float(row["value"]), float(row["lower"]), float(row["upper"]),
        scale=row["scale"], confidence=float(row["confidence"]), unit=row["unit"], denominator=row["denominator"],
        n_batches=_count(row, "n_batches"), n_units=_count(row, "n_units"), reason=str(row["trial"]),
    )  # fmt: skip


def _count(row, name):
    return int(row[name]) if name in row and pd.notna(row[name]) else 0


def _pooled(known, pooled, confidence, *, logs):
    """The mean, the prediction, the scatter."""
    first = known.iloc[0]
    same = {n: str(first[n]) for n in ("taxon", "environment", "a", "b") if n in known and len(set(known[n])) == 1}
    back = np.exp if logs else float
    counts = {"n_units": int(known["n_units"].sum()) if "n_units" in known else 0}
    counts["n_batches"] = int(known["n_batches"].sum()) if "n_batches" in known else 0
    mean = Estimate(
        first["quantity"], MappingProxyType(same), float(back(pooled.mean)), float(back(pooled.lower)),
        float(back(pooled.upper)), scale=first["scale"], confidence=confidence, unit=first["unit"],
        denominator=first["denominator"], df=pooled.df, p_value=pooled.p_value, rung=str(Rung.LOT), **counts,
        reason=f"Mean of {len(known)} effects; tau {np.sqrt(pooled.tau2):.3g}{' on logs' * logs}.",
    )  # fmt: skip
    yield mean
    if np.isfinite(pooled.predicted[0]):
        low, high = (float(back(end)) for end in pooled.predicted)
        yield replace(mean, lower=low, upper=high, p_value=np.nan, df=float(len(known) - 2), reason=ONE_MORE)
    yield Estimate(
        SPREAD, MappingProxyType(same), pooled.i2, df=float(len(known) - 1), p_value=pooled.q_p,
        reason=f"Q {pooled.q:.4g} on {len(known) - 1} degrees of freedom.",
    )


def _method(method, *, logs):
    ways = {REML: "restricted maximum likelihood", "DL": "the method of moments (DerSimonian and Laird)"}
    scale = " Ratios are pooled as logarithms." if logs else ""
    return (
        f"Random-effects mean, weights 1 / (variance + tau2), tau2 by {ways[method]}; interval by Hartung and Knapp, t; "
        f"prediction interval on k - 2 degrees of freedom.{scale} {simulated.CAREFUL_EVIDENCE}"
    )


def _warnings(dropped, trials, known, pooled):
    told = []
    if dropped:
        told.append(f"{dropped} effects without an interval were left out.")
    if trials < 5:
        told.append(f"With {trials} effects the scatter between them is hardly known: read the interval with care.")
    if pooled.i2 > 75:
        told.append("The effects differ far more than chance allows: look for what the trials do not have in common.")
    if {"package", "b"} <= set(known.columns) and known.duplicated(["package", "trial", "b"]).any():
        told.append("Some effects share a control, so they are not independent and count for less than they seem to.")
    return tuple(told)
