"""How much of an active a seed carries: intended, by mass balance, by uptake, assayed; per kg, unit, live seed, ha.

The grade is part of every figure. What was meant is not what was put on, what was put on is not what stayed, and what a
seed took up from a soak need not have stayed either.
"""

from dataclasses import replace

import numpy as np
import pandas as pd

from palea.calc.checked import above_zero, not_below_zero, share, within
from palea.calc.coating.gathered import batch_units, by_treatment, stacked
from palea.calc.results import Refusal, Values
from palea.calc.units import per, percent

INTENDED, BALANCED = "intended dose", "dose by mass balance"
IMBIBED, ASSAYED = "dose by uptake", "assayed dose"
GRADES = (INTENDED, BALANCED, IMBIBED, ASSAYED)  # best known last
PER_UNIT, PER_LIVE, IN_PRODUCT, PER_HA = " a unit", " a live seed", " in the product", " a hectare"
ALIKE = (0.80, 1.25)  # doses of two routes within this ratio count as equal; our convention
UPPER = "What is taken up in a soak is an upper bound of what stays, unless the seed was rinsed and assayed."
SHORT = 0.8  # of the intended dose


def of_unit(mg_kg, thousand_g):
    """Milligrams on a seed from mg per kg of bare seed: dose x TSW / 10^6.

    mg_kg : of pure active per kg of bare seed.  thousand_g : of the bare seed [g].
    Source: units.

    >>> float(of_unit(1000, 2.0))
    0.002
    """
    return not_below_zero(mg_kg, "mg_kg") * above_zero(thousand_g, "thousand_g") / 1e6


def of_live_seed(mg_unit, live_share):
    """Milligrams for each live seed from mg a unit: dead units carry active too."""
    return not_below_zero(mg_unit, "mg_unit") / share(live_share, "live_share", open_low=True)


def in_product(mg_kg, build_up_percent):
    """% w/w of the product from mg per kg of bare seed: dose / (1 + B / 100) / 10^4.

    build_up_percent : coat per bare seed, the active included, both as they lie (not dried) if the dose is so.

    >>> float(in_product(10_000, 100).round(3))
    0.5
    """
    percent = within(build_up_percent, "build_up_percent", -100, np.inf, "above -100 %", open_low=True)
    return not_below_zero(mg_kg, "mg_kg") / (1 + percent / 100) / 1e4


def per_kg_bare(mg_kg_product, build_up_percent):
    """Dose per kg of bare seed from mg per kg of product, as an assay gives it: dose x (1 + B / 100)."""
    percent = within(build_up_percent, "build_up_percent", -100, np.inf, "above -100 %", open_low=True)
    return not_below_zero(mg_kg_product, "mg_kg_product") * (1 + percent / 100)


def of_hectare(mg_unit, units_per_ha):
    """g/ha from mg a unit and units sown on a hectare: dose x units / 1000.

    >>> float(of_hectare(0.002, 1_000_000))
    2.0
    """
    return not_below_zero(mg_unit, "mg_unit") * not_below_zero(units_per_ha, "units_per_ha") / 1000


def by_balance(added_mg, seed_kg, stayed=1.0):
    """Dose in mg per kg of bare seed by mass balance: pure active added x what stayed / seed.

    added_mg : pure active that was put in [mg].  seed_kg : bare seed [kg].  stayed : share of the added solids (or
    liquid) that is on the seed, not in the pan, the fines or the air.
    Source: conservation of mass.

    >>> float(by_balance(150, 1.0, 0.6133).round(1))
    92.0
    """
    return not_below_zero(added_mg, "added_mg") * share(stayed, "stayed") / above_zero(seed_kg, "seed_kg")


def by_uptake(uptake_ml_g, strength_mg_l):
    """Dose in mg per kg of seed taken up in a soak: uptake x strength; an upper bound of what stays.

    >>> float(by_uptake(0.5, 400))
    200.0
    """
    return not_below_zero(uptake_ml_g, "uptake_ml_g") * not_below_zero(strength_mg_l, "strength_mg_l")


def alike(first, second, low=ALIKE[0], high=ALIKE[1]):
    """Whether two doses of one basis are near enough for their routes to be compared: low <= first / second <= high.

    False where either is missing or 0. Source: our convention, adjustable.

    >>> bool(alike(200, 195)), bool(alike(92, 200))
    (True, False)
    """
    first, second = np.asarray(first, float), np.asarray(second, float)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = first / second
    return (first > 0) & (ratio >= low) & (ratio <= high)


def doses(batch_doses, route_pairs, confidence=0.95, low=ALIKE[0], high=ALIKE[1]):
    """Dose of each active in each treatment, by grade and on every basis that can be had -> Values.

    batch_doses : frame, one row a batch and active: taxon, treatment, batch, material (the active), intended_mg_kg,
    added_mg (pure active put in), seed_kg (bare), stayed (share), uptake_ml_g, strength_mg_l, assayed_mg_kg (mg per kg
    of PRODUCT), build_up_percent, thousand_g (bare seed), live_share, units_per_ha; nan where unknown.
    route_pairs : frame, one row a comparison of routes: taxon, a, b, material; may be empty. Where the best known doses
    differ by more than low to high, a warning says that route and dose changed together.
    Per kg of bare seed [mg/kg], a unit and a live seed [mg], in the product [% w/w], a hectare [g/ha]. Mean of the
    batches with a t interval. Best known: assayed, else by mass balance or by uptake, else intended.
    Refusal where no batch has any figure. Source: conservation of mass; common practice (grades).
    """
    rows = _long(batch_doses)
    if rows.empty:
        return Refusal(quantity=INTENDED, missing="No batch says how much active was meant, put on, taken up or found.",
                       remedy="Enter the dose of the treatment and what was added in each step, with its basis.")
    found = tuple(_as_meant(e) for e in by_treatment(rows, confidence, _units(), lowest=0.0))
    soaked = (UPPER,) if any(e.quantity == IMBIBED for e in found) else ()
    told = (*_losses(found), *_unequal(found, route_pairs, low, high), *soaked)
    return Values(
        units=batch_units(rows), estimates=found, warnings=told,
        method="Intended: as the treatment has it. By mass balance: added x purity x what stayed, over bare seed. By "
        "uptake: solution taken up x its strength. Assayed: found in the product, brought to bare seed by build-up.",
        assumptions=("The active lies alike on all units of a batch.",),
    )


def _as_meant(estimate):
    """What was intended was not measured, so batches give it no interval."""
    if not estimate.quantity.startswith(INTENDED):
        return estimate
    return replace(estimate, lower=np.nan, upper=np.nan, df=np.nan, reason="")


def _units():
    """{quantity: UCUM code}, every grade on every basis, grades together."""
    a_seed, a_hectare = per("mg", "{seed}"), per("g", "har")
    bases = {"": per("mg", "kg"), PER_UNIT: a_seed, PER_LIVE: a_seed, IN_PRODUCT: percent("w/w"), PER_HA: a_hectare}
    return {grade + basis: unit for grade in GRADES for basis, unit in bases.items()}


def _long(batches):
    doses_mg_kg = {
        INTENDED: not_below_zero(batches["intended_mg_kg"], "intended_mg_kg"),
        BALANCED: by_balance(batches["added_mg"], batches["seed_kg"], batches["stayed"]),
        IMBIBED: by_uptake(batches["uptake_ml_g"], batches["strength_mg_l"]),
        ASSAYED: per_kg_bare(batches["assayed_mg_kg"], batches["build_up_percent"]),
    }
    frames = []
    for grade, dose in doses_mg_kg.items():
        unit = of_unit(dose, batches["thousand_g"])
        frames.append(stacked(batches, {
            grade: dose, grade + PER_UNIT: unit, grade + PER_LIVE: of_live_seed(unit, batches["live_share"]),
            grade + IN_PRODUCT: in_product(dose, batches["build_up_percent"]),
            grade + PER_HA: of_hectare(unit, batches["units_per_ha"]),
        }))  # fmt: skip
    return pd.concat(frames, ignore_index=True).dropna(subset=["value"])


def best_known(estimates):
    """{(taxon, treatment, material): (grade, mg/kg)}: assayed, else what was reckoned from the work, else intended."""
    best = {}
    for grade in GRADES:
        for e in estimates:
            if e.quantity == grade:
                best[e.of["taxon"], e.of["treatment"], e.of["material"]] = (grade, e.value)
    return best


def _losses(found):
    best = best_known(found)
    for e in found:
        grade, dose = best[e.of["taxon"], e.of["treatment"], e.of["material"]]
        if e.quantity == INTENDED and grade != INTENDED and dose < SHORT * e.value:
            who = f"{e.of['treatment']}, {e.of['material']}"
            yield f"{who}: intended {e.value:.4g} mg/kg; {grade} is {dose:.4g} mg/kg."


def _unequal(found, pairs, low, high):
    best = best_known(found)
    for row in pairs.itertuples():
        sides = [best.get((str(row.taxon), str(name), str(row.material))) for name in (row.a, row.b)]
        if all(sides) and not alike(sides[0][1], sides[1][1], low, high):
            yield (f"{row.a} against {row.b}: {sides[0][1]:.4g} ({sides[0][0]}) against {sides[1][1]:.4g} mg/kg "
                   f"({sides[1][0]}): route and dose changed together, so the routes cannot be compared.")
