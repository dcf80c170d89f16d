"""A power curve of 20 plot numbers from 1,000 made-up trials each, beside a loop of statsmodels over the same trials.

Both run on one core and are timed by its seconds, since the loop is too long to wait for a quiet minute.
"""

import numpy as np
import timing

SIZES = range(4, 24)
TRIALS, SEEDS, TIMES = 1000, 25, 25
Z = 1.96


def loop(api, did, blocks):
    """(share of trials that show a difference, averaged shares (trials, arms)), one model a trial."""
    from scipy import stats

    trials, arms, _ = did.shape
    arm = np.repeat(np.arange(arms), blocks)
    block = np.tile(np.eye(blocks), (arms, 1))
    design = np.column_stack([(arm[:, None] == np.arange(1, arms)).astype(float), block])
    family, shown, shares = api.families.Binomial(), 0, np.empty((trials, arms))
    weights = np.full(arm.size, float(SEEDS))
    for nth in range(trials):
        found = api.GLM(did[nth].ravel() / SEEDS, design, family, var_weights=weights).fit(scale="X2")
        error = found.bse[0] * np.sqrt(max(found.scale, 1.0) / found.scale)
        shown += found.params[0] + stats.t.ppf(0.975, found.df_resid) * error < 0
        shares[nth] = found.fittedvalues.reshape(arms, blocks).mean(axis=1)
    return shown / trials, shares


def run():
    try:
        import statsmodels.api as api
    except ImportError:
        return {"name": "Simulated power", "skipped": "statsmodels is not installed (it comes with palea[test])"}
    from palea.calc.stats import simulated_power

    trial = simulated_power.Trial(0.50, 0.41, (0.45,), seeds=SEEDS, rho=0.03, block_sd=0.3, blocked=True)

    def ours():
        return simulated_power.power(trial, SIZES, trials=TRIALS, seed=1)

    ours_s, mine = timing.core_seconds(ours, runs=5)
    did = simulated_power.draw(trial, SIZES[-1], TRIALS, 1)
    peer_s, peers = timing.core_seconds(lambda: [loop(api, did[:, :, :size], size) for size in SIZES], runs=1)
    theirs = np.array([power for power, _ in peers])
    fits = [simulated_power.analysed(did[:, :, :size], SEEDS, blocked=True).shares for size in SIZES]
    off = max(np.abs(fit - shares).max() for fit, (_, shares) in zip(fits, peers, strict=True))
    apart = np.abs(mine - theirs)
    chance = Z * np.sqrt(np.maximum(theirs * (1 - theirs), 1e-4) / TRIALS)
    ratio = peer_s / ours_s
    return {
        "name": f"Power curve of {len(SIZES)} x {TRIALS} trials", "ours_s": ours_s, "peer_s": peer_s, "ratio": ratio,
        "wanted": f"at least {TIMES} times as fast", "met": bool(ratio >= TIMES and (apart <= chance).all() and off < 1e-6),
        "note": f"peer: one statsmodels model a trial, on the same trials. shares differ by {off:.0e} at most; power "
        f"{mine[0]:.2f} to {mine[-1]:.2f}, apart by {100 * apart.max():.1f} points at most (chance: {100 * chance.max():.1f}): "
        "ours is a score interval of shares, theirs one on the logit scale",
    }  # fmt: skip
