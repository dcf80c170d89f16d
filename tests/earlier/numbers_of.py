"""The numbers of every recipe on packages that never change, as a sketch that another computer comes to as well.

A hash would turn on the last digit, which differs between builds of the numerical libraries; a sketch is the sum of all numbers
of a column, each on a scale that lets small ones count and with a weight of its own place.
"""

import json
from pathlib import Path

import numpy as np
import pandas as pd

from palea.analyses import catalogue
from palea.analyses.plan import _applies
from palea.analyses.run import run
from palea.calc.results import Curves
from palea.derived.facts import Facts
from palea.derived.subject import Subject, known_trials
from palea.tables import upgrade
from palea.tables.opening import open_package

HERE = Path(__file__).parent
KEPT = HERE / "numbers.json"
JOURNEY, OTHERS = "every-stage.zip", "doses-stores-mixture-sites.zip"
NOT_ON_THE_JOURNEY = ("handling.mixture", "germination.dose", "germination.storage", "emergence.sites")
COLUMNS = ("estimate", "lower", "upper", "p_value", "df", "n_batches", "n_units", "n_seeds")
NONE = "none that it applies to"
CLOSE = 1e-6  # relative; what another build of the libraries makes of it
ROUNDED = {"n_seeds": 1e-4}  # live seeds sown are a product that can end on a half, and then be rounded either way

SAYS = (
    "{id}: its numbers moved ({what}) and its version is still {version}. If that was meant, raise its version in "
    "kit/palea/analyses, keep version {version} in analyses/earlier.py as it was (or write into analyses/earlier.json why it can "
    "no longer be run), then run `python tests/earlier`. If it was not meant, look at what you changed."
)
RENEW = "{id}: version {version} is not in tests/earlier/numbers.json. Run `python tests/earlier` to write its numbers down."


def package(name=JOURNEY):
    """A frozen package, as the present schema has it; the first is that of one species through every stage."""
    return upgrade.in_passing(open_package(HERE / name))[0]


def package_for(recipe):
    """Name of the frozen package that holds what a recipe asks for."""
    return OTHERS if recipe.id in NOT_ON_THE_JOURNEY else JOURNEY


def kept():
    """{recipe: sketch} as written down."""
    return json.loads(KEPT.read_text(encoding="utf-8"))


def sketch(recipe, of, trial=None):
    """What a recipe answers on a package, as plain values: version, trial, rows, verdicts and the sketch of each column; of
    an answer without rows that of its curves or of its plan of units.

    trial : which to ask; None: the first that the recipe applies to.
    """
    if trial is None and recipe.about == "trial":
        trial = next((t for t in known_trials(of) if _applies(Facts(Subject(of, t)), recipe)), NONE)
    told = {"version": recipe.version, "trial": trial}
    if trial == NONE:
        return told
    outcome = run(recipe.id, of, trial)
    if outcome.refused:
        return told | {"refused": outcome.result.quantity}
    rows = outcome.results
    verdicts = rows["verdict"].dropna().value_counts().sort_index().to_dict()
    columns = {name: _sum(rows[name].astype(float).to_numpy()) for name in COLUMNS}
    drawn = {} if len(rows) else {"drawn": _drawn(outcome.result)}
    return told | {"rows": len(rows), "verdicts": verdicts, **columns, **drawn}


def _drawn(result):
    """The sketch of the curves, or of the units; a text counts as its place among those of its column."""
    if isinstance(result, Curves):
        parts = [part for curve in result.curves for part in (curve.time, curve.value, curve.lower, curve.upper)]
    else:
        parts = [pd.factorize(column, sort=True)[0] for _, column in result.units.items()]
    return _sum(np.concatenate(parts).astype(float))


def _sum(values):
    """[how many are known, their weighted sum]."""
    known = np.isfinite(values)
    weights = 1 + np.modf(np.arange(len(values)) * 0.6180339887498949)[0]
    return [int(known.sum()), float(f"{(np.arcsinh(1e3 * values[known]) * weights[known]).sum():.10g}")]


def moved(was, now):
    """What differs between two sketches of a recipe, as words; [] where nothing does."""
    return [name for name in {**was, **now} if name != "version" and not _same(name, was.get(name), now.get(name))]


def _same(name, was, now):
    if isinstance(was, list) and isinstance(now, list):
        return was[0] == now[0] and abs(was[1] - now[1]) <= ROUNDED.get(name, CLOSE) * max(1.0, abs(was[1]))
    return was == now


def verdict(recipe, was, now):
    """The sentence about a recipe whose kept sketch is `was` (or None), "" where all is well."""
    if was is None or was["version"] != recipe.version:
        return RENEW.format(id=recipe.id, version=recipe.version)
    what = moved(was, now)
    return SAYS.format(id=recipe.id, what=", ".join(what), version=recipe.version) if what else ""


def renew():
    """Write down the numbers of new recipes and versions; the sentences about those that moved without a version."""
    of, before = {name: package(name) for name in (JOURNEY, OTHERS)}, kept() if KEPT.is_file() else {}
    now = {recipe.id: sketch(recipe, of[package_for(recipe)]) for recipe in catalogue.RECIPES}
    same = {name for name in now if before.get(name, {}).get("version") == now[name]["version"]}
    told = [verdict(r, before[r.id], now[r.id]) for r in catalogue.RECIPES if r.id in same]
    lines = [f' "{name}": {json.dumps(before[name] if name in same else now[name])}' for name in now]
    KEPT.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
    return [line for line in told if line]
