"""Where seed and coat went: what went into a run against what came out of it, as dry matter, and what stayed on."""

import numpy as np

from palea.calc.checked import above_zero, not_below_zero, share, within
from palea.calc.coating.gathered import batch_units, by_treatment, stacked
from palea.calc.results import Refusal, Values

FOUND_AGAIN, STAYED = "found again of what went in", "coat that stayed"
SEED_BACK = "seed found in the product"
TOO_MUCH, MISSING = 102.0, 5.0  # % of what went in: above it something is still wet; % of the seed that is worth a word


def stayed(product_g, seed_g, solids_g):
    """Share of the coat's solids that is on the product: (product - seed) / solids, all dry matter [g].

    product_g : main product and multiples.  seed_g : bare seed in it.  solids_g : binder solids and filler put in.
    Below 0 where seed was lost; it is not cut. Source: conservation of mass.

    >>> float(stayed(80.0, 50.0, 40.0))
    0.75
    """
    on = not_below_zero(product_g, "product_g") - not_below_zero(seed_g, "seed_g")
    return on / above_zero(solids_g, "solids_g")


def solids(amount_g, solid_share):
    """Dry solids of a liquid or powder [g]: amount x share."""
    return not_below_zero(amount_g, "amount_g") * share(solid_share, "solid_share")


def seed_in_product(product_g, coat_share_percent, moisture=0.0):
    """Bare seed, dry, in a mass of product [g], from the coat's % of its dry matter.

    >>> float(seed_in_product(1459.2, 37.5).round(1))
    912.0
    """
    coat = within(coat_share_percent, "coat_share_percent", -np.inf, 100, "below 100 %", open_high=True)
    dry = not_below_zero(product_g, "product_g") * (1 - share(moisture, "moisture", open_high=True))
    return dry * (1 - coat / 100)


def balance(coating_flows, confidence=0.95):
    """What came out of what went in, how much coat stayed, and seed found in the product against seed sent -> Values.

    coating_flows : frame, one row a run: taxon, treatment, batch, seed_g (dry matter of seed put in or sent), solids_g
    (dry matter of all materials; nan: unknown, as in a contractor's run), product_g (dry matter of main product and
    multiples), rest_g (dry matter of fines, waste, what was scraped from the pan; nan: not weighed),
    coat_share_percent (of the product's dry matter, from washing off; nan), moist (bool: some mass was not brought to
    dry matter).
    "found again": (product + rest) / (seed + solids). "coat that stayed": (product - seed) / solids, seed taken as all
    in the product. "seed found in the product": product (1 - coat share) / seed. What cannot be had is left out.
    Mean of the batches with a t interval. Refusal where no run has what went in and came out.
    Source: conservation of mass.
    """
    read = coating_flows.dropna(subset=["seed_g", "product_g"])
    if read.empty:
        return Refusal(quantity=FOUND_AGAIN, missing="No run has the seed that went in and the product that came out.",
                       remedy="Weigh both, with their water content, and what stuck in the pan.")
    into = above_zero(read["seed_g"], "seed_g") + not_below_zero(read["solids_g"], "solids_g")
    rows = stacked(read, {
        FOUND_AGAIN: 100 * (read["product_g"] + not_below_zero(read["rest_g"], "rest_g")) / into,
        STAYED: 100 * stayed(read["product_g"], read["seed_g"], read["solids_g"].where(read["solids_g"] > 0)),
        SEED_BACK: 100 * seed_in_product(read["product_g"], read["coat_share_percent"]) / read["seed_g"],
    }).dropna(subset=["value"])  # fmt: skip
    return Values(
        units=batch_units(rows),
        estimates=by_treatment(rows, confidence, dict.fromkeys((FOUND_AGAIN, STAYED, SEED_BACK), "%")),
        warnings=tuple(_doubts(read, rows)),
        method="Dry matter out over dry matter in, run by run. Mean of the batches with a t interval.",
        assumptions=("All that came out was weighed, and where coat that stayed is shown no seed was lost.",),
    )


def _doubts(read, rows):
    moist = read.loc[read["moist"].isin([True]), "batch"].astype(str)
    if len(moist):
        yield f"Water content is not known for all of {', '.join(moist)}: those masses were taken as they lay."
    for row in rows[rows["quantity"].eq(FOUND_AGAIN) & rows["value"].gt(TOO_MUCH)].itertuples():
        yield f"{row.batch}: {row.value:.1f} % of what went in came out; is something still wet, or not entered?"
    sent = read.set_index("batch")["seed_g"]
    for row in rows[rows["quantity"].eq(SEED_BACK) & rows["value"].lt(100 - MISSING)].itertuples():
        mass = float(sent[row.batch])
        yield (f"{row.batch}: {mass:.4g} g of seed sent, the product holds {mass * row.value / 100:.4g} g: "
               f"{mass * (1 - row.value / 100):.4g} g missing.")
