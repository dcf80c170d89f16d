"""How alike seeds of a dish are and how far batches differ, from dishes already counted: what the next plan rests on."""

from types import MappingProxyType

import numpy as np

from palea.calc.results import Estimate, Refusal, Values
from palea.calc.stats.proportions import checked_counts, design_effect, intraclass_correlation

RHO, BATCHES = "likeness within a dish", "spread between batches"
METHOD = (
    "Likeness: intraclass correlation of dishes of one batch, pooled over batches and treatments. Batches: variance of "
    "batch shares beyond that of their dishes, over (p q)^2, averaged over treatments with their degrees of freedom."
)
FEW = 10  # dishes, or batches, beyond one a group: with fewer the figure is little better than a guess


def batch_spread(share, units, seeds, rho):
    """Standard deviation of batches on the logit scale, at least 0; nan where no treatment has two batches.

    share, units, seeds : lists of one array a treatment: (batches,) share of each batch, dishes in it, seeds in it.
    rho : correlation of two seeds of a dish. (s^2 - mean of p q DE / n) / (p q)^2 by moments, DE at the mean dish size.
    Source: moments, as in Snedecor & Cochran 1989, Statistical Methods, ch. 13; logit by the delta method.
    """
    total, df = 0.0, 0
    for p, d, n in zip(share, units, seeds, strict=True):
        mean = np.average(p, weights=n)
        spread = mean * (1 - mean)
        if p.size < 2 or spread == 0:
            continue
        inside = np.mean(spread * design_effect(n / d, rho) / n)
        total += (p.size - 1) * (np.var(p, ddof=1) - inside) / spread**2
        df += p.size - 1
    return float(np.sqrt(max(total / df, 0.0))) if df else np.nan


def own_variances(shares):
    """Likeness in a dish and spread of batches of each species, environment and quantity -> Values, or Refusal.

    shares : as in germination.final: one row a dish, quantity and denominator: taxon, treatment, environment, batch, unit,
    quantity, denominator, k, n.
    Estimates by taxon and environment: likeness within a dish (rho), and spread between batches (standard deviation,
    logit). n_units dishes or n_batches stand behind them; the reason warns where they are few, or says what is missing.
    Refusal where nothing was counted. Raises UnfitValue where k is below 0 or above n.
    Source: Ridout, Demetrio & Firth 1999, Biometrics 55:137 (rho); Snedecor & Cochran 1989, ch. 13 (batches).
    """
    rows = shares.dropna(subset=["k", "n"])
    rows = rows[rows["n"] > 0]
    if rows.empty:
        return Refusal(
            quantity=RHO, missing="No dish was counted yet.", remedy="Take the stated default, or count a trial first.",
        )  # fmt: skip
    checked_counts(rows["k"], rows["n"])
    rows = rows.assign(batch=rows["batch"].fillna("").astype(str))
    cells = rows.groupby(["taxon", "environment", "quantity", "denominator"], sort=False)
    return Values(
        units=rows.assign(value=100 * rows["k"] / rows["n"]), method=METHOD,
        estimates=tuple(e for key, part in cells for e in _cell(key, part)),
    )  # fmt: skip


def _cell(key, part):
    taxon, environment, quantity, denominator = map(str, key)
    of = MappingProxyType({"taxon": taxon, "environment": environment})
    k, n = part["k"].to_numpy(float), part["n"].to_numpy(float)
    group = part.groupby(["treatment", "batch"], sort=False).ngroup().to_numpy()
    rho = intraclass_correlation(k, n, group)
    about = f"Of {quantity} of {denominator}."
    free = len(part) - group.max() - 1
    yield Estimate(RHO, of, rho, unit="1", n_units=len(part), reason=_reason(about, rho, free, "two dishes of one batch"))
    by = part.groupby(["treatment", "batch"], sort=False).agg(k=("k", "sum"), n=("n", "sum"), d=("unit", "nunique"))
    arms = [arm for _, arm in by.groupby("treatment", sort=False)]
    columns = [[arm[name].to_numpy(float) for arm in arms] for name in ("k", "n", "d")]
    shares = [did / seeds for did, seeds in zip(*columns[:2], strict=True)]
    spread = batch_spread(shares, columns[2], columns[1], 0.0 if np.isnan(rho) else rho)
    free = len(by) - len(arms)
    yield Estimate(
        BATCHES, of, spread, unit="1", n_batches=len(by), n_units=len(part),
        reason=_reason(about, spread, free, "two batches of one treatment"),
    )


def _reason(about, value, free, needs):
    if np.isnan(value):
        return f"{about} Not to be told: it takes {needs}, not all alike."
    return f"{about} Few stand behind it, so take it as a rough guide." if free < FEW else about
