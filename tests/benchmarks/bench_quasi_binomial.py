"""Quasi-binomial fit of dishes beside statsmodels: no slower than its logit model with Pearson's dispersion."""

import numpy as np
from timing import best_of


def dishes(treatments=12, each=16, seeds=25):
    """Design, counts and sizes of made-up dishes, a coefficient a treatment."""
    chance = np.random.default_rng(7)
    design = np.kron(np.eye(treatments), np.ones((each, 1)))
    k = chance.binomial(seeds, design @ chance.uniform(0.2, 0.8, treatments))
    return design, k.astype(float), np.full(k.size, float(seeds))


def run() -> dict:
    """Seconds of both on the same dishes, and how much of the peer's time ours takes."""
    try:
        import statsmodels.api as api
    except ImportError:
        return {"name": "quasi-binomial fit", "skipped": "statsmodels is not installed (it comes with palea[test])"}
    from palea.calc.stats import quasi_binomial

    design, k, n = dishes()
    family = api.families.Binomial()

    def peer():
        return api.GLM(k / n, design, family, var_weights=n).fit(scale="X2")

    ours_s, peer_s = best_of(lambda: quasi_binomial.fit(design, k, n)), best_of(peer)
    off = np.abs(quasi_binomial.fit(design, k, n).standard_errors / peer().bse - 1).max()
    return {
        "name": f"quasi-binomial fit of {k.size} dishes", "ours_s": ours_s, "peer_s": peer_s,
        "ratio": ours_s / peer_s, "wanted": 1.0, "met": bool(ours_s <= peer_s and off < 1e-6),
        "note": f"standard errors differ by {off:.0e} at most",
    }
