"""How far a coating run has come: what its steps have put on until now, and the build-up if all of it stays."""

import numpy as np

from palea.calc.checked import not_below_zero
from palea.calc.results import Estimate, Refusal, Values
from palea.calc.terms import Rung

LIQUID, POWDER, IF_ALL_STAYS = "liquid put on so far", "powder put on so far", "build-up if all stays"


def if_all_stays(solids_g, dry_seed_g):
    """Build-up [%] if nothing is lost: 100 x solids put on / dry seed put in; nan without seed.

    solids_g : dry solids of binder and filler put on [g], >= 0.  dry_seed_g : dry matter of the seed put in [g].
    Source: common practice, no source (build-up on dry matter, losses left out).

    >>> float(if_all_stays(30.0, 50.0))
    60.0
    """
    seed = np.asarray(not_below_zero(dry_seed_g, "dry_seed_g"), float)
    return 100 * np.asarray(not_below_zero(solids_g, "solids_g"), float) / np.where(seed > 0, seed, np.nan)


def so_far(runs_so_far, run="", confidence=0.95):
    """What the steps of a run have put on until now -> Values, per lot put in.

    runs_so_far : frame, one row a run: batch, lot (put in), seed_g (dry matter), liquid_g, powder_g, solids_g (nan where an
    amount or its solids are not known), moist (bool: the water content of the seed is not known, so it is taken as it lies).
    run : the batch that is asked about; "" for every one.  confidence : taken for the sake of a common call; nothing here
    is a sample. Refusal where the run has no seed or no step. Source: common practice, no source.
    """
    mine = runs_so_far[runs_so_far["batch"].eq(run)] if run else runs_so_far
    if mine.empty:
        return Refusal(quantity=IF_ALL_STAYS, missing=f"Run “{run}” has put nothing on yet." if run else "No run has a step yet.",
                       remedy="Enter the seed that went in and the first step.")  # fmt: skip
    estimates = [e for row in mine.itertuples() for e in _of(row, confidence)]
    moist, unknown = mine.loc[mine["moist"], "lot"], mine.loc[mine["solids_g"].isna(), "lot"]
    warnings = [f"{lot}: the water content of the seed is not known, so its mass is taken as dry." for lot in moist]
    warnings += [f"{lot}: an amount, or how much of a liquid is solid, is not known; so no build-up is told." for lot in unknown]
    return Values(estimates=tuple(estimates), warnings=tuple(warnings),
                  method="Sum over the steps of a run; solids of a liquid are its parts that dry on.")  # fmt: skip


def _of(row, confidence):
    of, common = {"lot": row.lot}, {"confidence": confidence, "n_batches": 1, "rung": str(Rung.BATCH)}
    yield Estimate(LIQUID, of, row.liquid_g, unit="g", **common)
    yield Estimate(POWDER, of, row.powder_g, unit="g", **common)
    yield Estimate(IF_ALL_STAYS, of, float(if_all_stays(row.solids_g, row.seed_g)), **common)
