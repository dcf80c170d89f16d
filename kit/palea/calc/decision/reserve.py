"""What is left in reserve: viable seed that still waits, and how widely germination spreads in time."""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pandas as pd

from palea.calc.decision.rungs import rungs_of
from palea.calc.germination.final import final
from palea.calc.germination.indices import UNCERTAINTY, VARIANCE, of_dishes
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats.contrasts import Question, answer
from palea.calc.terms import Denominator, Kind, Rung

WAITING = "waiting seed"
SPREAD = (UNCERTAINTY, VARIANCE)
METHOD = (
    "Spread in time: uncertainty (bits) and variance of the day of germination, dish by dish, dishes averaged within "
    "the batch; differences by one variance pooled over the treatments of a species and environment, t."
)
SECONDARY = "Described beside the declared questions: it carries no verdict."


def reserve(shares, newly, asked, confidence=0.95, final=final):
    """Viable seed still waiting and spread in time, each treatment against its control -> Effects, or Refusal.

    shares, asked : as in germination.final.  newly : as in germination.indices.  Every pair of asked is compared,
    whatever it was declared for; a verdict only where waiting seed itself was declared.
    final : the calculation of shares; earlier versions have another.
    Groups and effects: waiting seed [% of viable, points], germination uncertainty [bit] and variance of germination
    time [d2]. Differences a minus b: below 0, less is held in reserve, or it comes up more at once.
    Refusal where neither ends nor days were counted.
    Source: as germination.final; Ranal & Santana 2006, Rev. Bras. Bot. 29:1-11; Snedecor & Cochran 1989, ch. 12.
    """
    parts = [part for part in (_waiting(shares, asked, confidence, final), _spread(newly, asked, confidence)) if part]
    if not parts:
        return Refusal(
            quantity=WAITING, missing="No dish has its ungerminated seeds looked at, nor counts by day.",
            remedy="Cut or test every seed that is left at the end, and enter what was found.",
        )  # fmt: skip
    return Effects(
        units=pd.concat([part.units for part in parts], ignore_index=True),
        method=" ".join(dict.fromkeys(part.method for part in parts)),
        assumptions=tuple(dict.fromkeys(told for part in parts for told in part.assumptions)),
        warnings=tuple(dict.fromkeys(told for part in parts for told in part.warnings)),
        groups=tuple(e for part in parts for e in part.groups),
        effects=tuple(e for part in parts for e in part.effects),
    )  # fmt: skip


def _pairs(asked):
    """Every pair once, with its environment ("": each one), in the order asked."""
    return asked.assign(environment=asked["environment"].fillna("")).drop_duplicates(["taxon", "environment", "a", "b"])


def _waiting(shares, asked, confidence, final):
    """Waiting seed of viable; declared contrasts keep their verdict, the others are put beside them."""
    viable = shares[(shares["quantity"] == WAITING) & (shares["denominator"] == str(Denominator.VIABLE))]
    if viable["k"].isna().all():
        return None
    declared = asked[(asked["quantity"] == WAITING) & (asked["denominator"] == str(Denominator.VIABLE))]
    beside = _pairs(asked)
    keys = ["taxon", "a", "b"]
    own = pd.MultiIndex.from_frame(declared[keys])
    beside = beside[~pd.MultiIndex.from_frame(beside[keys]).isin(own)].assign(
        quantity=WAITING, denominator=str(Denominator.VIABLE), kind=str(Kind.SUPERIORITY), margin=np.nan, primary=False,
        asks_about="", margin_late=False,
    )  # fmt: skip
    found = [final(viable, rows, confidence=confidence) for rows in (declared, beside)]
    described = tuple(
        replace(e, verdict="", kind="", reason=f"{SECONDARY} {e.reason}".strip()) if np.isfinite(e.value) else e
        for e in found[1].effects
    )
    return replace(found[1], effects=found[0].effects + described)


def _spread(newly, asked, confidence):
    """Uncertainty and variance of the day, on batch means."""
    results = [of_dishes(newly, confidence, (quantity,)) for quantity in SPREAD]
    if any(isinstance(each, Refusal) for each in results):
        return None
    groups = tuple(e for each in results for e in each.estimates)
    units = pd.concat([each.units for each in results], ignore_index=True)
    effects = [e for quantity in SPREAD for e in _differences(quantity, units, asked, groups, confidence)]
    told = tuple(dict.fromkeys(text for each in results for text in each.warnings))
    return Effects(
        units=units, method=METHOD, assumptions=results[0].assumptions, warnings=told, groups=groups,
        effects=tuple(effects),
    )  # fmt: skip


def _differences(quantity, units, asked, groups, confidence):
    behind = [e for e in groups if e.quantity == quantity]
    own = units[(units["quantity"] == quantity) & units["value"].notna()]
    here = {key: rungs_of(part) for key, part in own.groupby(["taxon", "environment"], sort=False)}
    for row in _pairs(asked).to_dict("records"):
        places = [place for taxon, place in here if taxon == row["taxon"]]
        for place in [row["environment"]] if row["environment"] else places:
            sides = [next((e for e in behind if _is(e, row["taxon"], place, row[s])), None) for s in ("a", "b")]
            yield _difference(quantity, here.get((row["taxon"], place)), row, place, sides, confidence)


def _is(estimate, taxon, environment, treatment):
    of = estimate.of
    return (of["taxon"], of["environment"], of["treatment"]) == (taxon, environment, treatment)


def _difference(quantity, rungs, row, place, sides, confidence):
    of = MappingProxyType({"taxon": row["taxon"], "environment": place, "a": row["a"], "b": row["b"]})
    rung, means = rungs.on(row["a"], row["b"]) if rungs else (Rung.DISH, None)
    unit = next((e.unit for e in sides if e), "")
    if means is None or row.get("refused"):
        reason = row.get("refused") or "Both sides need two dishes or batches in which enough seeds germinated, and not all alike."
        return Estimate(quantity, of, np.nan, scale="difference", unit=unit, verdict="not judged", reason=reason)
    question = Question(means, row["a"], row["b"], (quantity,), row["taxon"], str(Kind.SUPERIORITY))
    found = answer([question], confidence)[0]
    return Estimate(
        quantity, of, float(found.value), *map(float, found.outer), scale="difference", confidence=confidence, unit=unit,
        df=float(found.df), p_value=float(found.p_value), rung=str(rung), inner_lower=float(found.inner[0]),
        inner_upper=float(found.inner[1]), n_batches=sum(e.n_batches for e in sides), reason=SECONDARY,
        n_units=sum(e.n_units for e in sides), n_seeds=sum(e.n_seeds for e in sides),
    )  # fmt: skip
