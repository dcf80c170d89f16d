"""Where seed is lost between sowing and an established plant, and where a treatment gains or loses."""

from types import MappingProxyType

import numpy as np
import pandas as pd

from palea.calc.decision.chains import KEYS, chains
from palea.calc.results import Effects, Estimate, Refusal
from palea.calc.stats.resampling import percentile_interval
from palea.calc.terms import Denominator

STEP = "step to {}"
METHOD = (
    "Each stage's share is what passed over what entered, all its units together; shares of sown units are products "
    "along the chain. Intervals: units of each stage drawn anew, stage by stage, percentiles stretched for few units. "
    "Steps of a against b are ratios; their product is the ratio of the last stage."
)
ASSUMPTIONS = ("A seed's chance at one stage does not depend on where the units of another stage were taken.",)
THIN = "One sample, or none or all passed: its seeds were taken as independent there ({})."


def losses(passed, pairs=None, confidence=0.95, replicates=999, seed=1, interval=percentile_interval):
    """Of 100 sown units, how many reach each stage, and at which stage a differs from b -> Effects, or Refusal.

    passed : see chains.chains: one row a unit and stage, with entered and passed counts.
    pairs : frame with taxon, a, b (treatments), environment optional ("": each one); None: no comparison.
    interval : how a ratio gets its ends from draws; earlier versions have another.
    Groups: each treatment's share of sown units at every stage [%], the stage being the quantity. Effects: for every
    stage the ratio a / b of the step share (quantity "step to" the stage), and last the ratio at the last stage both
    have. No verdicts: stages are described. Not judged, with the reason, where a side or a stage is missing.
    Refusal where nothing was counted.
    Source: common practice, no source (products of stage shares, as in James, Svejcar & Rinella 2011, J. Appl. Ecol.
    48:961); resampling: Rao & Wu 1988, J. Am. Stat. Assoc. 83:231.
    """
    found = chains(passed, replicates, seed)
    if not found:
        return Refusal(
            quantity="established", missing="No stage was counted.",
            remedy="Enter what entered and what passed at one stage or more.",
        )  # fmt: skip
    groups = tuple(e for chain in found.values() for e in _group(chain, confidence))
    asked = [] if pairs is None else _asked(pairs, found)
    thin = dict.fromkeys(f"{chain.key['treatment']}: {stage}" for chain in found.values() for stage in chain.thin)
    return Effects(
        units=_units(passed), method=METHOD, assumptions=ASSUMPTIONS,
        warnings=(THIN.format("; ".join(thin)),) if thin else (), groups=groups,
        effects=tuple(e for key, a, b in asked for e in _compared(key, a, b, found, confidence, interval)),
    )  # fmt: skip


def _units(passed):
    """Every unit's own share of what entered."""
    rows = passed.assign(**{name: passed[name].fillna("") if name in passed else "" for name in ("environment", "batch")})
    return pd.DataFrame({
        **{name: rows[name] for name in (*KEYS, "unit", "batch")}, "quantity": rows["stage"], "denominator": "",
        "value": 100 * rows["passed"].astype(float) / rows["entered"].astype(float),
    })  # fmt: skip


def of_group(chain):
    """What a chain is of, as in Estimate."""
    return MappingProxyType({name: value for name, value in chain.key.items() if value or name == "treatment"})


def _group(chain, confidence):
    for at, stage in enumerate(chain.stages):
        share, low, high = chain.interval(at, confidence)
        yield Estimate(
            stage, of_group(chain), 100 * share, 100 * low, 100 * high, confidence=confidence,
            denominator=str(Denominator.SOWN), df=float(chain.df[at]), n_batches=int(chain.batches[at]),
            n_units=int(chain.units[at]), n_seeds=round(float(chain.seeds[at])), rung=chain.rungs[at],
        )  # fmt: skip


def _asked(pairs, found):
    """((taxon, environment), a, b) of every pair, an environment at a time."""
    rows = pairs.assign(environment=pairs["environment"].fillna("") if "environment" in pairs else "")
    for row in rows.to_dict("records"):
        taxon = str(row["taxon"])
        places = dict.fromkeys(key[1] for key in found if key[0] == taxon)
        for place in [row["environment"]] if row["environment"] else places or [""]:
            yield (taxon, str(place)), str(row["a"]), str(row["b"])


def _compared(key, a, b, found, confidence, interval):
    of = MappingProxyType({"taxon": key[0], "environment": key[1], "a": a, "b": b})
    sides = [found.get((*key, name)) for name in (a, b)]
    absent = [name for name, side in zip((a, b), sides, strict=True) if side is None]
    if absent:
        reason = f"No stage was counted for {' and '.join(absent)}."
        yield Estimate("established", of, np.nan, scale="ratio", unit="1", verdict="not judged", reason=reason)
        return
    first, second = sides
    together = [stage for stage in first.stages if stage in second.stages]
    if first.stages[: len(together)] != second.stages[: len(together)]:
        reason = "The two sides were not counted at the same stages, so steps cannot be set against each other."
        yield Estimate(together[-1] if together else "established", of, np.nan, scale="ratio", unit="1",
                       verdict="not judged", reason=reason)
        return
    for at, stage in enumerate(together):
        (x, dx), (y, dy) = first.step(at), second.step(at)
        yield _ratio(STEP.format(stage), of, x, y, dx, dy, sides, at, confidence, interval)
    last = len(together) - 1
    ends = [(chain.shares[last], chain.drawn[:, last]) for chain in sides]
    yield _ratio(together[last], of, ends[0][0], ends[1][0], ends[0][1], ends[1][1], sides, last, confidence, interval)


def _ratio(quantity, of, x, y, drawn_x, drawn_y, sides, at, confidence, interval):
    with np.errstate(divide="ignore", invalid="ignore"):
        value, drawn = float(np.divide(x, y)), drawn_x / drawn_y
    df = min(chain.df[at] for chain in sides)
    low, high = interval(drawn, confidence, df, logged=True)
    return Estimate(
        quantity, of, value if np.isfinite(value) else np.nan, low, high, scale="ratio", confidence=confidence, unit="1",
        df=float(df), n_batches=int(sum(c.batches[at] for c in sides)), n_units=int(sum(c.units[at] for c in sides)),
        n_seeds=round(float(sum(c.seeds[at] for c in sides))), rung=sides[0].rungs[at],
        reason="" if np.isfinite(value) else "Nothing of b reached this stage, so there is no ratio.",
    )  # fmt: skip
