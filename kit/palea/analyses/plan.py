"""Which questions a package plans to have answered, and answering them in order."""

import json

from palea import schema
from palea.analyses import catalogue, earlier
from palea.analyses.run import Subjects, together
from palea.derived.facts import plain
from palea.derived.subject import known_trials
from palea.errors import RecipeError


def answer_all(package, trial=None, recipe=None, options=None, progress=None):
    """Outcomes of all planned questions, of those of one trial, or of one recipe.

    Planned are the package's own `analyses` rows, with their options; a trial that has none gets every recipe of the
    stages it has units for that applies to it, and the package every recipe about it that applies.
    progress : called before each with a sentence, its number and how many there are.
    """
    subjects = Subjects(package)
    return list(answers(subjects, questions(subjects, trial, recipe, options), progress))


def answers(subjects, asked, progress=None):
    """Outcomes of what `questions` gave, one after another."""
    ask = together(subjects)
    for number, (of, recipe_id, chosen) in enumerate(asked, 1):
        if progress:
            progress(told(number, len(asked), of, recipe_id), number, len(asked))
        yield ask(recipe_id, of or None, **chosen)


def told(number, many, of, recipe_id, *, all_known=True):
    """What is said before an answer: "[3/72] G1: germination.final"; "[3/29 so far]" where there may be more."""
    return f"[{number}/{many}{'' if all_known else ' so far'}] {of or 'package'}: {recipe_id}"


def _trials(package, trial):
    known = known_trials(package)
    if trial is not None and trial not in known:
        msg = f"There is no trial “{trial}”. The package holds: {', '.join(known) or 'none'}."
        raise RecipeError(msg)
    return [trial] if trial else known


def questions(subjects, trial=None, recipe=None, options=None):
    """(trial or "", recipe, options) of all that is to be asked, trials first.

    subjects : Subjects of the package; what choosing rests on is kept there for the answers.
    """
    if options and not recipe:
        msg = "Options belong to one recipe; name it with --recipe."
        raise RecipeError(msg)
    if recipe and catalogue.find(recipe).about == "package":
        return [("", recipe, options or {})]
    asked = [(t, i, o) for t in _trials(subjects.package, trial) for i, o in _planned(subjects, t, recipe, options)]
    whole = [] if trial or recipe else [("", i, o) for i, o in _planned(subjects, "", None, None)]
    return asked + whole


def subjects_of(subjects):
    """Trials of the package, and "" for the package as a whole, in the order in which they are asked about."""
    return [*known_trials(subjects.package), ""]


def planned(subjects, of):
    """(of, recipe, options) of all that is planned about a trial, or about the whole package where it is ""."""
    return [(of, *each) for each in _planned(subjects, of, None, None)]


def _planned(subjects, trial, recipe, options):
    if recipe:
        return [(recipe, options or {})]
    rows = plain(subjects.package["analyses"])
    rows = rows[rows["trial_id"].fillna("").eq(trial)]
    known = [r for r in rows.to_dict("records") if _is_known(r["recipe"])]
    planned = [(_as_planned(r["recipe"], r["version"]), json.loads(r["options"] or "{}")) for r in known]
    about = "trial" if trial else "package"
    return planned or [(r.id, {}) for r in catalogue.RECIPES if r.about == about and _applies(subjects[trial], r)]


def _as_planned(recipe_id, version):
    """The recipe in the version that was planned; in the present one where nobody can run that any more."""
    gone = str(version).isdigit() and earlier.why_gone(recipe_id, int(version))
    return recipe_id if gone else f"{recipe_id}/{version}"


def _is_known(recipe_id):
    """An analysis that was done elsewhere and only kept here cannot be run again; the rerun says so."""
    return recipe_id in {r.id for r in catalogue.RECIPES}


def _applies(facts, recipe):
    """Whether the question applies: rows in all that it needs, units of its stage where a stage has such, and its own word
    for it; without one, those units for a trial, and rows in all that it first reads for the package.
    """
    if any(facts.is_empty(table) for table in recipe.needs):
        return False
    kinds = schema.words("unit_kind", stage=recipe.stage) if recipe.about == "trial" else ()
    there = bool(kinds) and bool(facts["units"]["kind"].isin(kinds).any())
    if recipe.when is not None:
        return (there or not kinds) and bool(recipe.when(facts))
    if recipe.about == "trial":
        return there
    return bool(recipe.reads) and all(len(facts[table]) for table in recipe.reads[0].reads)
