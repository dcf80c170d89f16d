"""Treated and untreated seed in one bag: what it establishes in good and bad years, and what it keeps in reserve.

There is never one best mixture: one season asks for the larger mean, many seasons for the larger geometric mean, and a
stated reserve for a share that stays in the ground.
"""

from types import MappingProxyType

import numpy as np
import pandas as pd
from scipy import optimize

from palea.calc.results import Estimate, Refusal, Values
from palea.errors import UnfitValue

SHARE = "share held back"
MEAN, LONG_RUN, KEPT = "established in the mean season", "established in the long run", "kept in reserve"
GRAMS = "mass in the bag"
METHOD = (
    "Share w of the second portion. Mean season: chances times what establishes. Long run: geometric mean over seasons, "
    "exp(sum of chance x log), what a line of sowings grows by; 0 where a season leaves nothing. Reserve: viable seed "
    "still waiting, weighted by w."
)
STEPS = 101


def season_mean(weights, shares, chances):
    """Mean over seasons of what a mixture establishes.

    weights : (..., portions) summing to 1.  shares : (seasons, portions) established of viable seed.  chances :
    (seasons,) summing to 1. Returns (...).
    """
    return np.asarray(weights, float) @ np.asarray(shares, float).T @ np.asarray(chances, float)


def long_run(weights, shares, chances):
    """Geometric mean over seasons of what a mixture establishes; 0 where a possible season leaves nothing.

    Arguments as in `season_mean`. Source: Cohen 1966, J. Theor. Biol. 12:119; Seger & Brockmann 1987, Oxf. Surv. Evol.
    Biol. 4:182 (geometric-mean fitness).

    >>> float((100 * long_run([0.5, 0.5], [[0.10, 0.085], [0.01, 0.0595]], [0.9, 0.1])).round(2))
    8.39
    """
    each = np.asarray(weights, float) @ np.asarray(shares, float).T
    chances = np.asarray(chances, float)
    with np.errstate(divide="ignore"):
        logs = np.log(np.where(chances > 0, each, 1.0))
    return np.exp(logs @ chances)


def best_share(shares, chances, *, of=long_run):
    """The share w of the second of two portions at which `of` is largest, 0 to 1.

    The geometric mean has one top (its log is concave in w); the mean season is a line, so its best is 0 or 1.

    >>> round(best_share([[0.10, 0.085], [0.01, 0.0595]], [0.9, 0.1]), 3)
    0.485
    """

    def short(w):
        return -float(of(np.array([1 - w, w]), shares, chances))

    inner = float(optimize.minimize_scalar(short, bounds=(0, 1), method="bounded", options={"xatol": 1e-12}).x)
    return min((0.0, 1.0, inner), key=short)


def share_for_reserve(kept, waiting_first, waiting_second):
    """The least share w of the second portion with which `kept` of viable seed still waits; nan where none does.

    All 0 to 1. Where the first portion keeps enough, 0. Source: common practice, no source (a weighted mean).

    >>> float(share_for_reserve(0.47, 0.30, 0.64).round(3))
    0.5
    """
    need, gain = np.asarray(kept, float) - waiting_first, np.asarray(waiting_second, float) - waiting_first
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(need <= 0, 0.0, np.where(gain > 0, need / gain, np.nan))
    return np.where(share <= 1 + 1e-12, np.minimum(share, 1.0), np.nan)


def bag(weights, viable_seeds, viable, thousand_g, build_up=0.0):
    """Grams of each portion for a bag with so many viable seeds.

    weights : (portions,) shares of viable seed.  viable : (portions,) viable seeds a unit, 0 to 1, > 0.
    thousand_g : (portions,) bare thousand-seed weight [g].  build_up : coat on bare seed [%].
    Source: common practice, no source.

    >>> bag([0.5, 0.5], 10_000, [0.9, 0.5], [0.9, 1.45]).round(2).tolist()
    [5.0, 14.5]
    """
    units = np.asarray(weights, float) * viable_seeds / np.asarray(viable, float)
    return units * np.asarray(thousand_g, float) * (1 + np.asarray(build_up, float) / 100) / 1000


def mixture(seasons, portions, keep=0.0, viable_seeds=10_000, grid=STEPS):
    """What a mixture of two portions establishes and keeps, for three aims, and its bag in grams -> Values, or Refusal.

    seasons : frame, one row a kind of season and portion: season, chance (the same in both rows), portion, established
    [% of viable seed].
    portions : frame, two rows, the first sown in full where nothing is held back: portion, and optional waiting [% of
    viable], viable [% of units], thousand_g, build_up [%]; taxon optional.
    keep : reserve that must stay [% of viable].  viable_seeds : in the bag.  grid : points of the course over w.
    Estimates for each aim (one season, the long run, the reserve): share held back [%], mean season and long run
    [% established of viable] and reserve; for the last aim, else the long run, grams of each portion (`treatment`).
    `units` holds the course: aim "", w and the same quantities. Refusal where there are not two portions, or a season
    lacks one. Raises UnfitValue for chances that do not sum to 1 or shares outside 0 to 100 %.
    Source: Cohen 1966, J. Theor. Biol. 12:119 (geometric mean over seasons).
    """
    names = portions["portion"].astype(str).tolist()
    table = seasons.pivot_table(index="season", columns="portion", values="established", sort=False, dropna=False)
    if len(names) != 2 or not set(names) <= set(table.columns) or table[names].isna().any(axis=None) or table.empty:
        return Refusal(
            quantity=SHARE, missing="A mixture needs two portions, and what each establishes in every kind of season.",
            remedy="Enter established shares for both portions in each kind of season.",
        )  # fmt: skip
    chances, shares = _checked(seasons, table, names)
    waiting = _column(portions, "waiting") / 100
    aims = _aims(shares, chances, waiting, keep / 100)
    estimates = [e for aim, w in aims.items() for e in _of_aim(aim, w, shares, chances, waiting, portions)]
    last = [w for w in aims.values() if np.isfinite(w)][-1]
    return Values(
        units=_course(shares, chances, waiting, grid), method=METHOD,
        estimates=(*estimates, *_grams(portions, last, viable_seeds)),
        assumptions=(
            "Chances of good and bad seasons are the reader's own; seasons do not depend on each other.",
            "A seed of one portion does as well beside the other as alone.",
        ),
        warnings=_doubts(aims, waiting, keep),
    )  # fmt: skip


AIMS = ("one season", "the long run", "the reserve")


def _checked(seasons, table, names):
    chances = seasons.groupby("season", sort=False)["chance"].agg(["min", "max"]).reindex(table.index)
    even = (chances["min"] == chances["max"]).all() and (chances["min"] >= 0).all()
    if not even or abs(chances["min"].sum() - 1) > 1e-9:
        msg = f"The chances of seasons sum to {chances['min'].sum():g}; they must be 0 or above and sum to 1."
        raise UnfitValue(msg)
    shares = table[names].to_numpy(float) / 100
    if not ((shares >= 0) & (shares <= 1)).all():
        msg = f"established is {100 * shares.max():g} or {100 * shares.min():g} %; allowed is 0 to 100."
        raise UnfitValue(msg)
    return chances["min"].to_numpy(float), shares


def _column(frame, name):
    return frame[name].to_numpy(float, na_value=np.nan) if name in frame else np.full(len(frame), np.nan)


def _aims(shares, chances, waiting, keep):
    """{aim: w}, the reserve only where it was asked for."""
    found = [best_share(shares, chances, of=season_mean), best_share(shares, chances)]
    if keep > 0:
        found.append(float(share_for_reserve(keep, *waiting)))
    return dict(zip(AIMS, found, strict=False))


def _of_aim(aim, w, shares, chances, waiting, portions):
    of = MappingProxyType({"taxon": str(portions["taxon"].iloc[0])} if "taxon" in portions else {})
    if np.isnan(w):
        yield Estimate(SHARE, of, np.nan, verdict="not judged", reason=f"Best for {aim}: no mixture keeps that much.")
        return
    weights = np.array([1 - w, w])
    told = {
        SHARE: w, MEAN: season_mean(weights, shares, chances), LONG_RUN: long_run(weights, shares, chances),
        KEPT: weights @ waiting,
    }
    for quantity, value in told.items():
        if np.isfinite(value):
            yield Estimate(quantity, of, 100 * float(value), reason=f"Best for {aim}.")


def _course(shares, chances, waiting, grid):
    w = np.linspace(0, 1, grid)
    weights = np.column_stack([1 - w, w])
    return pd.DataFrame({
        SHARE: 100 * w, MEAN: 100 * season_mean(weights, shares, chances), LONG_RUN: 100 * long_run(weights, shares, chances),
        KEPT: 100 * weights @ waiting,
    })  # fmt: skip


def _grams(portions, w, viable_seeds):
    viable, thousand = _column(portions, "viable") / 100, _column(portions, "thousand_g")
    build_up = np.nan_to_num(_column(portions, "build_up"))
    if np.isnan(viable).any() or np.isnan(thousand).any():
        return
    if not ((viable > 0) & (thousand > 0)).all():
        msg = "viable and thousand_g of both portions must be above 0."
        raise UnfitValue(msg)
    weights = np.array([1 - w, w])
    mass = bag(weights, viable_seeds, viable, thousand, build_up)
    for at, name in enumerate(portions["portion"].astype(str)):
        of = MappingProxyType({"treatment": name})
        seeds = round(weights[at] * viable_seeds / viable[at])
        yield Estimate(GRAMS, of, float(mass[at]), unit="g", n_seeds=seeds)


def _doubts(aims, waiting, keep):
    told = []
    if abs(aims[AIMS[0]] - aims[AIMS[1]]) > 0.01:
        told.append("One season and the long run ask for different mixtures; which of them counts is not for numbers to say.")
    if keep > 0 and np.isnan(waiting).any():
        told.append("How much seed still waits is not known for both portions, so the reserve cannot be told.")
    return tuple(told)
