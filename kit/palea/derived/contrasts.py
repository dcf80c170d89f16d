"""What a trial asks, contrast by contrast, and whether each can be judged at all."""

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.spans import earliest
from palea.derived.counting import dishes, sheets
from palea.derived.doses import delivered
from palea.derived.factors import differing, levels
from palea.derived.ladder import alike
from palea.derived.lineage import origins
from palea.derived.lookup import codes, moments, texts
from palea.derived.view import view
from palea.tables.coded import again, factorized

ARM = ["trial", "environment", "treatment"]
SAME_LOT = "Take the control from the same received lot."
ONE_STEP = "Add the treatment between them, which differs from each in one thing, and compare it with both."
SAME_DOSES = "Compare arms whose delivered doses agree within 0.80 to 1.25."
SAME_DOSE = (0.80, 1.25)  # our own convention: delivered doses within this ratio are called the same


@view(dishes, sheets)
def first_counts(dishes, sheets):
    """{trial: moment of its first count}, as a series."""
    counted = sheets["count"].notna().to_numpy()
    unit, units = factorized(sheets["unit"])
    told = counted & (unit >= 0)
    first = np.full(len(units), -1)
    first[unit[told][::-1]] = np.flatnonzero(told)[::-1]  # sheets are in order of time, so the first of each stays
    units = pd.Series(units[first >= 0], dtype=sheets["unit"].dtype)
    at = pd.Series(sheets["at"].to_numpy()[first[first >= 0]])
    return at.groupby(texts(units, dishes.set_index("unit")["trial"])).min().rename_axis("trial").rename("at")


@view(dishes, origins)
def arms(dishes, origins):
    """One row a trial, environment and treatment: its taxon, dishes, batches and the received lots behind it."""
    by = dishes.groupby(ARM, sort=False)
    told = by.agg(taxon=("taxon", "first"), dishes=("unit", "nunique"), batches=("batch", "nunique"))
    lots = dishes[~again(codes(*(dishes[name] for name in (*ARM, "lot"))))]  # many dishes share a lot, so each is looked up once
    behind = lots.merge(origins, on="lot", how="left").groupby(ARM, sort=False)["origin"]
    return told.assign(origins=behind.agg(lambda s: frozenset(s.dropna()))).reset_index()


@view(
    arms,
    levels,
    delivered,
    first_counts,
    alike,
    contrasts="contrast_id trial_id a b asks_about outcome at_day environment_id across kind margin margin_unit wanted primary "
    "declared_at",
    trial_outcomes="trial_id outcome denominator at_day",
)
def asked(arms, levels, delivered, first_counts, alike, contrasts, trial_outcomes):
    """One row a declared contrast and environment in which it was sown, with why it cannot be judged ("" if it can).

    A contrast that names an environment is asked wherever day, night, water and site are as there. `across` names the
    factor over which the difference is compared ("" where the difference itself is asked for), `at_day` the day.
    """
    planned = trial_outcomes.drop_duplicates(["trial_id", "outcome"])  # a double is a fault of its own
    base = planned.set_index(["trial_id", "outcome"])["denominator"]
    level = levels.set_index("treatment").to_dict("index")
    sown = arms.set_index(["trial", "environment", "treatment"]).to_dict("index")
    dose = delivered.groupby("treatment")["mg_kg"].sum(min_count=1)
    like = alike.set_index("environment")["like"].to_dict()
    days = planned.set_index(["trial_id", "outcome"])["at_day"].to_dict()
    rows = []
    for line, c in zip(contrasts.index, contrasts.to_dict("records"), strict=True):
        meant = like.get(_text(c["environment_id"]))
        places = list(dict.fromkeys(e for t, e, x in sown if t == c["trial_id"] and x in (c["a"], c["b"])))
        places = [e for e in places if meant in (None, e)]
        for environment in places or [""]:
            a, b = (sown.get((c["trial_id"], environment, c[side])) for side in ("a", "b"))
            rows.append(
                {
                    "line": line,
                    "contrast": c["contrast_id"],
                    "trial": c["trial_id"],
                    "environment": environment,
                    "taxon": (a or b or {"taxon": ""})["taxon"],
                    "a": c["a"],
                    "b": c["b"],
                    "quantity": c["outcome"],
                    "kind": c["kind"],
                    "margin": c["margin"],
                    "wanted": _text(c["wanted"]) or "higher",
                    "primary": bool(c["primary"]) if pd.notna(c["primary"]) else False,
                    "asks_about": _text(c["asks_about"]),
                    "across": _text(c["across"]),
                    "at_day": c["at_day"] if pd.notna(c["at_day"]) else days.get((c["trial_id"], c["outcome"]), float("nan")),
                    "refused": _refused(c, a, b, level, dose),
                }
            )
    return _with_time(pd.DataFrame(rows, columns=_COLUMNS), contrasts, first_counts, base)


_COLUMNS = [
    "line",
    "contrast",
    "trial",
    "environment",
    "taxon",
    "a",
    "b",
    "quantity",
    "kind",
    "margin",
    "wanted",
    "primary",
    "asks_about",
    "across",
    "at_day",
    "refused",
]


def _with_time(rows, contrasts, first_counts, base):
    """Add the denominator declared for the outcome, and whether the margin was typed after the first count."""
    declared = earliest(contrasts["declared_at"].reindex(rows["line"]))
    late = pd.Series(declared, index=rows.index) > moments(rows["trial"], first_counts)
    keys = pd.MultiIndex.from_frame(rows[["trial", "quantity"]])
    denominator = pd.Series(base.reindex(keys).to_numpy(), index=rows.index, dtype=object).fillna("")
    return rows.assign(denominator=denominator, margin_late=late & rows["margin"].notna())


def _text(value):
    return "" if pd.isna(value) else str(value)


def _refused(contrast, a, b, level, dose):
    """Why this contrast cannot be judged and what would make it answerable, or ""."""
    for side, arm in (("a", a), ("b", b)):
        if arm is None:
            return f"No unit of {contrast[side]} was sown here, so there is nothing to compare. Sow both sides in one trial."
        if contrast[side] not in level:
            return f"{contrast[side]} is not among the treatments, so nobody knows what it changes. Describe it there."
    if not a["origins"] & b["origins"]:
        return f"{contrast['a']} and {contrast['b']} do not come from the same received lot. {SAME_LOT}"
    changed = differing(level[contrast["a"]], level[contrast["b"]])
    if len(changed) > 1:
        titles = " and ".join(schema.word("asks_about", name)["title"].lower() for name in changed)
        return f"{contrast['a']} and {contrast['b']} differ in {_many(len(changed))} things at once: {titles}. {ONE_STEP}"
    if changed == ["route"]:
        return _unequal(contrast, dose.get(contrast["a"]), dose.get(contrast["b"]))
    return ""


def _unequal(contrast, a, b):
    low, high = SAME_DOSE
    if pd.notna(a) and pd.notna(b) and b > 0 and low <= a / b <= high:
        return ""
    told = [f"{x:.0f} mg/kg" if pd.notna(x) else "an unknown dose" for x in (a, b)]
    return f"{contrast['a']} delivered {told[0]}, {contrast['b']} {told[1]}: route and dose changed together. {SAME_DOSES}"


def _many(n):
    return {2: "two", 3: "three"}.get(n, str(n))
