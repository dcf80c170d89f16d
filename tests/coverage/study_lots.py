"""Lots: seed weight, purity, viability and pure live seed from replicates of the usual numbers."""

import numpy as np
import pandas as pd
from study import Limit, Study, alike, grid, inside, printed

from palea.calc import simulated
from palea.calc.lots import life, live_seed, purity, seed_weight

TSW, COUNT = 2.0, 100


def _weighed(stream, cell, many):
    rows = []
    for lot in range(many):
        masses = TSW * COUNT / 1000 * (1 + cell["cv"] / 100 * stream.normal(size=cell["groups"]))
        rows += [(f"L{lot}", i, mass) for i, mass in enumerate(masses)]
    frame = pd.DataFrame(rows, columns=["lot", "replicate", "mass_g"])
    frame = frame.assign(taxon="A", test="W", count=float(COUNT), chaffy=False)
    found = seed_weight.thousand_seed_weight(frame)
    held = {(e.quantity, e.of["lot"]): e for e in found.estimates}
    return [{"covers: thousand-seed weight": _of(held["thousand-seed weight", f"L{lot}"], TSW),
             "covers: seeds per gram": _of(held["seeds per gram", f"L{lot}"], 1000 / TSW)} for lot in range(many)]


def _of(estimate, truth):
    return inside(truth, estimate.lower, estimate.upper)


def _parts(stream, cell, many):
    """Working samples whose share of pure seed varies as a beta with standard deviation sd (in points)."""
    p, sd = cell["pure"], cell["sd"] / 100
    size = p * (1 - p) / sd**2 - 1
    pure = stream.beta(p * size, (1 - p) * size, (many, cell["samples"]))
    return pd.DataFrame({
        "taxon": "A", "lot": np.repeat([f"L{i}" for i in range(many)], cell["samples"]), "test": "P",
        "replicate": np.tile(np.arange(cell["samples"]), many), "pure_g": 5 * pure.ravel(), "other_g": 0.0,
        "inert_g": 5 * (1 - pure.ravel()), "sample_g": 5.0,
    })


def _pure(stream, cell, many):
    found = purity.purity(_parts(stream, cell, many))
    held = {e.of["lot"]: e for e in found.estimates if e.quantity == "pure seed by mass"}
    return [{"covers: purity": _of(held[f"L{i}"], 100 * cell["pure"])} for i in range(many)]


def _alive(stream, cell, many):
    """Every lot a species of its own, so that it has to do with its own spread."""
    k = np.concatenate([alike(stream, cell["p"], cell["rho"], cell["seeds"], cell["replicates"]) for _ in range(many)])
    return pd.DataFrame({
        "taxon": np.repeat([f"A{i}" for i in range(many)], cell["replicates"]),
        "lot": np.repeat([f"L{i}" for i in range(many)], cell["replicates"]), "test": "V",
        "replicate": np.tile(np.arange(cell["replicates"]), many), "quantity": "viable seed", "denominator": "", "k": k,
        "n": float(cell["seeds"]),
    })


def _viable(stream, cell, many):
    held = {each.lot: each.interval for each in life.shares_of(_alive(stream, cell, many))}
    return [{"covers: viable seed": inside(cell["p"], held[f"L{i}"].lower, held[f"L{i}"].upper)} for i in range(many)]


def _live(stream, cell, many):
    """Purity from two or four samples, viability from 4 x 50, weight from 8 groups."""
    seeds = _alive(stream, {"p": cell["p"], "rho": cell["rho"], "seeds": 50, "replicates": 4}, many)
    parts = _parts(stream, cell, many)
    masses = 0.2 * (1 + 0.03 * stream.normal(size=(many, 8)))
    groups = pd.DataFrame({"taxon": "A", "lot": np.repeat([f"L{i}" for i in range(many)], 8), "test": "W",
                           "replicate": np.tile(np.arange(8), many), "mass_g": masses.ravel(), "count": 100.0,
                           "chaffy": False})
    bags = pd.DataFrame({"taxon": [f"A{i}" for i in range(many)], "lot": [f"L{i}" for i in range(many)],
                         "mass_g": 500.0, "price": 100.0, "per_g": 1000.0, "per_pure_live": False, "currency": "EUR",
                         "established": np.nan})
    held = {(e.quantity, e.of["lot"]): e for e in live_seed.pure_live_seed(parts, seeds, groups, bags).estimates}
    live = cell["pure"] * cell["p"]
    truth = {"pure live seed": 100 * live, "live seeds per gram": live * 500, "price of 1000 live seeds": 100 / (live * 500)}
    return [{f"covers: {q}": _of(held[q, f"L{i}"], value) for q, value in truth.items()} for i in range(many)]


WEIGHT = Study(
    "seed-weight", "Thousand-seed weight from groups of 100",
    "Groups vary with the given coefficient of variation (normal). From 16 groups on, those more than two standard "
    "deviations off are left out where the coefficient lies above the limit of 4 %.",
    grid(groups=(4, 8, 16), cv=(2.0, 3.5, 8.0)), _weighed, 2000, 100,
)
PURITY = Study(
    "purity", "Purity by mass from two to four working samples",
    "The share of pure seed of a sample varies as a beta with standard deviation sd points.",
    grid(samples=(2, 4), pure=(0.85, 0.97), sd=(0.5, 2.0)), _pure, 2000, 100, (
        Limit("Near 100 % in an uneven lot shares lean to one side, which a t interval of a few samples does not know.",
              lambda row: row["cell"]["pure"] == 0.97 and row["cell"]["sd"] == 2.0, printed(simulated.LEANING, "a lot")),
    ),
)
VIABLE = Study(
    "viability", "Viable seed of a lot from replicates, the only lot of its species",
    "Seeds of a replicate correlated by rho; dispersion of the replicates of the lot, never below 1; where they differ by "
    "no more than chance the normal quantile is used.",
    grid(seeds=(50,), replicates=(2, 4, 8), rho=(0.0, 0.02, 0.1), p=(0.02, 0.3, 0.8, 0.98)), _viable, 2000, 100, (
        Limit("With two replicates how they differ cannot be known, and seeds are taken as independent. A t interval on one "
              "degree of freedom would say nothing.", lambda row: row["cell"]["replicates"] == 2, life.ALONE),
        Limit("Few seeds near 0 or 100 % that come in clusters (rho 0.1): most tests see none of them, or too few to know.",
              lambda row: row["cell"]["replicates"] > 2 and row["cell"]["p"] in (0.02, 0.98), life.FEW_SEEDS),
    ), careful=simulated.CAREFUL_LIFE,
)
LIVE = Study(
    "pure-live-seed", "Pure live seed, live seeds a gram and their price",
    "Purity from the given number of samples, viability from 4 x 50 seeds, seed weight from 8 groups (3 %), all from one "
    "lot, carried through the product.",
    grid(samples=(2, 4), pure=(0.9,), sd=(1.0,), rho=(0.0, 0.02, 0.1), p=(0.3, 0.8, 0.95)), _live, 1000, 100,
    careful=simulated.CAREFUL_LIVE,
)
STUDIES = (WEIGHT, PURITY, VIABLE, LIVE)
