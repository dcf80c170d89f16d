"""Stages that seed passes one after another, each measured on units of its own, as one chain with its uncertainty.

A replicate draws the units of every stage anew, independently of the other stages, so what is made of the chain (a
share of sown seed, a cost) carries the uncertainty of all of them.
"""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
import pandas as pd
from scipy import special

from palea.calc.grouped import together
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
    return {key: _chain(key, own, replicates, seed) for key, own in _counted(rows).items()}


class _Counted(NamedTuple):
    """What was counted of one stage of one way.

    entered, passed, batch : (units,) sorted by unit.  seeds, batches : how many there were.  of : names of what its counts
    are of, blank for sown units; None where that is not told.  rung : what a unit is.
    """

    entered: np.ndarray
    passed: np.ndarray
    batch: np.ndarray
    seeds: float
    batches: int
    of: tuple[str, ...] | None
    rung: str


def _counted(rows):
    """{key: {stage: _Counted}}: keys in the order of the rows, stages in that in which they first appear in any."""
    at, stages = pd.factorize(rows["stage"].to_numpy(dtype=object))
    number = rows.groupby(list(KEYS), sort=False).ngroup().to_numpy()
    named = (number >= 0) & (at >= 0)
    rows, number, at = rows[named], number[named], at[named]
    cell = number * len(stages) + at
    by = rows.groupby([cell, "unit"], sort=True)
    sums, batch = by[["entered", "passed"]].sum().to_numpy(float), by["batch"].first().to_numpy(dtype=object)
    units = by.ngroup().to_numpy()
    of = rows["of"].fillna("").to_numpy(dtype=object) if "of" in rows else None
    rung = rows["rung"].to_numpy(dtype=object) if "rung" in rows else np.full(len(rows), str(Rung.DISH), dtype=object)
    entered, batches = rows["entered"].to_numpy(float), rows["batch"].to_numpy(dtype=object)
    keys = rows[list(KEYS)].to_numpy(dtype=object)
    found = {tuple(map(str, keys[line])): {} for line in np.flatnonzero(~pd.Series(number).duplicated())}
    for lines in together(cell):
        mine = np.unique(units[lines][units[lines] >= 0])
        found[tuple(map(str, keys[lines[0]]))][stages[at[lines[0]]]] = _Counted(
            sums[mine, 0], sums[mine, 1], batch[mine].astype(str), entered[lines].sum(), len(set(batches[lines])),
            None if of is None else tuple(dict.fromkeys(of[lines])), str(rung[lines[0]]),
        )  # fmt: skip
    return found


def _chain(key, own, replicates, seed):
    named = dict(zip(KEYS, key, strict=True))
    shares, drawn, spread, thin = [], [], [], []
    reached = {"": (1.0, np.ones(replicates), {})}
    for at, (stage, counted) in enumerate(own.items()):
        share, draws, df, is_thin = _stage(counted, replicates, stream(seed, "chain", *key, stage))
        before, before_drawn, parts = reached[_base(counted, list(own), at)]
        parts = parts | {stage: (float(np.var(np.log(np.maximum(draws, 1e-12)))), df)}
        reached[stage] = (before * share, before_drawn * draws, parts)
        shares.append(before * share)
        drawn.append(before_drawn * draws)
        spread.append(_satterthwaite(parts.values()))
        thin += [stage] * is_thin
    every = own.values()
    return Chain(
        named, tuple(own), np.array(shares), np.array(drawn).T, np.array(spread), np.array([c.entered.size for c in every]),
        np.array([c.seeds for c in every]), np.array([c.batches for c in every]), tuple(thin), tuple(c.rung for c in every),
    )  # fmt: skip


def _base(counted, own, at):
    """The stage that these counts are of."""
    if counted.of is None:
        return own[at - 1] if at else ""
    base, *others = counted.of
    if others or base not in ("", *own[:at]):
        msg = (
            f"Stage {own[at]} is counted of “{base}”; allowed is one stage before it ({', '.join(own[:at]) or 'none'}), "
            "or a blank for sown units."
        )
        raise UnfitValue(msg)
    return base


def _stage(counted, replicates, source):
    """(share, drawn, df, thin) of one stage alone."""
    entered, did = counted.entered, counted.passed
    total, k = entered.sum(), did.sum()
    if len(entered) < 2 or k in (0, total):
        draws = special.betaincinv(k + 0.5, total - k + 0.5, uniforms(source, replicates))
        return k / total, draws, np.inf, True
    weights = dish_weights(counted.batch, replicates, source)
    df = float(len(entered) - np.unique(strata(counted.batch)).size)
    return k / total, weights @ did / (weights @ entered), df, False


def _satterthwaite(parts):
    """Degrees of freedom of a sum of log shares: (sum v)^2 / sum (v^2 / df); inf where nothing was estimated."""
    v, df = np.array([part[0] for part in parts]), np.array([part[1] for part in parts])
    below = np.sum(v**2 / df)
    return float(v.sum() ** 2 / below) if below > 0 else np.inf
