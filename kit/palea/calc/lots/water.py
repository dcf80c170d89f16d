"""Water in seed and what it weighs. Water contents are shares of the moist seed (wet basis), 0 to 1, unless said."""

import numpy as np

from palea.calc.checked import above_zero, not_below_zero, share, within
from palea.calc.lots.readings import group_estimates
from palea.calc.results import Refusal, Values

WATER, WATER_DRY = "water content", "water content of dry matter"
AGREE = 0.2  # points that two tins may differ


def water_share(tin_g, moist_g, dry_g):
    """Water as a share of the moist seed: (M2 - M3) / (M2 - M1), from masses with the tin.

    tin_g, moist_g, dry_g : M1, M2, M3 [g], with M1 < M3 <= M2; broadcast; nan stays nan.
    Raises UnfitValue where the tin is not the lightest or drying added mass.
    Source: ISTA Rules ch. 9 (formula, from memory).

    >>> float(water_share(10.0, 15.0, 14.5).round(3))
    0.1
    """
    tin, moist, dry = np.broadcast_arrays(*(np.asarray(x, float) for x in (tin_g, moist_g, dry_g)))
    above_zero(dry - tin, "dry_g - tin_g")
    not_below_zero(moist - dry, "moist_g - dry_g")
    return (moist - dry) / (moist - tin)


def dry_basis(wet):
    """Water per dry matter from water per moist seed: w / (1 - w).

    >>> float(dry_basis(0.15).round(3))
    0.176
    """
    wet = share(wet, "wet", open_high=True)
    return wet / (1 - wet)


def wet_basis(dry):
    """Water per moist seed from water per dry matter: d / (1 + d), the inverse of `dry_basis`."""
    dry = not_below_zero(dry, "dry")
    return dry / (1 + dry)


def dry_mass(mass_g, moisture=0.0, name="mass_g"):
    """Dry matter in moist seed: mass x (1 - w) [g].

    mass_g : >= 0.  moisture : w, 0 <= w < 1; broadcast; nan where it is missing.  name : for the message.
    Raises UnfitValue outside these. Source: definition.

    >>> float(dry_mass(50, 0.08))
    46.0
    """
    return not_below_zero(mass_g, name) * (1 - share(moisture, "moisture", open_high=True))


def mass_at(mass_g, moisture, target):
    """What seed weighs once its water content is `target`: mass (1 - w) / (1 - target) [g]; errors as `dry_mass`.

    >>> round(float(mass_at(1000, 0.25, 0.14)))  # kg dried to 14 %
    872
    """
    return dry_mass(mass_g, moisture) / (1 - share(target, "target", open_high=True))


def moisture(tins, confidence=0.95, agree_within=AGREE):
    """Water content of each lot on both bases, mean of the tins with a t interval -> Values.

    tins : frame, one row a tin or a meter reading: taxon, lot, test, replicate, tin_g, moist_g, dry_g [g], meter_pct
    [%, wet basis], nan where not read. Tins go before a meter in the same test.
    agree_within : points that the tins of a test may differ before a warning.
    A row without complete readings is left out; Refusal where none is left. Raises UnfitValue as `water_share`.
    Source: ISTA Rules ch. 9 (formula, tolerance of 0.2 points; from memory); dry basis: IRRI Rice Knowledge Bank.
    """
    wet = np.where(np.isnan(tins["dry_g"].to_numpy(float)), within(
        tins["meter_pct"].to_numpy(float), "meter_pct", 0, 100, "from 0 to below 100 %", open_high=True) / 100,
        water_share(*(tins[c].to_numpy(float) for c in ("tin_g", "moist_g", "dry_g"))))  # fmt: skip
    read = tins.assign(share=wet).dropna(subset=["share"])
    if read.empty:
        return Refusal(quantity=WATER, missing="No water content can be had: no tin was weighed empty, moist and dry.",
                       remedy="Weigh a tin empty, with moist and with dried seed, twice; or read a meter.")
    dried = read["dry_g"].notna()
    read = read[dried | ~dried.groupby(read["test"]).transform("any")]
    frames = [read.assign(quantity=WATER, value=100 * read["share"]),
              read.assign(quantity=WATER_DRY, value=100 * dry_basis(read["share"].to_numpy()))]
    units, estimates = group_estimates(frames, confidence, highest={WATER: 100.0})
    return Values(
        units=units, estimates=estimates,
        method="Loss of mass on drying, as a share of the moist seed (wet basis) and of the dry matter (dry basis); a "
        "meter only where no tin was dried. Mean of the tins with a t interval.",
        assumptions=("What was lost on drying was water.",),
        warnings=tuple(_apart(read, agree_within)),
    )


def _apart(read, agree_within):
    ends = read.groupby(["lot", "test"], sort=False)["share"].agg(["min", "max"]) * 100
    for (lot, test), (low, high) in ends.iterrows():
        if high - low > agree_within + 1e-9:
            yield (f"{lot}: tins of {test} give {low:.2f} to {high:.2f} % water, {high - low:.2f} points apart; "
                   f"{agree_within:g} are allowed. Repeat the test.")
