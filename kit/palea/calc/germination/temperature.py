"""Germination and warmth: whether a treatment does the same when it is warmer, thermal time, and what warmth itself does.

Temperature is applied to the incubator, so its own effect is judged between incubator runs or not at all; what a
treatment does can be compared within runs, and that comparison between temperatures on dishes.
"""

from types import MappingProxyType

import numpy as np

from palea.calc.germination.conditions import series, settings
from palea.calc.germination.dishes import LABELS, counted_dishes
from palea.calc.germination.interaction import interactions
from palea.calc.germination.stress_terms import THERMAL, UNITS, WARMTH, WARMTH_CHANGE
from palea.calc.germination.thermal import differences, estimates, single, thermal
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats import value_means
from palea.calc.stats.proportions import t_quantile
from palea.calc.terms import Rung, Verdict

ONE_RUN = (
    "Temperature is applied to the incubator: with one incubator run each, nobody can tell the temperature from the "
    "incubator. Repeat each temperature in a second run, the incubators swapped."
)
REMEDY = "Set out dishes at two temperatures for a change of effects, at four constant ones for thermal time."
ASSUMPTIONS = (
    "Dishes were set out in each chamber without regard to treatment.",
    "Thermal times of the seeds are log-normal with one spread; the share that germinates is each temperature's own.",
    "One received lot a species: the answer is for that lot.",
)


def temperature(intervals, shares, asked, environments, confidence=0.95, replicates=999, seed=1):
    """Change of declared effects with temperature, the effect of temperature, and thermal time -> Effects, or Refusal.

    intervals : as in germination.time.curve.  shares, asked : as in germination.final.  environments : one row a filling
    of a chamber, see conditions.settings.
    Change: at each water potential, each temperature against the one entered first: (a - b) there less (a - b) here, in
    points, with the verdict of the declared contrast.
    Effect of temperature itself (among the groups, for it has no a and b): for each species, quantity and denominator
    asked about, the mean over treatments that stood in every run, between incubator runs (t on runs); where a
    temperature has a single run it is not judged.
    Thermal time of each treatment in the wettest setting: base temperature, thermal time of the median seed and its
    spread, and where two or more temperatures lie past the optimum also optimum and ceiling, chosen by the smaller AIC;
    needs four constant temperatures with germination at three or more. Intervals by resampling dishes.
    Refusal where there is one temperature only.
    Source: Garcia-Huidobro, Monteith & Squire 1982, J. Exp. Bot. 33:288-296; Covell et al. 1986, J. Exp. Bot.
    37:705-715; ladder of replication: Hurlbert 1984, Ecol. Monogr. 54:187; Rao & Wu 1988 (draws).
    """
    placed, told = settings(environments)
    dishes, left_out = counted_dishes(shares)
    used = [s for s in placed if set(s.environments) & {*intervals["environment"], *dishes["environment"]}]
    levels = _waters(used)
    if not any(len(held) > 1 for held in levels):
        return Refusal(quantity=THERMAL, missing="All dishes stood at one temperature, or it is not recorded.",
                       remedy=REMEDY, warnings=told)
    pairs = [(warm, held[0]) for held in levels for warm in held[1:]]
    effects = [e for pair in pairs for e in interactions(dishes, asked, *pair, WARMTH_CHANGE, confidence)]
    main = [e for pair in pairs for e in _main(dishes, asked, *pair, confidence)]
    wettest = [s for s in used if s.water == max(each.water for each in used) and s.constant]
    fitted = [thermal(line, replicates, seed) for line in series(intervals, wettest).values()] if wettest else []
    return Effects(
        units=dishes[LABELS].assign(value=100 * dishes["k"] / dishes["n"]),
        groups=(*main, *(e for f in fitted for e in estimates(f, confidence))),
        effects=(*effects, *differences(fitted, asked, confidence)), assumptions=ASSUMPTIONS,
        warnings=(*told, *left_out, *_unreplicated(pairs), *single(fitted)), method=_method(confidence, replicates, seed),
    )


def _method(confidence, replicates, seed):
    return (
        "Change of an effect: difference of differences of shares, on batches that stood in both settings where both "
        "treatments have two, else on dishes. Effect of temperature: means of incubator runs, t interval between them. "
        "Thermal time: two lines of rate against temperature, log-normal thermal times, maximum likelihood of counts in "
        f"inspection intervals (t1, t2]; {100 * confidence:g} % percentiles of {replicates} draws of dishes within "
        f"temperature and batch, seed {seed}."
    )


def _waters(placed):
    """Settings of each water potential, in the order in which their temperatures were entered."""
    found = {}
    for setting in placed:
        found.setdefault(setting.water, []).append(setting)
    return list(found.values())


def _unreplicated(pairs):
    alone = dict.fromkeys(s.says for pair in pairs for s in pair if len(set(s.runs)) < 2)
    return (f"{ONE_RUN} ({'; '.join(alone)}.)",) if alone else ()


def _main(dishes, asked, warm, first, confidence):
    """Effect of the temperature itself for each species, quantity and denominator that is asked about."""
    shares = asked[asked["denominator"].fillna("") != ""]
    keys = dict.fromkeys(zip(*(shares[c].astype(str) for c in ("taxon", "quantity", "denominator")), strict=True))
    for taxon, quantity, denominator in keys:
        mine = dishes[(dishes["taxon"] == taxon) & (dishes["quantity"] == quantity)
                      & (dishes["denominator"] == denominator)]
        yield _between_runs(mine, (taxon, quantity, denominator), warm, first, confidence)


def _between_runs(dishes, key, warm, first, confidence):
    taxon, quantity, denominator = key
    runs = {**dict(zip(warm.environments, warm.runs, strict=True)), **dict(zip(first.environments, first.runs, strict=True))}
    here = dishes[dishes["environment"].isin(list(runs))]
    here = here.assign(run=here["environment"].map(runs), warm=here["environment"].isin(warm.environments))
    kept = here[here["treatment"].isin(_in_every_run(here))]
    common = {
        "of": MappingProxyType({"taxon": taxon, "environment": warm.name}), "scale": "difference", "unit": UNITS[WARMTH],
        "confidence": confidence, "denominator": denominator, "rung": str(Rung.INCUBATOR_RUN),
        "n_units": kept.groupby("warm")["run"].nunique().sum(), "n_seeds": round(kept["n"].sum()),
        "n_batches": kept.groupby("treatment")["batch"].nunique().sum(),
    }  # fmt: skip
    says = f"{quantity.capitalize()} at {warm.says} less {first.says}, mean of {', '.join(_in_every_run(here))}."
    by = kept.assign(share=kept["k"] / kept["n"]).groupby(["warm", "run", "treatment"])["share"].mean()
    of_run = by.groupby(["warm", "run"]).mean().reset_index()
    sizes = of_run.groupby("warm").size()
    means = value_means.of_values(of_run["warm"].map({True: "warm", False: "first"}), of_run["share"]) \
        if sizes.get(True, 0) > 1 and sizes.get(False, 0) > 1 else None
    if means is None:
        return Estimate(WARMTH, value=np.nan, verdict=str(Verdict.NOT_JUDGED), reason=f"{says} {ONE_RUN}", **common)
    value, lower, upper = (100 * x for x in means.difference("warm", "first", t_quantile(confidence, means.df)))
    return Estimate(WARMTH, value=value, lower=lower, upper=upper, df=means.df, reason=says, **common)


def _in_every_run(here):
    """Treatments that stood in every run of both temperatures, sorted."""
    runs = here.groupby(["warm", "run"]).ngroups
    return sorted(name for name, part in here.groupby("treatment") if part.groupby(["warm", "run"]).ngroups == runs)
