"""What a rerun says of versions: the one that gave the kept numbers, and what the present one gives beside it."""

import pandas as pd

from palea.analyses import catalogue, earlier
from palea.errors import PaleaError
from palea.sharing.compare import AGREE, compare
from palea.sharing.recorded import of as recorded_of
from palea.sharing.recorded import run_again


def as_recorded(recipe_id, version):
    """(the version to run, why it is not the one that was recorded; "" where it is).

    Raises RecipeError for a recipe that there is none of, ValueError for a version that is no number.
    """
    gone = earlier.why_gone(recipe_id, int(version)) or _unknown(recipe_id, int(version))
    if not gone:
        return int(version), ""
    present = catalogue.find(recipe_id).version
    return present, f"{gone} The numbers were held against version {present}, the present one."


def _unknown(recipe_id, version):
    """That there is no such version of a recipe here, as where a later palea or another hand wrote it; "" where there is."""
    there = [r.version for r in (*catalogue.RECIPES, *earlier.KEPT) if r.id == recipe_id]
    return f"There is no version {version} of {recipe_id} here." if there and version not in there else ""


def beside(package, analyses):
    """{analysis_id: what the present version gives where it differs}, of those that an earlier version was run of again."""
    found = {row["analysis_id"]: _beside(package, row) for row in analyses.to_dict("records") if _is_earlier(row)}
    return {name: told for name, told in found.items() if told}


def _is_earlier(row):
    return (row["recipe"], str(row["version"])) in {(r.id, str(r.version)) for r in earlier.KEPT}


def _beside(package, row):
    results, left = package["results"], earlier.left_behind()[row["recipe"], int(row["version"])]
    kept = results[results["analysis_id"].eq(row["analysis_id"])]
    try:
        outcome = run_again(package, recorded_of(row), version=None)
    except PaleaError as fault:
        return f"the present version could not be run: {fault}"
    both = compare(kept, outcome.results)
    apart = both[~both["verdict"].isin(AGREE)]
    if apart.empty:
        return ""
    return (
        f"version {row['version']} was run again, as recorded. Version {outcome.recipe.version}, the present one, gives "
        f"{len(apart)} of {len(both)} numbers otherwise, first of all {_told(apart.iloc[0])}. {left.told}"
    )


def _told(first):
    """One number that differs, in words."""
    was, now = ("nothing" if pd.isna(first[side]) else f"{first[side]:.6g}" for side in ("was", "now"))
    says = f"was {was} and is {now}" if was != now else f"is {was} with another interval or verdict"
    return f"{first['quantity']} ({first['group']}), which {says}"
