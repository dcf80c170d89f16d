"""What if: the same analysis with one thing changed, and which verdicts change with it. Nothing is written."""

import json
from dataclasses import dataclass

import pandas as pd

from palea import schema
from palea.analyses import catalogue
from palea.analyses.outcome import Outcome
from palea.analyses.run import run
from palea.derived.facts import plain
from palea.errors import RecipeError
from palea.words import naming

BACK_IN = "left-out units"  # the one change that is no option of a recipe: units left out by decision count again
PAIR = ("taxon", "environment", "a", "b", "contrast")


@dataclass(frozen=True)
class WhatIf:
    """before, after : Outcomes.  changed : what was changed, in words.  verdicts : frame, one row a judged contrast: group,
    quantity, was, now (verdicts), estimate_was, estimate_now, unit, moved.
    """

    before: Outcome
    after: Outcome
    changed: str
    verdicts: pd.DataFrame

    @property
    def moved(self):
        """How many verdicts changed."""
        return int(self.verdicts["moved"].sum())

    def told(self):
        """The comparison in sentences, those that changed first."""
        recipe = self.before.recipe
        yield f"{recipe.id}, {self.before.trial or 'package'}: {self.changed}."
        yield f"{self.moved} of {len(self.verdicts)} verdicts change."
        for row in self.verdicts.sort_values("moved", ascending=False, kind="stable").to_dict("records"):
            said = f"{row['was']} -> {row['now']}" if row["moved"] else f"{row['was']}, as before"
            numbers = " -> ".join(_number(row[side]) for side in ("estimate_was", "estimate_now"))
            yield f"{row['group']}, {row['quantity']}: {said} ({numbers} {row['unit']})."

    def as_json(self):
        """The comparison as plain data."""
        rows = self.verdicts.astype(object).where(self.verdicts.notna(), None).to_dict("records")
        return {"recipe": self.before.recipe.id, "trial_id": self.before.trial, "changed": self.changed, "moved": self.moved,
                "verdicts": rows}  # fmt: skip


def what_if(package, analysis, name, value):
    """The kept analysis `analysis` (or a recipe's id, with "@TRIAL" where it needs one) as it was and with one change.

    name : an option of the recipe, or "left-out units" with the value "count", which puts units that were left out by
    decision back in.  value : text, as typed. Raises RecipeError for an unknown analysis, option or value.
    """
    recipe, trial, options = _asked(package, analysis)
    before = run(recipe, package, trial=trial, **options)
    if name == BACK_IN:
        other, changed = _with_all_units(package, trial, value)
        after = run(recipe, other, trial=trial, **options)
    else:
        known = before.recipe.options
        if name not in known:
            msg = f"{before.recipe.id} has no option “{name}”. It has: {', '.join([*known, BACK_IN])}."
            raise RecipeError(msg)
        was, now = before.options[name], _typed(before.recipe, name, value)
        after = run(recipe, package, trial=trial, **options | {name: now})
        changed = f"{name} {now} in place of {was or 'what is declared'}"
    return WhatIf(before, after, changed, _compared(before, after))


def _typed(recipe, name, value):
    option = recipe.options[name]
    try:
        return option.type(value)
    except ValueError:
        msg = f"{recipe.id}, option {name}: “{value}” is no number. {option.help}"
        raise RecipeError(msg) from None


def _asked(package, analysis):
    """(recipe with version, trial, options) of a kept analysis, or of a recipe that is named."""
    rows = plain(package["analyses"])
    kept = rows[rows["analysis_id"].eq(analysis).fillna(value=False)]
    if len(kept):
        row = kept.iloc[0]
        options = json.loads(row["options"]) if isinstance(row["options"], str) else {}
        return f"{row['recipe']}/{row['version']}", row["trial_id"] if isinstance(row["trial_id"], str) else None, options
    name, _, trial = analysis.partition("@")
    if name.partition("/")[0] in {r.id for r in catalogue.RECIPES}:
        return name, trial or None, {}
    known = ", ".join(rows["analysis_id"].dropna().head(8))
    kept_ones = f"; there are {known} ..." if known else ""
    msg = f"There is no analysis “{analysis}” here{kept_ones}. Name one, or a recipe as germination.final@G1."
    raise RecipeError(msg)


def _with_all_units(package, trial, value):
    """The package with the units of a trial that were left out by decision counted again, and how many those are."""
    if value != "count":
        msg = f"“{BACK_IN}” takes the value “count”, not “{value}”."
        raise RecipeError(msg)
    units = package["units"]
    left = next(w for w in schema.words("unit_status", counts=False) if schema.word("unit_status", w)["title"] == "Left out")
    out = units["status"].eq(left).fillna(value=False) & (units["trial_id"].eq(trial).fillna(value=False) if trial else True)
    if not out.any():
        msg = f"No unit of {trial or 'the package'} was left out by decision, so nothing can be put back in."
        raise RecipeError(msg)
    used = units.assign(status=units["status"].mask(out, schema.words("unit_status", counts=True)[0]))
    return package.replacing("units", used), f"{int(out.sum())} left-out units count again"


def _compared(before, after):
    """One row a judged comparison of either side."""
    was, now = (_judged(outcome) for outcome in (before, after))
    keys = list(dict.fromkeys([*was, *now]))
    rows = [_row(key, was.get(key), now.get(key), before.names) for key in keys]
    return pd.DataFrame(rows, columns=["group", "quantity", "was", "now", "estimate_was", "estimate_now", "unit", "moved"])


def _judged(outcome):
    """{what is compared: its estimate with a verdict}, the first of each."""
    found = {}
    for e in outcome.result.estimates:
        if e.verdict:
            found.setdefault(tuple(e.of.get(part, "") for part in PAIR), e)
    return found


def _row(key, was, now, names):
    of = dict(zip(PAIR, key, strict=True))
    pair = " against ".join(filter(None, (of["a"], of["b"])))
    where = (names.get(of[part], of[part]) for part in ("taxon", "environment"))
    group = ", ".join(filter(None, (*where, pair)))
    one = now or was
    verdicts = [e.verdict if e else "not there" for e in (was, now)]
    values = [e.value if e else float("nan") for e in (was, now)]
    return {
        "group": group or "all together", "quantity": naming.title(one.quantity), "was": verdicts[0], "now": verdicts[1],
        "estimate_was": values[0], "estimate_now": values[1], "unit": one.unit, "moved": verdicts[0] != verdicts[1],
    }  # fmt: skip


def _number(value):
    return "nothing" if value != value else f"{value:.3g}"
