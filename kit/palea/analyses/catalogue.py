"""The list of all recipes, by id and version. An earlier version is found where it can still be run."""

from difflib import get_close_matches

from palea.analyses import (
    bench_answers,
    cleaning,
    coating,
    decision,
    earlier,
    field,
    germination,
    germination_stress,
    handling,
    lots,
    planning,
)
from palea.errors import RecipeError

STAGES = (lots, cleaning, coating, planning, handling, germination, germination_stress, field, decision, bench_answers)
RECIPES = tuple(recipe for stage in STAGES for recipe in stage.RECIPES)


def find(recipe_id, version=None):
    """The recipe of that id (`germination.final` or `germination.final/1`), the present version where none is named.

    RecipeError names the nearest id, or says why an earlier version can no longer be run.
    """
    plain, _, asked = str(recipe_id).partition("/")
    wanted = int(asked) if asked.isdigit() else version
    of_that_name = [r for r in RECIPES if r.id == plain]
    if not of_that_name:
        near = get_close_matches(plain, [r.id for r in RECIPES], 1)
        hint = f"The nearest is “{near[0]}”." if near else "`palea recipes` lists them."
        msg = f"There is no recipe “{plain}”. {hint}"
        raise RecipeError(msg)
    for recipe in of_that_name:
        if wanted in (None, recipe.version):
            return recipe
    if older := earlier.find(plain, wanted):
        return older
    there = [str(r.version) for r in (*earlier.KEPT, *of_that_name) if r.id == plain]
    why = earlier.why_gone(plain, wanted) or f"{plain} has no version {wanted} here."
    msg = f"{why} It can be run in: {', '.join(there)}."
    raise RecipeError(msg)


def as_rows():
    """All recipes as plain mappings: id, version, title, unit of replication, options, what it reads, source."""
    return [
        {
            "id": r.id, "version": r.version, "title": r.title, "stage": r.stage, "unit_of_replication": r.rung,
            "options": {name: {"default": o.default, "help": o.help} for name, o in r.options.items()},
            "reads": {table: list(columns) for table, columns in r.columns.items()}, "source": r.source,
            "earlier": earlier.as_rows(r.id),
        }
        for r in RECIPES
    ]
