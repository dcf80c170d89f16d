"""What a preparation is made of, turned into strengths: mass in mass, mass in volume, moles."""

import numpy as np
import pandas as pd

from palea.calc.checked import share
from palea.calc.results import Estimate, Refusal, Values
from palea.calc.solutions.strength import ACID_CAUTION
from palea.calc.units import BASES, convert, per, percent, read
from palea.errors import UnfitValue

BY_MASS, BY_VOLUME = "strength by mass", "strength by volume"
MOLAR = "strength in moles"
G_L, G_KG = per("g", "L"), per("g", "kg")


def strengths(preparation_parts, confidence=0.95):
    """Strength of each part of each preparation as % w/w, % w/v and mmol/L, as far as it can be had -> Values.

    preparation_parts : frame, one row a part: material (the preparation), part, amount, unit (UCUM), basis ("in all",
    "w/w", "w/v", "v/v", "per L of preparation", "per kg of preparation"), purity (pure substance in the part, mass in
    mass; nan: taken as pure, which is said), density_g_ml (of the part), molar_mass_g_mol, made_density_g_ml (of the
    preparation), acid (bool: does the caution for strong acid belong here?); nan where unknown.
    "in all" parts count against the sum of all parts of the preparation by mass. w/w and w/v turn into each other only
    with the density of the preparation, volumes into masses only with that of the part. What cannot be had is left out
    and a warning names what is missing. A bare % is refused: it has no basis. `confidence` is taken for the sake of a
    common call: weighed amounts have no interval here. Refusal where no strength can be had.
    Source: definitions; common practice.
    """
    found, told = [], []
    for name, rows in preparation_parts.groupby("material", sort=False, dropna=False):
        grams, lacking = _grams(rows)
        told += [f"{name}: {sentence}" for sentence in lacking]
        total = float(np.sum(grams)) if len(grams) == len(rows) and not np.isnan(grams).any() else np.nan
        for row, mass in zip(rows.itertuples(), grams, strict=True):
            try:
                found += _of_part(row, *_strength(row, mass, total), confidence)
            except UnfitValue as fault:
                told.append(f"{name}, {row.part}: {fault}")
        if rows["acid"].isin([True]).any():
            told.append(f"{name}: {ACID_CAUTION}")
    impure = preparation_parts.loc[preparation_parts["purity"].isna(), "part"].astype(str).unique()
    told += [f"No purity is known for {', '.join(impure)}: taken as pure."] if len(impure) else []
    if not found:
        return Refusal(quantity=BY_MASS, missing="No part of a preparation has an amount with unit and basis.",
                       remedy="Enter how much of each part went in, its unit, and what the amount is of.",
                       warnings=tuple(told))
    return Values(estimates=tuple(found), warnings=tuple(told), units=pd.DataFrame(),
                  method="Amount of pure substance in the whole, on the basis that was recorded; the other basis "
                  "through the density of the preparation.")  # fmt: skip


def _grams(rows):
    """Grams of each part that was put in "in all"; nan for the others; and what was missing."""
    found, lacking = [], []
    for row in rows.itertuples():
        try:
            in_all = row.basis == "in all" and not np.isnan(row.amount)
            density = _known(row.density_g_ml)
            found.append(convert(row.amount, row.unit, "g", density_g_ml=density) if in_all else np.nan)
        except UnfitValue as fault:
            found.append(np.nan)
            lacking.append(f"{row.part}: {fault}")
    return np.array(found), lacking


def _known(number):
    return None if number is None or np.isnan(number) else float(number)


def _strength(row, mass, total):
    """(g/kg, g/L) of the part in the preparation; nan where it cannot be had."""
    by_mass = by_volume = np.nan
    if row.basis == "in all":
        by_mass = 1000 * mass / total if total > 0 else np.nan
    elif not np.isnan(row.amount):
        unit = percent(row.basis) if row.unit == "%" and row.basis in BASES else _whole(row)
        by_mass, by_volume = _turned(row, unit)
    made = _known(row.made_density_g_ml)
    if made:
        by_volume = by_mass * made if np.isnan(by_volume) else by_volume
        by_mass = by_volume / made if np.isnan(by_mass) else by_mass
    return by_mass, by_volume


def _whole(row):
    """Unit with what it is per: "g" per L of preparation is g/L; a unit that says so already stays as it is."""
    amount = read(row.unit)
    bare = len(amount.powers) == 1 and not amount.counted
    whole = {"per L of preparation": "L", "per kg of preparation": "kg"}.get(row.basis, "1")
    return per(row.unit, whole) if bare else row.unit


def _turned(row, unit):
    """(g/kg, g/L) of an amount whose unit says what it is per."""
    whole = read(unit)
    if whole.is_like(read(G_KG)):
        return convert(row.amount, unit, G_KG), np.nan
    if whole.is_like(read(G_L)):
        return np.nan, convert(row.amount, unit, G_L)
    if whole.is_like(read(percent("v/v"))):
        density = _known(row.density_g_ml)
        if density is None:
            msg = f"{unit} needs a density of the part in g/mL to become a mass. Write it beside the material."
            raise UnfitValue(msg)
        return np.nan, convert(row.amount, unit, per("mL", "L")) * density
    if whole.is_like(read(per("mol", "L"))):
        return np.nan, convert(row.amount, unit, G_L, molar_mass_g_mol=_known(row.molar_mass_g_mol))
    if whole.is_like(read(per("mL", "kg"))):
        return convert(row.amount, unit, G_KG, density_g_ml=_known(row.density_g_ml)), np.nan
    msg = f"{row.amount:g} {row.unit} with the basis “{row.basis}” is no strength. Give mass or volume in a whole."
    raise UnfitValue(msg)


def _of_part(row, by_mass, by_volume, confidence):
    pure = 1.0 if np.isnan(row.purity) else float(share(row.purity, "purity"))
    molar = _known(row.molar_mass_g_mol)
    values = (
        (BY_MASS, by_mass * pure / 10, percent("w/w")), (BY_VOLUME, by_volume * pure / 10, percent("w/v")),
        (MOLAR, 1000 * by_volume * pure / molar if molar else np.nan, per("mmol", "L")),
    )
    of = {"material": str(row.material), "part": str(row.part)}
    for quantity, value, unit in values:
        if not np.isnan(value):
            yield Estimate(quantity, of, float(value), confidence=confidence, unit=unit)
