"""Which seed of chance the invented demo takes: the first with which trial G1 comes out as truth.json expects.

All of G1 comes out as its truth has it in about one simulated trial out of five, so a few dozen seeds at most are
tried, in order from 1; truth.json keeps the one found and how many were tried. `python -m palea.demo.seeds` repeats it.
"""

import sys
from itertools import count

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.germination.final import final
from palea.calc.germination.time import times
from palea.calc.terms import Denominator
from palea.demo.germination import dishes
from palea.demo.setting import setting
from palea.demo.trial import contrasts, unit_id
from palea.demo.truth import truth

TRIED_AT_MOST = 60
ONE_TRIAL = "G1"


def search():
    """Yield (seed, {contrast: verdict} that is not as expected) from seed 1 on; the last one yielded has none.

    Stops after TRIED_AT_MOST seeds: a truth that fits so seldom should be mended, not searched for.
    """
    for seed in count(1):
        wrong = {c: verdict for taxon in truth()["species"] for c, verdict in otherwise(taxon, seed).items()}
        yield seed, wrong
        if not wrong or seed >= TRIED_AT_MOST:
            return


def otherwise(taxon, seed):
    """Contrasts of one species that come out otherwise than truth.json expects, as {contrast: verdict}."""
    told, expected = effects(taxon, seed), truth()["expected"]
    wrong = {c: str(e.verdict) for c, (e, _) in told.items() if e.verdict != expected[c]}
    shown = {c: beside.lower > 0 for c, (_, beside) in told.items() if c in truth()["misleading_of_sown"]}
    return wrong | {f"{c} of sown units": "not above 0" for c, above in shown.items() if not above}


def effects(taxon, seed):
    """{contrast: (its effect, the same on sown units or None)} of one species in G1."""
    found, asked = dishes(ONE_TRIAL, taxon, seed), _asked(taxon)
    of_time = asked["denominator"].eq("")
    answers = list(final(_shares(found), asked[~of_time]).effects)
    if of_time.any():
        sides = {*asked.loc[of_time, "a"], *asked.loc[of_time, "b"]}
        timed = [dish for dish in found if f"{taxon}-{dish.arm}" in sides]
        answers += times(_intervals(timed), asked[of_time]).effects
    judged = {_about(e): e for e in answers if e.verdict}
    beside = {_about(e): e for e in answers if not e.verdict}
    about = asked[["a", "b", "quantity"]].itertuples(index=False, name=None)
    return {c: (judged[key], beside.get(key)) for c, key in zip(asked["contrast"], about, strict=True)}


def _about(effect):
    return effect.of["a"], effect.of["b"], effect.quantity


def _asked(taxon):
    """The declared contrasts of a species, as a calculation is asked them. Route alone was done at two doses."""
    of = {o["outcome"]: o.get("denominator", "") for o in setting("outcomes")}
    rows = pd.DataFrame(contrasts(ONE_TRIAL, taxon)).rename(columns={"contrast_id": "contrast", "outcome": "quantity"})
    return rows.assign(
        taxon=taxon, environment="", denominator=rows["quantity"].map(of), margin=rows["margin"].astype(float),
        refused=np.where(rows["asks_about"].eq("route"), "The doses differ.", ""), margin_late=False,
    )


def _keys(dish):
    return {"taxon": dish.taxon, "treatment": f"{dish.taxon}-{dish.arm}", "environment": "",
            "batch": f"{dish.arm}-{dish.batch}", "unit": unit_id(ONE_TRIAL, dish)}


def _shares(found):
    """Each dish's shares on every denominator that is declared, and on sown units."""
    asked = {o["outcome"]: o["denominator"] for o in setting("outcomes") if "denominator" in o}
    both = [(quantity, of) for quantity, declared in asked.items() for of in (Denominator.SOWN, declared)]
    return pd.DataFrame([_share(dish, *one) for dish in found for one in both]).astype({"k": float, "n": float})


def _share(dish, quantity, denominator):
    counted_by = schema.word("denominator", denominator)["counted_by"]
    in_it = schema.words("outcome", **{counted_by: True}) if counted_by else ()
    n = sum(dish.ends[part] for part in in_it) if counted_by else truth()["germination"][ONE_TRIAL]["seeds"]
    k = sum(dish.ends[part] for part in schema.word("quantity", quantity)["numerator"])
    return _keys(dish) | {"quantity": quantity, "denominator": str(denominator), "k": k, "n": n}


def _intervals(found):
    """Each dish's inspection intervals, and those of its filled seeds that did not germinate."""
    days, rows = truth()["germination"][ONE_TRIAL]["days"], []
    for dish in found:
        for since, day in zip([0, *days], days, strict=False):
            new = sum(n for (seen_on, _), n in dish.seen.items() if seen_on == day)
            rows.append(_keys(dish) | {"left": since, "right": day, "count": new})
        waiting = dish.cut.total() - dish.cut["empty"]
        rows.append(_keys(dish) | {"left": days[-1], "right": np.inf, "count": waiting})
    return pd.DataFrame(rows).astype({"left": float, "right": float, "count": float})


if __name__ == "__main__":
    for number, wrong in search():
        told = ", ".join(f"{contrast}: {verdict}" for contrast, verdict in wrong.items())
        sys.stdout.write(f"seed {number}: {told or 'all of G1 as expected'}\n")
