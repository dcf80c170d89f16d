"""Dose curves, cost of an established plant, rows of a seeder, and evidence of several trials put together."""

import numpy as np
import pandas as pd
from study import Limit, Study, alike, grid, inside, printed

from palea.calc import simulated
from palea.calc.decision.cost import cost
from palea.calc.germination.dose import dose
from palea.calc.stats import exact_rates, pooling, value_means
from palea.calc.stats.proportions import t_quantile

DOSES = (0.0, 50.0, 150.0, 500.0, 1500.0, 5000.0)
ARROW = pd.StringDtype("pyarrow")


def _dosed(stream, cell, many):
    low, high, half, steep = cell["low"], cell["high"], 300.0, 1.8
    shares = [high + (low - high) / (1 + (x / half) ** steep) for x in DOSES]
    rows = [(f"A{lot}", f"D{x:g}", f"A{lot}-{x:g}-{i}", k) for lot in range(many) for x, p in zip(DOSES, shares, strict=True)
            for i, k in enumerate(alike(stream, p, cell["rho"], 25, cell["dishes"]))]
    frame = pd.DataFrame(rows, columns=["taxon", "treatment", "unit", "k"])
    frame = frame.assign(environment="E", batch=frame["treatment"], quantity="germinated", denominator="filled", n=25.0)
    series = pd.DataFrame([("D0", "X", f"D{x:g}", x, "mg/kg") for x in DOSES],
                          columns=["series", "active", "treatment", "dose", "dose_unit"])
    found = dose(frame.astype({c: ARROW for c in frame if c not in ("k", "n")}),
                 series.astype({c: ARROW for c in series if c != "dose"}))
    held = {(e.of["taxon"], e.quantity): e for e in getattr(found, "estimates", ())}
    truth = {"dose for half the effect": half, "response without the active": 100 * low}
    return [{f"covers: {q}": _held(held.get((f"A{i}", q)), value) for q, value in truth.items()} for i in range(many)]


def _held(estimate, truth):
    return None if estimate is None else inside(truth, estimate.lower, estimate.upper)


def _paid(stream, cell, many):
    """Germination on dishes, emergence and survival on plots; a plant costs seed over what establishes."""
    stages = (("germinated", "dish", 25, 0.7, ""), ("emerged", "plot", 100, cell["emerges"], ""),
              ("established", "plot", 8, cell["lives"], "emerged"))
    rows = [(f"A{i}", stage, f"{stage}{u}", rung, of, float(n), k) for i in range(many) for stage, rung, n, p, of in stages
            for u, k in enumerate(alike(stream, p, cell["rho"], n, cell["units"]))]
    passed = pd.DataFrame(rows, columns=["taxon", "stage", "unit", "rung", "of", "entered", "passed"])
    passed = passed.assign(environment="S", treatment="T", batch="T-1")
    prices = pd.DataFrame({"taxon": [f"A{i}" for i in range(many)], "treatment": "T", "price": 100.0, "received_g": 2.0,
                           "campaign": 300.0})
    truth = 100 * 2.0 / 1e6 / (cell["emerges"] * cell["lives"]) + 300 / 5 / 20_000
    held = {e.of["taxon"]: e for e in cost(passed, prices, replicates=499).groups if e.quantity == "cost of a plant"}
    return [{"covers: cost of a plant": _held(held[f"A{i}"], truth)} for i in range(many)]


def _rows(stream, cell):
    """Row variation of runs of 20 metres: counts of a negative binomial, runs differ by 5 %."""
    logs, names = [], []
    for name, cv in (("a", cell["cv"] * cell["ratio"]), ("b", cell["cv"])):
        for _ in range(cell["runs"]):
            own = cv * np.exp(stream.normal(0, 0.05))
            size = 1 / max(own**2 - 1 / 30, 1e-9)
            counts = stream.negative_binomial(size, size / (size + 30), 20)
            logs.append(np.log(counts.std(ddof=1) / counts.mean()))
            names.append(name)
    means = value_means.of_values(np.array(names), np.array(logs))
    found = means.difference("a", "b", t_quantile(0.95, means.df))[1:]
    told = {"covers: ratio of row variation": inside(np.log(cell["ratio"]), *found)}
    return told | ({"errs": not found[0] <= 0 <= found[1]} if cell["ratio"] == 1 else {})


def _stops(stream, cell):
    """Stops per 100 m, and their ratio."""
    a, b = stream.poisson(cell["stops"] * np.array([cell["ratio"], 1.0]))
    told = {"covers: stops per 100 m": inside(cell["stops"], *map(float, exact_rates.rate_interval(b, 1.0)))}
    if a + b:
        told["covers: ratio of stops"] = inside(cell["ratio"], *map(float, exact_rates.rate_ratio(a, 1.0, b, 1.0)[1:]))
    return told


def _pooled(stream, cell):
    variances = stream.uniform(0.5, 2.0, cell["trials"]) * cell["typical"]
    effects = stream.normal(1.0, np.sqrt(cell["between"] + variances))
    found = pooling.pool(effects, variances)
    return {"covers: pooled effect": inside(1.0, found.lower, found.upper)}


DOSE = Study(
    "dose", "Dose for half the effect, from six doses in dishes of 25 seeds",
    "Log-logistic with half dose 300 and steepness 1.8, response from low to high; seeds of a dish correlated by rho. Where "
    "no response to the dose is shown there is no answer.",
    grid(dishes=(4, 8), rho=(0.0, 0.05, 0.2), low=(0.3,), high=(0.85, 0.55)), _dosed, 250, 25, (
        Limit("25 points of response against dishes that differ as with rho 0.2: only series that happen to look steep are "
              "shown to respond, and those are judged too surely.",
              lambda row: row["cell"]["rho"] == 0.2 and row["cell"]["high"] == 0.55,
              printed(simulated.LITTLE_RESPONSE, "a series")),
    ),
)
COST = Study(
    "cost", "Cost of an established plant, from emergence and survival on plots",
    "Units of every stage are drawn anew (499 draws); emergence 100 seeds and survival 8 plants a plot.",
    grid(units=(4, 8, 16), rho=(0.02, 0.1), emerges=(0.1, 0.4), lives=(0.6,)), _paid, 1000, 20,
)
ROWS = Study(
    "rows", "Evenness of the row, ratio of the variation of two materials",
    "Runs of 20 m at 30 units a metre.", grid(runs=(3, 5, 8), cv=(0.3, 0.55), ratio=(0.7, 1.0)), _rows, 2000,
)
STOPS = Study(
    "stops", "Stops of a seeder in 100 m, exact Poisson intervals",
    "Exact intervals hold at least what they say, and more where few stops are seen.",
    grid(stops=(1.0, 5.0, 20.0), ratio=(1.0, 2.0)), _stops, 2000,
    careful=simulated.CAREFUL_STOPS,
)
POOLED = Study(
    "evidence", "Effects of several trials put together",
    "Random effects, variance between trials by restricted maximum likelihood, Knapp and Hartung's interval. typical: "
    "sampling variance of a trial; between: variance between trials.",
    grid(trials=(3, 5, 10), between=(0.0, 0.5, 2.0), typical=(0.2, 1.0)), _pooled, 1000,
    careful=simulated.CAREFUL_EVIDENCE,
)
STUDIES = (DOSE, COST, ROWS, STOPS, POOLED)
