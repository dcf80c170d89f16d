"""Which seed of chance each trial of the invented demo takes: the first with which it comes out as truth.json expects.

All of G1 comes out as its truth has it in about one simulated trial out of five, so a few dozen seeds at most are
tried, in order from 1; truth.json keeps the one found and how many were tried. The seed of G1 is the seed of the demo;
other trials are sown from the same lots and have a seed of their own for their dishes. A seed is passed over too where
a visit finds nothing between two that do: on paper that looks like a visit that was not made.
`python -m palea.demo.seeds` repeats the search.
"""

import sys
from itertools import count
from math import hypot

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.germination.final import final
from palea.calc.germination.time import times
from palea.calc.stats.verdicts import judge
from palea.calc.terms import Denominator
from palea.demo.germination import dishes, germination_trials
from palea.demo.setting import laid_down
from palea.demo.trial import contrasts, unit_id
from palea.demo.truth import truth

TRIED_AT_MOST = 60
OF_THE_DEMO = "G1"


def search(trial=OF_THE_DEMO):
    """Yield (seed, {contrast: verdict} that is not as expected) from seed 1 on; the last one yielded has none.

    Stops after TRIED_AT_MOST seeds: a truth that fits so seldom should be mended, not searched for.
    """
    for seed in count(1):
        wrong = {c: verdict for taxon in _taxa(trial) for c, verdict in otherwise(trial, taxon, seed).items()}
        wrong |= dict.fromkeys(silent(trial, seed), "nothing seen, though before and after")
        yield seed, wrong
        if not wrong or seed >= TRIED_AT_MOST:
            return


def _taxa(trial):
    return list(truth()["germination"][trial]["arms"])


def silent(trial, seed):
    """Visits at which no dish had a new seedling, between visits at which some had, as (filling, day)."""
    found = [dish for taxon in _taxa(trial) for dish in dishes(trial, taxon, seed)]
    down, days = laid_down(trial), truth()["germination"][trial]["days"]
    for filling in down["fillings"]:
        here = [d for d in found if down["environments"][d.place.environment]["filling"] == filling]
        seen = [any(n and on == day for d in here for (on, _), n in d.seen.items()) for day in days]
        yield from ((filling, day) for n, day in enumerate(days) if not seen[n] and any(seen[:n]) and any(seen[n:]))


def otherwise(trial, taxon, seed):
    """Contrasts of one species that come out otherwise than truth.json expects, as {contrast: verdict}."""
    told, expected = effects(trial, taxon, seed), truth()["expected"]
    wrong = {c: verdict for c, (verdict, _) in told.items() if c in expected and verdict != expected[c]}
    shown = {c: beside.lower > 0 for c, (_, beside) in told.items() if c in truth()["misleading_of_sown"]}
    return wrong | {f"{c} of sown units": "not above 0" for c, above in shown.items() if not above}


def effects(trial, taxon, seed):
    """{contrast: (its verdict, the same effect on sown units or None)} of one species in a trial."""
    found, asked = dishes(trial, taxon, seed), _asked(trial, taxon)
    across = asked["across"].ne("")
    of_time = asked["denominator"].eq("")
    answers = list(final(_shares(trial, found), asked[~of_time & ~across]).effects)
    if of_time.any():
        sides = {*asked.loc[of_time, "a"], *asked.loc[of_time, "b"]}
        timed = [dish for dish in found if f"{taxon}-{dish.arm}" in sides]
        answers += times(_intervals(trial, timed), asked[of_time]).effects
    judged = {_about(e): e for e in answers if e.verdict}
    beside = {_about(e): e for e in answers if not e.verdict and e.scale == "difference"}
    about = asked[["environment", "a", "b", "quantity"]].itertuples(index=False, name=None)
    told = {c: (str(judged[key].verdict), beside.get(key)) for c, key, apart in
            zip(asked["contrast"], about, across, strict=True) if not apart}
    return told | {row.contrast: (_interaction(row, judged), None) for row in asked[across].itertuples()
                   if row.across == "water"}


def _about(effect):
    return effect.of["environment"], effect.of["a"], effect.of["b"], effect.quantity


def _interaction(asked, judged):
    """Verdict on the difference in the dry dishes less the difference in water, from the two intervals.

    Source: Zou & Donner 2008, Stat. Med. 27:1693 (limits of a difference from the limits of its parts; from memory).
    """
    dry = judged[asked.environment, asked.a, asked.b, asked.quantity]
    wet = judged[asked.environment.replace("dry", "wet"), asked.a, asked.b, asked.quantity]
    ends = [_apart(dry, wet, lower, upper) for lower, upper in (("lower", "upper"), ("inner_lower", "inner_upper"))]
    return str(judge(*ends, asked.kind, wanted=asked.wanted).verdict)


def _apart(dry, wet, lower, upper):
    apart = dry.value - wet.value
    below = hypot(dry.value - getattr(dry, lower), getattr(wet, upper) - wet.value)
    above = hypot(getattr(dry, upper) - dry.value, wet.value - getattr(wet, lower))
    return apart - below, apart + above


def _asked(trial, taxon):
    """The declared contrasts of a species, as a calculation is asked them. Route alone was done at two doses in G1."""
    of = {o["outcome"]: o.get("denominator", "") for o in laid_down(trial)["outcomes"]}
    rows = pd.DataFrame(contrasts(trial, taxon)).rename(columns={"contrast_id": "contrast", "outcome": "quantity"})
    for column, blank in {"environment_id": "", "across": "", "margin": np.nan}.items():
        rows[column] = rows[column].fillna(blank) if column in rows else blank
    doses_apart = rows["asks_about"].eq("route") & (trial == OF_THE_DEMO)
    return rows.assign(
        taxon=taxon, environment=[_conditions(trial, e) for e in rows["environment_id"]],
        denominator=rows["quantity"].map(of), margin=rows["margin"].astype(float),
        refused=np.where(doses_apart, "The doses differ.", ""), margin_late=False,
    )


def _conditions(trial, environment):
    """Fillings of the same conditions are one environment; the filling is the block."""
    there = laid_down(trial)["environments"].get(environment.removeprefix(f"{trial}-"), {})
    return environment.removesuffix(f"-{there.get('filling')}")


def _keys(trial, dish):
    place, several = dish.place, len(laid_down(trial)["environments"]) > 1
    filling = laid_down(trial)["environments"][place.environment]["filling"]
    block = {"block": filling} if "block" in laid_down(trial)["fillings"][filling] else {}
    return {"taxon": dish.taxon, "treatment": f"{dish.taxon}-{dish.arm}", "batch": f"{dish.arm}-{place.batch}",
            "environment": _conditions(trial, f"{trial}-{place.environment}") if several else "",
            "unit": unit_id(trial, dish)} | block


def _shares(trial, found):
    """Each dish's shares on every denominator that is declared, and on sown units."""
    asked = {o["outcome"]: o["denominator"] for o in laid_down(trial)["outcomes"] if "denominator" in o}
    both = [(quantity, of) for quantity, declared in asked.items() for of in (Denominator.SOWN, declared)]
    return pd.DataFrame([_share(trial, dish, *one) for dish in found for one in both]).astype({"k": float, "n": float})


def _share(trial, dish, quantity, denominator):
    counted_by = schema.word("denominator", denominator)["counted_by"]
    in_it = schema.words("outcome", **{counted_by: True}) if counted_by else ()
    n = sum(dish.ends[part] for part in in_it) if counted_by else truth()["germination"][trial]["seeds"]
    k = sum(dish.ends[part] for part in schema.word("quantity", quantity)["numerator"])
    return _keys(trial, dish) | {"quantity": quantity, "denominator": str(denominator), "k": k, "n": n}


def _intervals(trial, found):
    """Each dish's inspection intervals, and those of its filled seeds that did not germinate."""
    days, rows = truth()["germination"][trial]["days"], []
    for dish in found:
        for since, day in zip([0, *days], days, strict=False):
            new = sum(n for (seen_on, _), n in dish.seen.items() if seen_on == day)
            rows.append(_keys(trial, dish) | {"left": since, "right": day, "count": new})
        waiting = dish.cut.total() - dish.cut["empty"]
        rows.append(_keys(trial, dish) | {"left": days[-1], "right": np.inf, "count": waiting})
    return pd.DataFrame(rows).astype({"left": float, "right": float, "count": float})


if __name__ == "__main__":
    for name in germination_trials():
        for number, wrong in search(name):
            told = ", ".join(f"{contrast}: {verdict}" for contrast, verdict in wrong.items())
            sys.stdout.write(f"{name}, seed {number}: {told or 'all as expected'}\n")
