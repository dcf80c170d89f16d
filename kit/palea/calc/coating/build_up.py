"""Coat put on, per bare seed, as dry matter: by the mass of the batch, by the mass of units, by washing it off."""

import numpy as np
import pandas as pd

from palea.calc.checked import above_zero, not_below_zero, within
from palea.calc.coating.gathered import KEYS, batch_units, by_treatment, stacked
from palea.calc.coating.thickness import on_sphere
from palea.calc.lots.water import dry_mass
from palea.calc.results import Refusal, Values

BY_BATCH, BY_UNITS = "build-up by batch mass", "build-up by unit mass"
BY_WASHING = "build-up by washing off"
SHARE, THICKNESS = "coating share of product", "coat thickness as a sphere"
WAYS = (BY_BATCH, BY_UNITS, BY_WASHING)
FILM, ENCRUSTED = "film", "encrusted"
PELLET = "pellet"
FILM_BELOW, PELLET_ABOVE = 10.0, 500.0  # %; common practice, no source
DISAGREE = 1.25  # ratio of coated to coated mass between two ways
MOIST = "Water content was not known for every mass: what is not known was taken as it lay on the balance."


def build_up(bare_g, coated_g, bare_moisture=0.0, coated_moisture=0.0):
    """Coat put on, per mass of bare seed, both as dry matter: 100 (C - S) / S [%].

    bare_g, coated_g : mass of the seed that went in and of all product made from it [g], > 0.
    bare_moisture, coated_moisture : water content, wet basis, as a share, 0 <= w < 1; broadcast; S = bare_g (1 - w).
    Negative when more was rubbed off than put on; nan where a value is missing.
    Raises UnfitValue, naming argument and position, for a mass not above 0 or a water content outside [0, 1).
    Source: common practice, no source; on dry matter because wet mass passes for coat.

    >>> build_up([50.0], [80.5], bare_moisture=0.08, coated_moisture=0.09).round(2)
    array([59.25])
    """
    bare = dry_mass(above_zero(bare_g, "bare_g"), bare_moisture)
    return 100 * (dry_mass(above_zero(coated_g, "coated_g"), coated_moisture) - bare) / bare


def share_of_product(build_up_percent):
    """Coat as % of the product from build-up: 100 B / (100 + B).

    >>> float(share_of_product(51.515).round(1))
    34.0
    """
    percent = within(build_up_percent, "build_up_percent", -100, np.inf, "above -100 %", open_low=True)
    return 100 * percent / (100 + percent)


def from_share(share_percent):
    """Build-up from the coat's % of the product: 100 s / (100 - s), the inverse of `share_of_product`.

    >>> float(from_share(80))
    400.0
    """
    percent = within(share_percent, "share_percent", -np.inf, 100, "below 100 %", open_high=True)
    return 100 * percent / (100 - percent)


def by_washing(sample_g, without_coat_g):
    """Build-up from units weighed dry before and after their coat was washed off: 100 (m - m0) / m0 [%].

    >>> float(by_washing(2.0, 1.25))
    60.0
    """
    bare = above_zero(without_coat_g, "without_coat_g")
    return 100 * (above_zero(sample_g, "sample_g") - bare) / bare


def class_by_mass(build_up_percent, film_below=FILM_BELOW, pellet_above=PELLET_ABOVE):
    """Class that a build-up speaks for, as text: film below, pellet above, else encrusted; "" for nan.

    The class itself is what stays visible of the seed; mass is a hint and never decides. The bounds are to be chosen.
    Source: common practice, no source (bounds); AASCO definitions of coated seed (what stays visible).

    >>> class_by_mass([5.0, 60.0, 1100.0]).tolist()
    ['film', 'encrusted', 'pellet']
    """
    percent = np.asarray(build_up_percent, float)
    return np.select([np.isnan(percent), percent < film_below, percent > pellet_above], ["", FILM, PELLET], ENCRUSTED)


def build_up_by_treatment(coated_batches, unit_masses, washed_units, confidence=0.95, film_below=FILM_BELOW,
                          pellet_above=PELLET_ABOVE):  # fmt: skip
    """Build-up of each treatment, up to three ways, with the coat's share of the product and its thickness -> Values.

    coated_batches : frame, one row a batch: taxon, treatment, batch, bare_g, coated_g [g], bare_moisture,
    coated_moisture (shares, wet basis), coat_class ("": not said), and for the thickness diameter_mm, seed_g_cm3,
    coat_g_cm3; nan where unknown.
    unit_masses : frame, one row a batch: taxon, treatment, batch, bare_mg, coated_mg (mean mass of a unit, multiples
    and empties included), bare_moisture, coated_moisture.  washed_units : frame, one row a sample: taxon, treatment,
    batch, sample_g, without_coat_g (both dried).
    film_below, pellet_above : bounds of the classes [%].
    Mean of the batches with a t interval between them, one batch without. Share and thickness come from the first way
    that a batch has. Warnings: masses without water content, ways that disagree, a class that the mass does not speak
    for, a coat where mass went down. Refusal where no way can be had.
    Source: common practice, no source (build-up on dry matter; bounds of classes); AASCO definitions of coated seed.
    """
    rows = pd.concat([_by_batch(coated_batches), _by_units(unit_masses), _by_washing(washed_units)], ignore_index=True)
    rows = rows.dropna(subset=["value"])
    if rows.empty:
        return Refusal(quantity=BY_BATCH, missing="No batch has its mass before and after coating.",
                       remedy="Weigh the seed that goes in and all product, or 100 units bare and 100 coated, or wash "
                              "the coat off and weigh again.")
    first = rows.drop_duplicates([*KEYS, "batch"])
    rows = pd.concat([rows, _from_first(first, coated_batches)], ignore_index=True)
    units = dict.fromkeys(WAYS, "%") | {SHARE: "%", THICKNESS: "mm"}
    found = by_treatment(rows, confidence, units, lowest=-100.0, highest={SHARE: 100.0})
    bounds = (film_below, pellet_above)
    return Values(
        units=batch_units(rows), estimates=found,
        warnings=(*_moist(coated_batches, unit_masses), *_apart(rows), *_odd(first, coated_batches, bounds)),
        method="Coat per bare seed, both as dry matter. Mean of the batches with a t interval between them. Thickness: "
        "of a ball of the mean diameter.",
        assumptions=("All product of a batch was weighed, fines and multiples apart.",),
    )


def _by_batch(rows):
    dry = (rows["bare_moisture"].fillna(0.0), rows["coated_moisture"].fillna(0.0))
    return stacked(rows, {BY_BATCH: build_up(rows["bare_g"], rows["coated_g"], *dry)})


def _by_units(rows):
    dry = (rows["bare_moisture"].fillna(0.0), rows["coated_moisture"].fillna(0.0))
    return stacked(rows, {BY_UNITS: build_up(rows["bare_mg"], rows["coated_mg"], *dry)})


def _by_washing(rows):
    each = stacked(rows, {BY_WASHING: by_washing(rows["sample_g"], rows["without_coat_g"])})
    return each.groupby([*KEYS, "batch", "quantity"], sort=False, dropna=False, as_index=False)["value"].mean()


def _from_first(first, batches):
    """Share of the product and thickness of each batch, from the first way that it has."""
    sizes = first.merge(batches[[*KEYS, "batch", "diameter_mm", "seed_g_cm3", "coat_g_cm3"]], how="left")
    build = sizes["value"].to_numpy(float)
    coat = np.where(build >= 0, build, np.nan)
    thick = on_sphere(sizes["diameter_mm"], sizes["seed_g_cm3"], coat, sizes["coat_g_cm3"])
    return stacked(sizes, {SHARE: share_of_product(build), THICKNESS: thick})


def _moist(*frames):
    for rows in frames:
        if len(rows) and rows[["bare_moisture", "coated_moisture"]].isna().any(axis=None):
            yield MOIST
            return


def _apart(rows):
    """Batches in which two ways give masses of product that differ by more than a quarter."""
    ways = rows[rows["quantity"].isin(WAYS)]
    for batch, part in ways.groupby("batch", sort=False):
        product = 100 + part["value"]
        if len(part) > 1 and product.max() > DISAGREE * product.min():
            told = ", ".join(f"{row.quantity.removeprefix('build-up ')} {row.value:.0f} %" for row in part.itertuples())
            yield f"{batch}: the ways to find build-up disagree: {told}. Look for multiples, empties, water or losses."


def _odd(first, batches, bounds):
    """A class that the mass does not speak for; a coat that weighs less than nothing."""
    for row in first.merge(batches[[*KEYS, "batch", "coat_class"]], how="left").itertuples():
        said, speaks = row.coat_class, str(class_by_mass(row.value, *bounds))
        if row.value < 0:
            less = f"{row.batch}: the product weighs {-row.value:.1f} % less than the bare seed"
            yield f"{less}: was seed lost on the way?"
        elif isinstance(said, str) and said in (FILM, ENCRUSTED) and said != speaks:
            asked = "is the seed's shape still visible?" if said == ENCRUSTED else "are size and outline as before?"
            yield f"{row.batch}: build-up is {row.value:.0f} % but the class is {said}: {asked}"


def cumulative(added_g, bare_g):
    """Build-up after each cycle from dry mass added, as if nothing were lost [%]: (cycles,).

    >>> cumulative([5.0, 5.0, 10.0], 50.0).tolist()
    [10.0, 20.0, 40.0]
    """
    return 100 * np.cumsum(not_below_zero(added_g, "added_g")) / above_zero(bare_g, "bare_g")
