"""Stages that seed passes one after another, each measured on units of its own, as one chain with its uncertainty.

A replicate draws the units of every stage anew, independently of the other stages, so what is made of the chain (a
share of sown seed, a cost) carries the uncertainty of all of them.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy import special

from palea.calc.stats.chance import stream, uniforms
from palea.calc.stats.resampling import dish_weights, percentile_interval, strata
from palea.calc.terms import Rung
from palea.errors import UnfitValue

KEYS = ("taxon", "environment", "treatment")


@dataclass(frozen=True)
class Chain:
    """One treatment's way from sown units to the last stage.

    key : taxon, environment, treatment.  stages : names in order.  shares : (stages,) of sown units, 0 to 1.
    drawn : (replicates, stages) the same in every replicate.  df : (stages,) of what was drawn up to there.
    units, seeds, batches : (stages,) behind the stage alone.  thin : stages with one sample, or with none or all lost.
    rungs : what a unit of each stage is.
    """

    key: dict
    stages: tuple[str, ...]
    shares: np.ndarray
    drawn: np.ndarray = field(repr=False)
    df: np.ndarray
    units: np.ndarray
    seeds: np.ndarray
    batches: np.ndarray
    thin: tuple[str, ...] = ()
    rungs: tuple[str, ...] = ()

    def interval(self, stage, confidence):
        """(share, lower, upper) of sown units that pass the stage at this position."""
        low, high = percentile_interval(self.drawn[:, stage], confidence, self.df[stage])
        return float(self.shares[stage]), low, high

    def step(self, stage):
        """(share, drawn) of those that reached the stage before: one, where it is the first, of sown units."""
        if stage == 0:
            return float(self.shares[0]), self.drawn[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            return (
                float(np.divide(self.shares[stage], self.shares[stage - 1])),
                self.drawn[:, stage] / self.drawn[:, stage - 1],
            )


def chains(passed, replicates=999, seed=1):
    """{(taxon, environment, treatment): Chain}, in the order of the rows.

    passed : frame, one row a unit and stage: taxon, treatment, environment (optional), stage, unit, batch (optional),
    entered, passed (counts), and optional: rung (what the unit is; dish), of (the stage whose seeds were counted as
    entered, "" for sown units; where the column is missing, the stage before). Stages keep the order in which they first appear.
    A share is the sum passed over the sum entered, times the share of sown units that reached what it is of. One more
    living than entered (a later stage above an earlier one) stays as it was measured.
    A stage with one unit, or in which none or all passed, cannot be drawn: its seeds are taken as independent there
    (Jeffreys' beta distribution).
    Raises UnfitValue for passed outside 0 to entered, and for a stage that is of one that comes later or is not there.
    Source: Rao & Wu 1988, J. Am. Stat. Assoc. 83:231 (resampling); Brown, Cai & DasGupta 2001, Stat. Sci. 16:101 (beta).
    """
    rows = passed.dropna(subset=["entered", "passed"])
    rows = rows[rows["entered"] > 0]
    bad = (rows["passed"] < 0) | (rows["passed"] > rows["entered"])
    if bad.any():
        first = rows[bad].iloc[0]
        msg = f"{first['unit']}, {first['stage']}: {first['passed']:g} passed of {first['entered']:g} entered. Correct it."
        raise UnfitValue(msg)
    rows = rows.assign(**{name: rows[name].fillna("") if name in rows else "" for name in ("environment", "batch")})
    stages = list(dict.fromkeys(rows["stage"]))
    groups = rows.groupby(list(KEYS), sort=False)
    return {tuple(map(str, key)): _chain(key, part, stages, replicates, seed) for key, part in groups}


def _chain(key, part, stages, replicates, seed):
    named = dict(zip(KEYS, map(str, key), strict=True))
    own = [stage for stage in stages if (part["stage"] == stage).any()]
    shares, drawn, spread, thin, behind = [], [], [], [], []
    reached = {"": (1.0, np.ones(replicates), {})}
    for at, stage in enumerate(own):
        rows = part[part["stage"] == stage]
        base = _base(rows, own, at)
        share, draws, df, is_thin = _stage(rows, replicates, stream(seed, "chain", *named.values(), stage))
        before, before_drawn, parts = reached[base]
        parts = parts | {stage: (float(np.var(np.log(np.maximum(draws, 1e-12)))), df)}
        reached[stage] = (before * share, before_drawn * draws, parts)
        shares.append(before * share)
        drawn.append(before_drawn * draws)
        spread.append(_satterthwaite(parts.values()))
        thin += [stage] * is_thin
        behind.append((rows["unit"].nunique(), rows["entered"].sum(), rows["batch"].nunique()))
    units, seeds, batches = np.array(behind).T
    return Chain(
        named, tuple(own), np.array(shares), np.array(drawn).T, np.array(spread), units.astype(int), seeds,
        batches.astype(int), tuple(thin), tuple(_rung(part, stage) for stage in own),
    )  # fmt: skip


def _rung(part, stage):
    """What a unit of this stage is."""
    return str(part.loc[part["stage"] == stage, "rung"].iloc[0]) if "rung" in part else str(Rung.DISH)


def _base(rows, own, at):
    """The stage that these counts are of."""
    if "of" not in rows:
        return own[at - 1] if at else ""
    base = rows["of"].fillna("").iloc[0]
    if rows["of"].fillna("").ne(base).any() or base not in ("", *own[:at]):
        msg = (
            f"Stage {own[at]} is counted of “{base}”; allowed is one stage before it ({', '.join(own[:at]) or 'none'}), "
            "or a blank for sown units."
        )
        raise UnfitValue(msg)
    return base


def _stage(rows, replicates, source):
    """(share, drawn, df, thin) of one stage alone."""
    by = rows.groupby("unit", sort=True).agg({"entered": "sum", "passed": "sum", "batch": "first"})
    entered, did = by["entered"].to_numpy(float), by["passed"].to_numpy(float)
    total, k = entered.sum(), did.sum()
    if len(by) < 2 or k in (0, total):
        draws = special.betaincinv(k + 0.5, total - k + 0.5, uniforms(source, replicates))
        return k / total, draws, np.inf, True
    batch = by["batch"].to_numpy(str)
    weights = dish_weights(batch, replicates, source)
    return k / total, weights @ did / (weights @ entered), float(len(by) - np.unique(strata(batch)).size), False


def _satterthwaite(parts):
    """Degrees of freedom of a sum of log shares: (sum v)^2 / sum (v^2 / df); inf where nothing was estimated."""
    v, df = np.array([part[0] for part in parts]), np.array([part[1] for part in parts])
    below = np.sum(v**2 / df)
    return float(v.sum() ** 2 / below) if below > 0 else np.inf
