"""Which questions a package plans to have answered, and answering them in order."""

import json

from palea.analyses import catalogue
from palea.analyses.run import run
from palea.derived.facts import plain
from palea.derived.subject import Subject, known_trials
from palea.errors import RecipeError


def answer_all(package, trial=None, recipe=None, options=None, progress=None):
    """Outcomes of all planned questions, of those of one trial, or of one recipe.

    Planned are the package's own `analyses` rows, with their options; a trial that has none gets every recipe of the
    stages it has units for.  progress : called with a sentence before each.
    """
    if options and not recipe:
        msg = "Options belong to one recipe; name it with --recipe."
        raise RecipeError(msg)
    questions = [(t, i, o) for t in _trials(package, trial) for i, o in _planned(package, t, recipe, options)]
    outcomes = []
    for number, (of, recipe_id, chosen) in enumerate(questions, 1):
        if progress:
            progress(f"[{number}/{len(questions)}] {of}: {recipe_id}")
        outcomes.append(run(recipe_id, package, trial=of, **chosen))
    return outcomes


def _trials(package, trial):
    known = known_trials(package)
    if trial is not None and trial not in known:
        msg = f"There is no trial “{trial}”. The package holds: {', '.join(known) or 'none'}."
        raise RecipeError(msg)
    if not known:
        msg = "There is no trial in this package yet, so there is nothing to analyse."
        raise RecipeError(msg)
    return [trial] if trial else known


def _planned(package, trial, recipe, options):
    if recipe:
        return [(recipe, options or {})]
    rows = plain(package["analyses"])
    rows = rows[rows["trial_id"].eq(trial).fillna(value=False)]
    planned = [(f"{r['recipe']}/{r['version']}", json.loads(r["options"] or "{}")) for r in rows.to_dict("records")]
    return planned or [(r.id, {}) for r in catalogue.RECIPES if _applies(package, trial, r)]


def _applies(package, trial, recipe):
    """Whether the trial has units of a kind that the recipe's stage looks at."""
    from palea import schema

    kinds = set(Subject(package, trial)["units"]["kind"].dropna())
    return bool(kinds & set(schema.words("unit_kind", stage=recipe.stage)))
