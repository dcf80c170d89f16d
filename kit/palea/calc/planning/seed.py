"""How much seed a plan takes from each lot, whether the lot holds it, and the largest plan that fits.

The keep-sample of a lot is never planned away.
"""

from types import MappingProxyType

import numpy as np
import pandas as pd

from palea.calc.results import Estimate, Refusal, Values
from palea.errors import UnfitValue

NEEDED, LEFT, FITS = "seed needed", "seed left", "share of the plan that fits"
METHOD = (
    "Seeds of all units, divided by the clean seeds that a received seed unit gives, times the mass of a received unit; "
    "what each batch takes besides is added once a batch."
)
DEFAULTS = MappingProxyType({"recovery": 1.0, "build_up": 0.0, "batches": 1.0, "batch_extra_g": 0.0})


def clean_per_received(recovery, filled_before=1.0, filled_after=1.0):
    """Clean seed units that one received unit gives: r f0 / f1.

    recovery : r, filled seeds that come through cleaning, of the filled ones that went in.  filled_before, filled_after
    : shares of units that are filled; the clean lot still holds some empty ones. All shares 0 to 1; shapes broadcast.
    Source: common practice, no source (mass balance of filled seed).

    >>> float(clean_per_received(0.90, 0.84, 0.97).round(4))
    0.7794
    """
    return np.asarray(recovery, float) * filled_before / filled_after


def grams(seed_units, thousand_g):
    """Mass of seed units [g] from their thousand-seed weight [g].

    >>> float(grams(14_360, 2.7).round(1))
    38.8
    """
    return np.asarray(seed_units, float) * thousand_g / 1000


def seed_needed(needs, lots, spare=0.0):
    """Seed that the whole plan takes from each received lot, against what it holds -> Values, or Refusal.

    needs : frame, one row an arm of a trial: lot (received lot it is made from), trial, treatment, units, seeds (seed
    units a unit), received_g (thousand-seed weight as received [g]). Optional: recovery (clean units a received unit,
    see `clean_per_received`; 1: sown as received), clean_g (thousand-seed weight when clean [g]; else received_g),
    build_up (coat on bare seed [%]), batches, batch_extra_g (received seed a batch takes besides [g]).
    lots : frame, one row a lot: lot, held_g, keep_g (keep-sample; blank: none), taxon (optional).
    spare : share added to all seeds, as 0.1 for a tenth.
    Estimates a lot: seed needed [g], seed left after it and the keep-sample [g] (below 0: short), and where it is short
    the share of the plan that fits [%], units of every arm cut alike. `units` holds the rows of needs with seed_units,
    from_lot_g, a_batch_g (received), bare_g, product_g, a_unit_g (product) and fitting_units (whole units of the arm).
    Refusal where nothing is asked. A lot without a mass is told and not judged.
    Raises UnfitValue for a negative number, or a recovery that is not above 0.
    Source: common practice, no source (ledger of seed).
    """
    if needs.empty:
        return Refusal(quantity=NEEDED, missing="No unit is planned.", remedy="Say how many dishes, plots or rows.")
    rows = _rows(needs, spare)
    held = lots.assign(keep_g=lots["keep_g"].fillna(0.0)).set_index("lot") if len(lots) else lots
    parts = [_lot(name, part, held) for name, part in rows.groupby("lot", sort=False)]
    units = rows.assign(fitting_units=_fitting(rows, {name: share for name, share, *_ in parts}))
    told = [_told(name, units[units["lot"] == name], share, *rest) for name, share, _, rest in parts]
    return Values(
        units=units, method=METHOD, estimates=tuple(e for _, _, estimates, _ in parts for e in estimates),
        assumptions=(f"{spare:.0%} more seed than sown is taken as spare.",) if spare else (),
        warnings=tuple(filter(None, told)),
    )  # fmt: skip


def _rows(needs, spare):
    rows = needs.reset_index(drop=True).copy()
    for name, default in DEFAULTS.items():
        rows[name] = rows[name].fillna(default).astype(float) if name in rows else default
    clean = rows["clean_g"] if "clean_g" in rows else pd.Series(np.nan, rows.index)
    rows["clean_g"] = clean.astype(float).fillna(rows["received_g"])
    for name in ("units", "seeds", "received_g", "build_up", "batches", "batch_extra_g"):
        _refuse(rows, name, rows[name] < 0, "0 or above")
    _refuse(rows, "recovery", ~(rows["recovery"] > 0), "above 0")
    sown = rows["units"].astype(float) * rows["seeds"].astype(float) * (1 + spare)
    bare = grams(sown, rows["clean_g"])
    received = grams(sown / rows["recovery"], rows["received_g"]) + rows["batches"] * rows["batch_extra_g"]
    product = bare * (1 + rows["build_up"] / 100)
    with np.errstate(divide="ignore", invalid="ignore"):
        return rows.assign(
            seed_units=sown, from_lot_g=received, a_batch_g=received / rows["batches"], bare_g=bare, product_g=product,
            a_unit_g=np.where(rows["units"] > 0, product / rows["units"], 0.0),
        )  # fmt: skip


def _refuse(rows, name, bad, allowed):
    if bad.any():
        row = rows[bad].iloc[0]
        msg = f"{name} of {row.get('treatment', 'an arm')} is {row[name]:g}; allowed is {allowed}."
        raise UnfitValue(msg)


def _lot(name, part, held):
    """(lot, share of the plan that fits, estimates, what is there: held, kept)."""
    needed = float(part["from_lot_g"].sum())
    own = held.loc[name] if len(held) and name in held.index else pd.Series({"held_g": np.nan, "keep_g": 0.0})
    there, kept = float(own["held_g"]), float(own["keep_g"])
    of = {"lot": str(name)}
    if "taxon" in own:
        of = {"taxon": str(own["taxon"])} | of
    left, fixed = there - kept - needed, float((part["batches"] * part["batch_extra_g"]).sum())
    share = 1.0 if left >= -1e-9 else max((there - kept - fixed) / max(needed - fixed, 1e-12), 0.0)
    behind = {"unit": "g", "n_units": int(part["units"].sum()), "n_seeds": round(float(part["seed_units"].sum()))}
    unknown = "" if np.isfinite(there) else "What this lot holds is not known: weigh it."
    found = [
        Estimate(NEEDED, MappingProxyType(of), needed, **behind),
        Estimate(LEFT, MappingProxyType(of), left, reason=unknown, **behind),
    ]
    if share < 1:
        found.append(Estimate(FITS, MappingProxyType(of), 100 * share, **behind | {"unit": "%"}))
    return name, share, found, (there, kept)


def _fitting(rows, share):
    """Whole units of each arm in the largest plan that fits."""
    parts = rows["lot"].map(share).fillna(0.0).to_numpy(float)
    return np.floor(rows["units"].to_numpy(float) * parts + 1e-9).astype(int)


def _told(name, part, share, there, kept):
    """"The plan takes 214 g; the lot holds 180 g. Largest plan that fits: 10 dishes."."""
    if not np.isfinite(there):
        return f"{name}: what this lot holds is not known, so nobody can say whether the plan fits. Weigh it."
    if share >= 1:
        return ""
    keep = f", of which {kept:.3g} g are the keep-sample" if kept else ""
    fits = sorted(set(part["fitting_units"]))
    if fits[-1] == 0:
        largest = "No unit can be sown from it."
    else:
        largest = f"Largest plan that fits: {' to '.join(map(str, dict.fromkeys((fits[0], fits[-1]))))} units an arm."
    return f"The plan takes {part['from_lot_g'].sum():.4g} g of {name}; the lot holds {there:.4g} g{keep}. {largest}"
