"""What the meter does to seed: germination of seed caught after it against seed from the hopper."""

from types import MappingProxyType

import numpy as np

from palea.calc.germination.dishes import counted_dishes
from palea.calc.handling.terms import METER, UNITS
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats import share_means
from palea.calc.stats.proportions import t_quantile
from palea.calc.stats.verdicts import UNDECLARED, judge
from palea.calc.terms import Kind, Rung

BEFORE, AFTER = "before", "after"
KEYS = ["taxon", "environment", "treatment", "quantity", "denominator"]
TOO_FEW = "Two dishes before and two after the meter are needed at least; better four of each."


def damage(shares, margin=np.nan, confidence=0.95):
    """Share after the meter less share before it, in points -> Effects; Refusal where no material has both.

    shares : one row a dish: taxon, treatment, environment, batch, unit, quantity, denominator, k, n, and stage
    ("before" or "after").  margin : points that would matter, fixed before the test; then the verdict is whether the
    meter makes it no worse by more than that. nan: interval and no verdict.
    Dishes of one draw before and one after; quasi- or beta-binomial, score intervals with effective numbers of seeds.
    The groups are the shares after the meter; an effect has the same treatment on both sides, after less before.
    Source: Newcombe 1998, Stat. Med. 17:873; McCullagh & Nelder 1989, ch. 4.5 (dispersion).
    """
    dishes, warnings = counted_dishes(shares)
    stage = dict(zip(shares["unit"].astype(str), shares["stage"].astype(str), strict=True))
    dishes = dishes.assign(stage=dishes["unit"].map(stage))
    found = [_of_material(dict(zip(KEYS, key, strict=True)), part, margin, confidence)
             for key, part in dishes.groupby(KEYS, sort=False)]
    if not any(np.isfinite(effect.value) for _, effect in found):
        return Refusal(quantity=METER, missing="No material has two dishes both before and after the meter.",
                       remedy=TOO_FEW)
    return Effects(
        units=dishes.assign(value=100 * dishes["k"] / dishes["n"]), warnings=warnings,
        groups=tuple(g for g, _ in found if g is not None), effects=tuple(e for _, e in found),
        assumptions=("Both draws came from the same lot, and the dishes were set out without regard to the stage.",),
        method="Unit of replication: the dish. Quasi-binomial counts (beta-binomial with six dishes or more of each), "
        "Newcombe's score interval of the difference with effective numbers of seeds, t quantiles.",
    )


def _of_material(key, part, margin, confidence):
    place = {name: key[name] for name in ("taxon", "environment")}
    sides = MappingProxyType(place | {"a": key["treatment"], "b": key["treatment"]})
    common = {"confidence": confidence, "denominator": key["denominator"], "rung": str(Rung.DISH),
              "n_units": len(part), "n_seeds": round(part["n"].sum()), "n_batches": part["batch"].nunique()}
    sizes = part["stage"].value_counts()
    means = None
    if min(sizes.get(BEFORE, 0), sizes.get(AFTER, 0)) >= 2:
        means = share_means.of_counts(part["stage"].to_numpy(str), *(part[c].to_numpy() for c in "kn"), beta=True)
    if means is None:
        return None, Estimate(METER, of=sides, value=np.nan, scale="difference", unit=UNITS[METER], verdict="not judged",
                              reason=TOO_FEW, **common)
    share, lower, upper = (100 * float(x) for x in means.interval(AFTER, t_quantile(confidence, means.df)))
    group = Estimate(key["quantity"], place | {"treatment": key["treatment"]}, share, lower, upper, **common)
    value, *outer = means.difference(AFTER, BEFORE, t_quantile(confidence, means.df))
    _, *inner = means.difference(AFTER, BEFORE, t_quantile(2 * confidence - 1, means.df))
    verdict, reason = judge(outer, inner, Kind.NO_WORSE, margin / 100) if margin > 0 else ("", UNDECLARED)
    return group, Estimate(
        METER, sides, *(100 * float(x) for x in (value, *outer)), scale="difference", unit=UNITS[METER],
        inner_lower=100 * float(inner[0]), inner_upper=100 * float(inner[1]), margin=margin,
        df=float(means.df), kind=str(Kind.NO_WORSE) if margin > 0 else "", verdict=str(verdict), reason=reason, **common,
    )  # fmt: skip
