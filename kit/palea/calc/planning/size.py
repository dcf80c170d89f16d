"""How many dishes, batches or plots a question needs, and what those at hand can show."""

from types import MappingProxyType

import numpy as np
import pandas as pd

from palea.calc.results import Curve, Curves, Estimate, Refusal, Values
from palea.calc.stats import power as formulas
from palea.calc.stats import simulated_power as simulated
from palea.calc.stats.proportions import design_effect, wilson
from palea.calc.terms import Kind, Rung
from palea.errors import UnfitValue

NEEDED, CHANCE, VISIBLE = "units needed", "power", "smallest difference seen"
USUAL_RHO, RHO_RANGE = 0.02, (0.0, 0.1)
ASSUMED = (
    f"rho was not known: {USUAL_RHO} was taken (common practice, no source; dishes lie between {RHO_RANGE[0]:g} and "
    f"{RHO_RANGE[1]:g})"
)
METHOD = (
    "Numbers by formula: (z_a + z_b)^2 (p1 q1 + p2 q2) DE / (m d^2) for a difference, DE = 1 + (m - 1) rho; on t where "
    "batches are the units; two one-sided tests for equivalence; Schoenfeld for a hazard ratio. Power of a difference "
    "of shares from made-up trials put through the analysis itself."
)
TEXT = ("contrast", "taxon", "a", "b", "quantity", "denominator", "kind", "scale", "wanted", "rung")
NUMBERS = ("level_a", "level_b", "ratio", "log_sd", "margin", "seeds", "rho", "dishes", "batch_sd", "block_sd", "have")


def size(questions, power=0.8, alpha=0.05, trials=1000, seed=1):
    """Units an arm that each question needs, and what those at hand can show -> Values, or Refusal.

    questions : frame, one row a contrast; missing columns and cells are unknown. contrast, taxon, a, b, quantity,
    denominator, kind, wanted, rung (what a unit is: dish, plot or batch) as text.
    scale "difference": level_a, level_b, the shares expected [%]; margin [points]; seeds a dish or plants a plot; rho;
    dishes pooled in a batch; batch_sd [logit]. "ratio" of times: ratio expected, log_sd of a unit's log time, margin
    [ratio above 1]. "hazard ratio": ratio, level_b [% of b still standing], seeds, rho, margin [hazard ratio].
    have : units an arm that there are.  block_sd [logit], blocked : complete blocks.
    power, alpha : wanted; two-sided for superiority, one-sided else.  trials : made up for the simulated power; 0: none.
    Estimates of a question: units needed (rounded up; nan with the reason where no number will do),
    and where there is `have`, power [%] and the smallest difference seen [points].
    Raises UnfitValue for a kind or scale that it does not know.
    Source: Fleiss 1981, ch. 3; Kish 1965; Schuirmann 1987; Schoenfeld 1983; power simulated from the models of the
    analysis.
    """
    rows = [_row(row) for row in questions.to_dict("records")]
    if not rows:
        return Refusal(quantity=NEEDED, missing="No question was asked.", remedy="Declare a contrast in the plan.")
    estimates = tuple(e for row in rows for e in _answers(row, power, alpha, trials, seed))
    return Values(
        estimates=estimates, method=METHOD,
        assumptions=(f"Power {power:.0%}, alpha {alpha:g}; both arms get the same number of units.",),
        warnings=tuple(dict.fromkeys(filter(None, (_told(row, estimates) for row in rows)))),
    )  # fmt: skip


def _row(row):
    text = {name: "" if pd.isna(row.get(name)) else str(row.get(name)) for name in TEXT}
    numbers = {name: float(row[name]) if pd.notna(row.get(name)) else np.nan for name in NUMBERS}
    text["kind"] = text["kind"] or str(Kind.SUPERIORITY)
    text["scale"] = text["scale"] or "difference"
    for name, allowed in (("kind", tuple(map(str, Kind))), ("scale", tuple(SCALES))):
        if text[name] not in allowed:
            msg = f"{text['contrast'] or 'A question'}: {name} is “{text[name]}”; allowed are {', '.join(allowed)}."
            raise UnfitValue(msg)
    return text | numbers | {"blocked": bool(row.get("blocked")) if pd.notna(row.get("blocked")) else False}


def _answers(row, power, alpha, trials, seed):
    """Estimates of one question."""
    missing = _missing(row)
    if missing:
        return [_estimate(row, NEEDED, np.nan, "1", missing)]
    exact = needed(row, power, alpha)
    if not np.isfinite(exact):
        return [_estimate(row, NEEDED, np.nan, "1", _hopeless(row))]
    found = [_estimate(row, NEEDED, whole(exact), "1", _range(row, power, alpha))]
    if np.isnan(row["have"]):
        return found
    found += _chance(row, alpha, trials, seed)
    return found + _visible(row, power, alpha)


def whole(units):
    """Rounded up to a number that can be sown; a hair above a whole number is that number.

    >>> whole(17.2), whole(16.0000000001)
    (18.0, 16.0)
    """
    return float(np.ceil(units - 1e-6))


def _missing(row):
    """What is not known and cannot be guessed, as a sentence; "" where all is there."""
    wanted = {"difference": ("level_a", "level_b", "seeds"), "ratio": ("ratio", "log_sd")}
    asked = [*wanted.get(row["scale"], ("ratio", "level_b", "seeds"))]
    asked += ["margin"] if row["kind"] != Kind.SUPERIORITY else []
    lacking = [name.replace("_", " ") for name in asked if np.isnan(row[name])]
    return f"Not known: {', '.join(lacking)}. Say what is expected." if lacking else ""


def _unit(row, rho=None):
    """What stands behind the share of one unit, for the formulas."""
    rho = rho if rho is not None else USUAL_RHO if np.isnan(row["rho"]) else row["rho"]
    dishes = 1.0 if np.isnan(row["dishes"]) else row["dishes"]
    return {"seeds": row["seeds"], "rho": rho, "dishes": dishes, "batch_sd": np.nan_to_num(row["batch_sd"])}


def _of_batches(row):
    return row["dishes"] > 1 or row["batch_sd"] > 0


def needed(row, power=0.8, alpha=0.05, rho=None):
    """Units an arm for one question as in `size`, unrounded; inf where no number will do. row : a mapping."""
    return SCALES[row["scale"]](row, power, alpha, rho)


def _for_difference(row, power, alpha, rho):
    a, b, margin, unit = row["level_a"] / 100, row["level_b"] / 100, row["margin"] / 100, _unit(row, rho)
    if _of_batches(row):
        sd = np.sqrt((formulas.share_variance(a, **unit) + formulas.share_variance(b, **unit)) / 2)
        return _for_means(row, a - b, float(sd), margin, power, alpha)
    if row["kind"] == Kind.EQUIVALENCE:
        return formulas.units_for_equivalence(a, b, margin, power, alpha, **unit)
    if row["kind"] == Kind.NO_WORSE:
        up = (a, b) if row["wanted"] != "lower" else (1 - a, 1 - b)
        return float(formulas.units_for_no_worse(*up, margin, power, alpha, **unit))
    return float(formulas.units_for_difference(a, b, power, alpha, **unit))


def _for_means(row, difference, sd, margin, power, alpha):
    if row["kind"] == Kind.EQUIVALENCE:
        return formulas.units_for_means_equivalence(difference, sd, margin, power, alpha)
    if row["kind"] == Kind.NO_WORSE:
        room = margin + (difference if row["wanted"] != "lower" else -difference)
        return formulas.units_for_means(max(room, 0.0), sd, power, alpha, sides=1)
    return formulas.units_for_means(difference, sd, power, alpha)


def _for_ratio(row, power, alpha, _rho):
    return _for_means(row, np.log(row["ratio"]), row["log_sd"], np.log(row["margin"]), power, alpha)


def _for_hazard(row, power, alpha, rho):
    rho = _unit(row, rho)["rho"]
    no_worse = row["kind"] == Kind.NO_WORSE
    margin = row["margin"] if no_worse else 1.0
    if no_worse and row["ratio"] >= margin:
        return np.inf
    if row["kind"] == Kind.EQUIVALENCE:  # both sides must hold, so each misses half as often
        room = np.exp(abs(np.log(row["margin"])) - abs(np.log(row["ratio"])))
        power, margin = (1 + power) / 2, room * row["ratio"]
        if room <= 1:
            return np.inf
    return float(formulas.plants_for_hazard(
        row["level_b"] / 100, row["ratio"], power, alpha, seeds=row["seeds"], rho=rho, margin=margin,
        sides=2 if row["kind"] == Kind.SUPERIORITY else 1,
    ))  # fmt: skip


SCALES = MappingProxyType({"difference": _for_difference, "ratio": _for_ratio, "hazard ratio": _for_hazard})


def _range(row, power, alpha):
    """What another rho would mean, where it was not known."""
    if row["scale"] == "ratio" or not np.isnan(row["rho"]):
        return ""
    low, high = (whole(needed(row, power, alpha, rho)) for rho in RHO_RANGE)
    return f"{ASSUMED}: {low:.0f} to {high:.0f} units over that range."


def _hopeless(row):
    if row["kind"] == Kind.SUPERIORITY:
        return "No difference is expected, so no number of units can show one."
    return "The difference that is expected reaches the margin, so no number of units can show what is asked."


def _chance(row, alpha, trials, seed):
    """Power with what there is, from made-up trials; shares only."""
    if row["scale"] != "difference" or not trials or row["have"] < 2 or row["level_a"] in (0, 100):
        return []
    found = float(simulated.power(
        trial_of(row), [int(row["have"])], kind=row["kind"], margin=row["margin"] / 100, wanted=row["wanted"],
        confidence=1 - alpha, trials=trials, seed=seed,
    )[0])  # fmt: skip
    low, high = wilson(round(found * trials), trials)
    return [_estimate(row, CHANCE, 100 * found, "%", f"From {trials} made-up trials.", float(100 * low), float(100 * high))]


def trial_of(row):
    """A question as a trial to simulate."""
    unit = _unit(row)
    return simulated.Trial(
        row["level_a"] / 100, row["level_b"] / 100, seeds=int(unit["seeds"]), rho=unit["rho"],
        dishes=int(unit["dishes"]), batch_sd=float(unit["batch_sd"]), block_sd=float(np.nan_to_num(row["block_sd"])),
        blocked=row["blocked"], by_means=bool(_of_batches(row)),
    )  # fmt: skip


def _visible(row, power, alpha):
    """The smallest difference from b that what there is can see, on the side where a is expected."""
    if row["scale"] != "difference" or row["kind"] != Kind.SUPERIORITY:
        return []
    up = row["level_a"] >= row["level_b"]
    share = row["level_b"] / 100
    value = formulas.smallest_difference(share, row["have"], power, alpha, up=up, **_unit(row))
    reason = "" if np.isfinite(value) else "So few units cannot see any difference."
    return [_estimate(row, VISIBLE, 100 * value, "%", reason)]


def _estimate(row, quantity, value, unit, reason="", lower=np.nan, upper=np.nan):
    of = {name: row[name] for name in ("taxon", "contrast", "a", "b") if row[name]}
    return Estimate(
        quantity, MappingProxyType(of), float(value), lower, upper, unit=unit, kind=row["kind"], margin=row["margin"],
        rung=row["rung"] or str(Rung.BATCH if _of_batches(row) else Rung.DISH),
        n_units=0 if np.isnan(row["have"]) else 2 * int(row["have"]), reason=reason,
    )  # fmt: skip


def _told(row, estimates):
    """"To see 6 points of survival you need about 171 plots a treatment; you have 16, which can see 18 points."."""
    own = {e.quantity: e.value for e in estimates if e.of.get("contrast", "") == row["contrast"]}
    if not own.get(NEEDED, np.nan) > row["have"]:  # enough, or nothing to compare
        return ""
    sees = f", which can see {own[VISIBLE]:.0f} points" if np.isfinite(own.get(VISIBLE, np.nan)) else ""
    gap = f"{abs(row['level_a'] - row['level_b']):.0f} points" if row["scale"] == "difference" else "this ratio"
    asked = f"To see {gap} of {row['quantity']}" if row["kind"] == Kind.SUPERIORITY else f"To show this of {row['quantity']}"
    return f"{asked} you need about {own[NEEDED]:.0f} units a treatment; you have {row['have']:.0f}{sees}."


def power_curves(level, sizes, seeds, rho=USUAL_RHO, alpha=0.05, most=40.0, **unit):
    """Power by formula against the difference, a line for each number of units an arm -> Curves.

    level : share of b [%].  sizes : numbers of units.  most : largest difference [points]; upwards from b.
    In each Curve `time` holds the difference in points and `of` says the number of units; value is power in %.
    """
    points = np.linspace(0, min(most, 99.9 - level), 81)
    own = {"seeds": seeds, "rho": rho} | unit

    def curve(units):
        value = 100 * formulas.power_of_difference((level + points) / 100, level / 100, units, alpha, **own)
        none = np.full(points.size, np.nan)
        return Curve(MappingProxyType({"treatment": f"{units} units an arm"}), points, value, none, none, "line")

    return Curves(
        quantity=CHANCE, along="Difference in points", along_unit="", curves=tuple(curve(units) for units in sizes),
        method="Normal approximation with the design effect; time is the difference in points.",
    )  # fmt: skip


def best_use(total, level_a, level_b, rho=USUAL_RHO, power=0.8, alpha=0.05, smallest=5):
    """The same number of seeds an arm in many small dishes or few large ones -> frame, most dishes first.

    total : seeds an arm.  level_a, level_b : expected [%].  smallest : seeds a dish, at least.
    Columns: dishes, seeds, design_effect, effective_seeds, power [%], smallest_difference [points].
    Only whole shares of the total are listed. More small dishes always see more; rules for a germination test may ask
    for few large ones (4 x 100). Source: Kish 1965, Survey Sampling.
    """
    seeds = np.array([m for m in range(smallest, total // 2 + 1) if total % m == 0], int)
    dishes = total // np.maximum(seeds, 1)
    effect = design_effect(seeds, rho)
    chance = [
        100 * float(formulas.power_of_difference(level_a / 100, level_b / 100, d, alpha, seeds=m, rho=rho))
        for d, m in zip(dishes, seeds, strict=True)
    ]
    seen = [
        100 * formulas.smallest_difference(level_b / 100, int(d), power, alpha, up=level_a >= level_b, seeds=m, rho=rho)
        for d, m in zip(dishes, seeds, strict=True)
    ]
    return pd.DataFrame({
        "dishes": dishes, "seeds": seeds, "design_effect": effect, "effective_seeds": total / effect, "power": chance,
        "smallest_difference": seen,
    })  # fmt: skip
