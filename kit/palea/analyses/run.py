"""The one door to an answer. Notebooks, panels, the command line and a colleague's rerun all make this call."""

from dataclasses import replace
from functools import cached_property
from math import isnan

import pandas as pd

from palea import schema
from palea.analyses import catalogue, earlier
from palea.analyses.declared import with_contrasts
from palea.analyses.outcome import Outcome
from palea.calc.results import Effects, Refusal
from palea.checks.run import findings_of
from palea.derived.contrasts import asked
from palea.derived.facts import Facts, plain
from palea.derived.lineage import ancestry
from palea.derived.subject import Subject, fingerprint, known_trials
from palea.errors import RecipeError, UnfitValue
from palea.tables import versions

SAID_BY_THE_ANSWER = {"planning.one-batch"}  # every result that rests on one batch says so itself

BLANK = "value.required"  # the rule of cells that must be filled in


def run(recipe_id, package, trial=None, version=None, **options):
    """Ask one recipe of one trial, or of the whole package where the recipe is about that. Nothing is written.

    recipe_id : "germination.final", with or without "/version".  trial : may be left out where there is one only.
    Returns an Outcome; what cannot be answered is an Outcome too, whose result is a Refusal.
    version : an earlier one, as it was then; None: the present one.
    Raises RecipeError for an unknown recipe, trial or option.
    """
    return _asked(catalogue.find(recipe_id, version), Subjects(package), trial, options)


def preview(recipe_id, package, trial=None, **options):
    """The same question asked of an entry that is still being typed: a cell that is not filled in yet stops no answer.

    For panels, which show what follows while somebody types; what is kept was asked through `run`.
    """
    return _asked(catalogue.find(recipe_id), Subjects(package), trial, options, unfinished=True)


class Subjects:
    """What questions of one package rest on, each worked out once: Facts by trial ("": of all of it), names, findings."""

    def __init__(self, package):
        self.package, self._facts, self._cells = package, {}, {}

    def __getitem__(self, trial):
        """Facts of a trial, or of the whole package; kept until it is left."""
        if trial not in self._facts:
            self._facts[trial] = Facts(Subject(self.package, trial, self._ancestry) if trial else self.package)
        return self._facts[trial]

    def leave(self, trial):
        """Forget the facts of a subject that nothing more is asked about."""
        self._facts.pop(trial, None)
        self._cells.pop(trial, None)

    def fingerprint(self, trial, reads):
        """Hash over the columns named in `reads` of the tables of a subject."""
        return fingerprint(self[trial].tables, reads, self._cells.setdefault(trial, {}))

    @cached_property
    def findings(self):
        """All that the check finds in the package."""
        return findings_of(self.package)

    @cached_property
    def names(self):
        """Readable labels by id."""
        return names_of(self.package)

    @cached_property
    def _ancestry(self):
        return Facts(self.package)[ancestry]


def together(subjects):
    """A `run(recipe_id, trial=None, **options)` for many questions of the package that these Subjects are of.

    What several answers rest on is worked out once, as long as questions about one subject follow each other.
    """
    last = []

    def ask(recipe_id, trial=None, **options):
        outcome = _asked(catalogue.find(recipe_id), subjects, trial, options)
        if last and last[0] != outcome.trial:
            subjects.leave(last[0])
        last[:] = [outcome.trial]
        return outcome

    return ask


def _asked(recipe, subjects, trial, options, *, unfinished=False):
    settled = recipe.settle(options)
    trial = _trial(subjects.package, trial) if recipe.about == "trial" else ""
    facts = subjects[trial]
    wrong, doubts = _trusted(subjects, facts.tables, recipe, () if not unfinished else (BLANK,))
    doubts = (*doubts, *earlier.since(recipe))
    result = wrong or _named(_compute(recipe, facts, settled), recipe, facts)
    hashed = subjects.fingerprint(trial, recipe.columns)
    return Outcome(recipe, trial, settled, result, subjects.names, recipe.columns, hashed, doubts)


def _named(result, recipe, facts):
    """The result, its effects with the declared contrasts that they answer, where the recipe reads such."""
    judged = isinstance(result, Effects) and any(each.verdict for each in result.effects)
    return with_contrasts(result, facts[asked]) if judged and "contrasts" in recipe.columns else result


def _trial(package, trial):
    known = known_trials(package)
    if trial is None and len(known) == 1:
        return known[0]
    if trial in known:
        return trial
    asked = f"There is no trial “{trial}”." if trial else "Say which trial is meant."
    msg = f"{asked} The package holds: {', '.join(known) or 'none'}."
    raise RecipeError(msg)


def _compute(recipe, facts, options):
    frames = {v.name: _its_own(facts[v]) for v in recipe.reads}
    try:
        result = recipe.compute(**frames, **options)
    except UnfitValue as fault:
        return Refusal(quantity=recipe.quantity, missing=str(fault), remedy="Mend the row and run again.")
    nameless = isinstance(result, Refusal) and not result.quantity
    return replace(result, quantity=recipe.quantity) if nameless else result


def _its_own(made):
    """A frame that an answer may put columns into: others rest on the same view."""
    return made.copy(deep=False) if isinstance(made, pd.DataFrame) else made


def _trusted(subjects, subject, recipe, unfinished=()):
    """(Refusal or None, doubts): no verdict rests on rows that are known to be wrong.

    A contrast that cannot be judged is answered as such one by one, so errors on contrasts do not stop the rest.
    """
    if versions.age(subjects.package) in (versions.OLDER, versions.NEWER):
        missing, remedy = versions.sentences(subjects.package)
        return Refusal(quantity=recipe.quantity, missing=missing, remedy=remedy), ()
    about = [f for f in subjects.findings if f.table in recipe.columns]
    mine = [f for f in about if f.row is None or f.row - 2 in subject[f.table].index]
    errors = [f for f in mine if f.severity == "error" and f.table != "contrasts" and f.rule not in unfinished]
    doubts = tuple(
        dict.fromkeys(f.message for f in mine if f.severity == "warning" and f.rule not in SAID_BY_THE_ANSWER)
    )
    if not errors:
        return None, doubts
    first = errors[0]
    place = f"{first.table}, row {first.row}: " if first.row else ""
    more = f" There are {len(errors)} such errors; `palea check` lists them." if len(errors) > 1 else ""
    return Refusal(quantity=recipe.quantity, missing=f"{place}{first.message}{more}", remedy=first.remedy), doubts


def names_of(package):
    """Readable labels by id: taxa, treatments and environments."""
    names = {}
    taxa, treatments = plain(package["taxa"]), plain(package["treatments"])
    names |= dict(zip(taxa["taxon_id"], taxa["scientific_name"], strict=True))
    names |= dict(zip(treatments["treatment_id"], treatments["label"].fillna(treatments["treatment_id"]), strict=True))
    sites = plain(package["sites"])
    named = dict(zip(sites["site_id"], sites["name"], strict=True))
    several = _several_waters(package)
    for e in plain(package["environments"]).to_dict("records"):
        names[e["environment_id"]] = named.get(e["site_id"]) or _environment(e, water=e["trial_id"] in several)
    materials = plain(package["materials"])
    return names | dict(zip(materials["material_id"], materials["name"], strict=True))


def _several_waters(package):
    """Trials whose units lie at more than one water potential."""
    rows = plain(package["environments"])
    counted = rows.groupby("trial_id")["water_potential_mpa"].nunique()
    return set(counted[counted > 1].index)


def _environment(e, *, water):
    """"20/10 °C", with the water potential where the trial has several."""
    warm, cool = e["day_c"], e["night_c"]
    if isnan(warm):
        return e["environment_id"]
    fields = schema.table("environments")
    symbol = schema.word("unit", fields["day_c"].unit)["symbol"]
    told = f"{warm:g} {symbol}" if isnan(cool) or cool == warm else f"{warm:g}/{cool:g} {symbol}"
    if water and not isnan(e["water_potential_mpa"]):
        told += f", {e['water_potential_mpa']:g} {schema.word('unit', fields['water_potential_mpa'].unit)['symbol']}"
    return told
