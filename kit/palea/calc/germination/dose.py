"""How much of an active does how much: dose-response curves of shares of seeds or of measured values."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import fdtrc, xlogy

from palea.calc import simulated
from palea.calc.germination.arms import ONE_BATCH
from palea.calc.germination.dishes import LABELS, counted_dishes
from palea.calc.germination.stress_terms import AT_HIGH, AT_ZERO, ED10, ED50, ED90, PEAK, PEAK_DOSE, STEEP, UNITS
from palea.calc.results import Estimate, Refusal, Values
from palea.calc.stats import dose_response as curves
from palea.calc.stats.effective_doses import effective_dose, peak_dose, peak_response
from palea.calc.stats.proportions import t_quantile
from palea.calc.terms import Denominator, Rung
from palea.errors import UnfitValue

FEWEST_DOSES, FEWEST_BELOW, TEST = 4, 2, 0.05
TOO_FEW = "A dose curve needs four doses above 0 and 0 itself; here are {} above 0{}."
FLAT = "No response to the dose was shown (F test against a flat line, p = {:.2g}), so no dose can be read off."
HORMESIS_SHOWN = "A rise at low doses was shown against the curve without one (p = {:.2g})."
OUTSIDE = "Outside the doses tried, 0 to {:g} {}."
REMEDY = "Add doses until there are four above 0, spread so that some do little and some nearly all they can."
LEVELS = {ED10: 0.1, ED50: 0.5, ED90: 0.9}
ASSUMPTIONS = (
    "Dishes or batches of one dose differ by chance alone, alike at all doses (counts: by one dispersion).",
    "Doses are those that reached the seed, and are known without error.",
    "The response changes by much against how dishes differ: where it hardly does, intervals of doses are too narrow.",
)


@dataclass(frozen=True)
class _Line:
    """Dishes (or batches) along one series of doses: arrays of one length; n is None for measured values."""

    dose: np.ndarray
    response: np.ndarray
    n: np.ndarray | None
    said: str
    dose_unit: str

    @property
    def share(self):
        """Response a unit."""
        return self.response if self.n is None else self.response / self.n

    @property
    def scale(self):
        """Shares come in %."""
        return 1.0 if self.n is None else 100.0


def dose(shares, series, quantity=None, denominator=Denominator.FILLED, confidence=0.95):
    """Dose-response of shares of seeds -> Values, or Refusal where no series has enough doses.

    shares : as in germination.final.  series : frame, one row a treatment of a series of doses: series (the treatment
    without the active, by which results name it), active, treatment, dose (that reached the seed; 0 for that
    treatment), dose_unit.  quantity, denominator : which shares; None: each.
    Counts of seeds, of batches where every dose has two or more, else of dishes: log-logistic with four parameters,
    maximum likelihood, covariance times Pearson's X2 / df (not below 1), t on it. Reported: response without the active
    and at a high dose [%], doses for 10, 50 and 90 % of the effect (interval on the log scale, delta method),
    steepness. Where two doses or more lie below the dose with the highest share, a curve with a rise at low doses is
    tried. It is reported if it is shown (F test at 5 % against the curve without f), fits better than four parameters
    and falls below the response without the active within the doses tried: then also the highest response and its
    dose, and the doses are those past the peak.
    Not judged, with the reason: fewer than four doses above 0, no zero, no response shown. True coverage of nominal 95 %
    (tests/coverage, dose): 93 to 97 %, but 81 to 86 % where 25 points of response stand against dishes with rho 0.2;
    such estimates carry a `caution`.
    Source: Seefeldt, Jensen & Fuerst 1995, Weed Technol. 9:218-227; Brain & Cousens 1989, Weed Res. 29:93-96; counts:
    McCullagh & Nelder 1989, Generalized Linear Models, ch. 4.5.
    """
    dishes, warnings = counted_dishes(shares)
    for column, wanted in (("quantity", quantity), ("denominator", denominator)):
        dishes = dishes if wanted is None else dishes[dishes[column] == str(wanted)]
    joined = dishes.merge(_plain(series), on="treatment")
    units = dishes[dishes["treatment"].isin(joined["treatment"])][LABELS]
    units = units.assign(value=100 * dishes["k"] / dishes["n"])
    return _values(joined, units, warnings, confidence)


def dose_of_values(values, series, confidence=0.95):
    """Dose-response of measured values, as masses or lengths -> Values or Refusal; otherwise as `dose`.

    values : frame, one row a unit: taxon, treatment, environment, batch, unit, quantity, value, value_unit.
    Least squares with one variance at all doses; all quantities come in the unit of the value or the dose.
    Source: Seefeldt, Jensen & Fuerst 1995, Weed Technol. 9:218-227; Brain & Cousens 1989, Weed Res. 29:93-96.
    """
    known = values[values["value"].notna()].assign(denominator="")
    joined = known.merge(_plain(series), on="treatment")
    return _values(joined, known[[*LABELS, "value"]], (), confidence)


def _plain(series):
    text = {name: series[name].astype("string").fillna("").to_numpy(str)
            for name in ("series", "active", "treatment", "dose_unit")}
    return pd.DataFrame(text | {"dose": series["dose"].to_numpy(float, na_value=np.nan)}).dropna(subset=["dose"])


def _values(joined, units, warnings, confidence):
    estimates, alone = [], set()
    keys = ["taxon", "environment", "series", "active", "quantity", "denominator"]
    for key, part in joined.groupby(keys, sort=False):
        estimates += _of_series(dict(zip(keys, key, strict=True)), part, confidence)
        alone |= {key[2]} if part.groupby("dose")["batch"].nunique().max() == 1 else set()
    if not any(np.isfinite(e.value) for e in estimates):
        missing = next((e.reason for e in estimates), "No treatment belongs to a series of doses of one active.")
        return Refusal(quantity=ED50, missing=missing, remedy=REMEDY, warnings=warnings)
    one = (f"{ONE_BATCH} ({', '.join(sorted(alone))}.)",) if alone else ()
    return Values(
        units=units.reset_index(drop=True), estimates=tuple(estimates), assumptions=ASSUMPTIONS,
        warnings=(*warnings, *one),
        method="Log-logistic dose-response with four parameters (three where a high dose leaves nothing); with a rise at "
        "low doses after Brain and Cousens where two doses lie below the peak and an F test at 5 % shows it. Counts by "
        "maximum likelihood with one dispersion not below 1, measured values by least squares; delta method, t on the "
        "residual degrees of freedom; doses on the log scale.",
    )


def _of_series(key, part, confidence):
    """Estimates of one series; a single one, not judged, where there is no curve."""
    rung, rows = _on_rung(part)
    bare = {
        "of": {"taxon": key["taxon"], "environment": key["environment"], "treatment": key["series"]},
        "confidence": confidence, "rung": rung, "n_batches": part["batch"].nunique(), "n_units": len(part),
        "n_seeds": round(part["n"].sum()) if "n" in part else 0,
    }  # fmt: skip
    unit = part["dose_unit"].iloc[0]
    named = ", ".join(f"{x:g}" for x in np.unique(part["dose"]))
    line = _Line(rows["dose"].to_numpy(float), rows["k" if "n" in part else "value"].to_numpy(float),
                 rows["n"].to_numpy(float) if "n" in part else None,
                 f"{key['quantity'].capitalize()}; {key['active']} at {named} {unit}.", unit)
    fitted, remark = _curve(line)
    if fitted is None:
        return [Estimate(ED50, value=np.nan, unit=unit, verdict="not judged", reason=f"{line.said} {remark}", **bare)]
    response_unit = part["value_unit"].iloc[0] if "value_unit" in part else UNITS[AT_ZERO]
    bare["caution"] = _caution(fitted, line)
    return list(_estimates(fitted, line, remark, confidence, key["denominator"], response_unit, bare))


def _caution(fitted, line):
    """The Caution of counts of a series whose intervals simulation has shown to be short; else None."""
    change = fitted.parameters["d"] - fitted.parameters.get("c", 0.0)
    short = line.n is not None and simulated.little_response(change, fitted.variance, line.n.mean())
    return simulated.LITTLE_RESPONSE if short else None


def _on_rung(part):
    """Batches where every dose has two or more, else the dishes as they are."""
    if part.groupby("dose")["batch"].nunique().min() < 2:
        return str(Rung.DISH), part
    by = part.groupby(["dose", "batch"])
    return str(Rung.BATCH), (by[["k", "n"]].sum() if "n" in part else by[["value"]].mean()).reset_index()


def _curve(line):
    """(DoseFit, remark), or (None, why not)."""
    used = np.unique(line.dose)
    above = used[used > 0]
    if above.size < FEWEST_DOSES or used[0] != 0:
        return None, TOO_FEW.format(above.size, "" if used[0] == 0 else " and no 0")
    try:
        fitted = _with_ends(line)
    except UnfitValue as error:
        return None, str(error)
    if hormesis_may_be_tried(line.dose, line.share):
        without, with_it = (curves.fit(line.dose, line.response, line.n, model) for model in (curves.THREE, curves.HORMESIS))
        p_value = _p(without.loss - with_it.loss, 1, with_it)
        falls = effective_dose(with_it, LEVELS[ED10]).value <= used[-1]
        if p_value < TEST and with_it.parameters["f"] > 0 and falls and with_it.loss < fitted.loss:
            return with_it, HORMESIS_SHOWN.format(p_value)
    p_value = _p(_flat_loss(line) - fitted.loss, line.dose.size - 1 - fitted.df, fitted)
    return (fitted, "") if p_value < TEST else (None, FLAT.format(p_value))


def hormesis_may_be_tried(dose, response):
    """Whether two doses above 0 or more lie below the one with the highest mean response, and one above it."""
    used = np.unique(dose[dose > 0])
    means = np.array([response[dose == x].mean() for x in used])
    at = int(means.argmax())
    return at >= FEWEST_BELOW and at < used.size - 1 and means[at] > response[dose == 0].mean()


def _with_ends(line):
    """Four parameters; three where the share at a high dose runs to 0."""
    fitted = curves.fit(line.dose, line.response, line.n, curves.FOUR)
    if line.n is not None and fitted.parameters["c"] < curves.AT_END:
        return curves.fit(line.dose, line.response, line.n, curves.THREE)
    return fitted


def _flat_loss(line):
    if line.n is None:
        return float(np.sum((line.response - line.response.mean()) ** 2))
    k, n, p = line.response, line.n, line.response.sum() / line.n.sum()
    return 2 * float(np.sum(xlogy(k, k / n / max(p, 1e-300)) + xlogy(n - k, (1 - k / n) / max(1 - p, 1e-300))))


def _p(gain, df, fitted):
    return float(fdtrc(df, fitted.df, max(gain, 0.0) / df / fitted.variance)) if fitted.df > 0 and df > 0 else 1.0


def _estimates(fitted, line, remark, confidence, denominator, response_unit, bare):
    """Yield what is read off the curve."""
    critical, scale = t_quantile(confidence, fitted.df), line.scale
    errors = fitted.standard_errors
    ends = [(AT_ZERO, "d")] + ([(AT_HIGH, "c")] if "c" in fitted.parameters else [])
    for quantity, name in ends:
        value, half = scale * fitted.parameters[name], scale * critical * errors[name]
        low, high = (0.0, 100.0) if line.n is not None else (-np.inf, np.inf)
        known = errors[name] > 0
        yield Estimate(quantity, value=value, lower=max(value - half, low) if known else np.nan,
                       upper=min(value + half, high) if known else np.nan, unit=response_unit, df=float(fitted.df),
                       denominator=denominator, reason=" ".join(filter(None, (line.said, remark))), **bare)
    for quantity, share in LEVELS.items():
        yield _at_dose(quantity, effective_dose(fitted, share, confidence, logged=True), line, fitted, bare)
    yield Estimate(STEEP, value=fitted.parameters["b"], lower=fitted.parameters["b"] - critical * errors["b"],
                   upper=fitted.parameters["b"] + critical * errors["b"], unit=UNITS[STEEP], df=float(fitted.df), **bare)
    if "f" in fitted.parameters:
        top = peak_response(fitted, confidence)
        yield Estimate(PEAK, value=scale * top.value, lower=scale * top.lower, upper=scale * top.upper,
                       unit=response_unit, denominator=denominator, df=float(fitted.df), **bare)
        yield _at_dose(PEAK_DOSE, peak_dose(fitted, confidence, logged=True), line, fitted, bare)


def _at_dose(quantity, found, line, fitted, bare):
    most = line.dose.max()
    outside = OUTSIDE.format(most, line.dose_unit) if np.isfinite(found.value) and found.value > most else ""
    return Estimate(quantity, value=found.value, lower=found.lower, upper=found.upper, unit=line.dose_unit,
                    df=float(fitted.df), reason=outside, **bare)
