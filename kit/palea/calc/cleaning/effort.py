"""How long cleaning takes as mass grows: setting up, each filling, each gram; and from what mass setting up pays."""

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from scipy import optimize

from palea.calc.checked import above_zero, not_below_zero
from palea.calc.results import Estimate, Refusal, Values
from palea.calc.stats.proportions import t_quantile
from palea.calc.terms import Rung
from palea.calc.units import per

SETUP, FILLING = "minutes to set up", "minutes per filling"
GRAM, QUICKER = "minutes per gram more", "mass from which it is quicker"
HARDLY = 1e-9


@dataclass(frozen=True)
class Effort:
    """minutes(mass) = setup + per_filling x ceil(mass / capacity) + per_gram x mass.

    setup, per_filling [min], per_gram [min/g], none below 0.  capacity_g : most that goes in at once; inf: no limit,
    and then per_filling is 0.  errors : standard errors in that order, nan where they cannot be had.  df : runs less
    terms fitted.  spread : standard deviation of a run about the line [min].
    """

    setup: float
    per_filling: float
    per_gram: float
    capacity_g: float = np.inf
    errors: tuple[float, float, float] = (np.nan, np.nan, np.nan)
    df: int = 0
    spread: float = np.nan

    def minutes(self, mass_g):
        """Minutes for a mass [g]; array of the shape of mass_g. Nothing takes no time."""
        mass = not_below_zero(mass_g, "mass_g")
        fillings = np.ceil(mass / self.capacity_g) if np.isfinite(self.capacity_g) else np.zeros(mass.shape)
        return np.where(mass > 0, self.setup + self.per_filling * fillings + self.per_gram * mass, 0.0)


def fit(mass_g, minutes, capacity_g=np.inf, *, setup=True):
    """Effort model of runs by least squares with no term below 0.

    mass_g, minutes : (runs,) > 0.  capacity_g : see Effort; where no run needed a second filling the two cannot be told
    apart, and a filling is part of setting up.  setup : False for work by hand, which has nothing to set up: minutes in
    proportion to mass.
    A term at 0 has no standard error. Raises UnfitValue for a mass that is not above 0 or fewer runs than terms.
    Source: Lawson & Hanson 1974, Solving least squares problems (non-negative least squares).

    >>> found = fit([10, 20, 40, 80], [32.5, 35, 40, 50])
    >>> round(found.setup, 6), round(found.per_gram, 6)
    (30.0, 0.25)
    """
    mass, took = np.atleast_1d(above_zero(mass_g, "mass_g")), np.atleast_1d(not_below_zero(minutes, "minutes"))
    fillings = np.ceil(mass / capacity_g) if np.isfinite(capacity_g) else np.zeros(mass.size)
    used = [setup, bool(setup and np.ptp(fillings) > 0), True]
    design = np.column_stack([np.ones(mass.size), fillings, mass])[:, used]
    if np.linalg.matrix_rank(design) < design.shape[1]:
        used[0 if not used[1] else 1] = False
        design = np.column_stack([np.ones(mass.size), fillings, mass])[:, used]
    scale = design.max(axis=0)
    coefficients = optimize.nnls(design / scale, took)[0] / scale
    terms, errors, df, spread = np.zeros(3), np.full(3, np.nan), mass.size - design.shape[1], np.nan
    terms[used] = coefficients
    if df > 0:
        spread = float(np.sqrt(np.sum((took - design @ coefficients) ** 2) / df))
        errors[np.array(used) & (terms > 0)] = _errors(design[:, coefficients > 0], spread)
    return Effort(*map(float, terms), capacity_g if used[1] else np.inf, tuple(errors.tolist()), df, spread)


def _errors(design, spread):
    return spread * np.sqrt(np.diag(np.linalg.inv(design.T @ design)))


def quicker_from(machine, by_hand, most_g=1e6):
    """Mass from which the machine is quicker than hands for good [g]; 0: always, inf: never up to `most_g`.

    machine, by_hand : Effort. Without fillings: (S_m - S_h) / (g_h - g_m). With fillings the lines cross more than
    once; the answer is the last crossing.
    Source: derived by hand.

    >>> round(quicker_from(Effort(30, 0, 0.25), Effort(0, 0, 4.5)), 1)
    7.1
    """
    if not (np.isfinite(machine.capacity_g) or np.isfinite(by_hand.capacity_g)):
        return _crossing(machine.setup - by_hand.setup, by_hand.per_gram - machine.per_gram)
    steepness = by_hand.per_gram + by_hand.per_filling / by_hand.capacity_g
    if machine.per_gram + machine.per_filling / machine.capacity_g >= steepness:
        return np.inf
    return _last_crossing(machine, by_hand, most_g)


def _crossing(ahead, gain):
    if gain <= HARDLY:
        return np.inf if ahead > 0 or gain < -HARDLY else 0.0
    return max(float(ahead / gain), 0.0)


def _last_crossing(machine, by_hand, most_g):
    """Between two steps both are straight, so a crossing lies in the last piece in which the machine is slower."""
    capacities = [e.capacity_g for e in (machine, by_hand) if np.isfinite(e.capacity_g)]
    steps = [np.arange(1, most_g / capacity + 1) * capacity for capacity in capacities]
    ends = np.unique(np.concatenate([*steps, [most_g]])[: int(1e6)])
    starts = np.append(0.0, ends[:-1])
    slower_at_end = machine.minutes(ends) > by_hand.minutes(ends)
    slower_at_start = machine.minutes(starts + HARDLY * ends) > by_hand.minutes(starts + HARDLY * ends)
    slower = np.flatnonzero(slower_at_end | slower_at_start)
    if slower.size == 0:
        return 0.0
    last = slower[-1]
    if slower_at_end[last]:
        return float(ends[last]) if last + 1 < ends.size else np.inf
    low, high = starts[last] + HARDLY * ends[last], ends[last]

    def behind(mass):
        return float(machine.minutes(mass) - by_hand.minutes(mass))

    return float(optimize.brentq(behind, low, high)) if behind(high) < 0 else float(high)


def effort(cleaning_times, confidence=0.95):
    """Time model of each method fitted from its runs, and from what mass it is quicker than the control -> Values.

    cleaning_times : frame, one row a cleaning run: taxon, treatment, control (bool: by hand), batch, raw_g [g], minutes
    (hands-on), capacity_g (most in one filling; nan: no limit), sets_up (bool: is there anything to set up?).
    A method needs more runs than terms (setting up, filling, gram) at different masses; else it is told in a warning.
    Refusal where no method can be fitted.
    Intervals: t on runs less terms. The mass from which it is quicker has none: it is read off two fitted lines.
    Source: Lawson & Hanson 1974 (non-negative least squares); common practice (the three terms).
    """
    read = cleaning_times.dropna(subset=["raw_g", "minutes"])
    fitted, told = {}, []
    for (taxon, name), rows in read.groupby(["taxon", "treatment"], sort=False, dropna=False):
        found = _fitted(rows)
        if isinstance(found, str):
            told.append(f"{name}: {found}")
        else:
            fitted[str(taxon), str(name)] = found
    if not fitted:
        return Refusal(quantity=GRAM, missing="No method has runs enough to fit a time to.", warnings=tuple(told),
                       remedy="Enter mass and hands-on minutes of three runs or more at different masses.")
    estimates = [e for key, found in fitted.items() for e in _terms(*key, found, confidence)]
    estimates += list(_quicker(read, fitted, confidence))
    units = read.assign(unit=read["batch"], quantity=GRAM, denominator="", value=read["minutes"] / read["raw_g"])
    return Values(
        units=units[["taxon", "treatment", "unit", "batch", "quantity", "denominator", "value"]],
        estimates=tuple(estimates), warnings=tuple(told),
        method="Minutes of a run = setting up + each filling + each gram, by least squares with no term below 0; t "
        "intervals on runs less terms. Unit of replication: the cleaning run.",
        assumptions=("The time of a run scatters alike about its line at every mass.",),
    )


@dataclass(frozen=True)
class _Fitted:
    model: Effort
    runs: int


def _fitted(rows):
    """The model of one method, or a sentence, why it has none."""
    sets_up = bool(rows["sets_up"].isin([True]).any())
    needed = 2 if sets_up else 1
    if len(rows) <= needed or (sets_up and rows["raw_g"].nunique() < needed):
        masses = rows["raw_g"].nunique()
        return (f"too few runs ({len(rows)}, different masses: {masses}) to tell setting up from grams; "
                f"{needed + 1} at different masses are needed.")
    capacity = rows["capacity_g"].dropna()
    return _Fitted(fit(rows["raw_g"], rows["minutes"], float(capacity.iloc[0]) if len(capacity) else np.inf,
                       setup=sets_up), len(rows))  # fmt: skip


def _terms(taxon, name, found, confidence):
    model = found.model
    critical = t_quantile(confidence, model.df) if model.df > 0 else np.nan
    values = (model.setup, model.per_filling, model.per_gram)
    for quantity, value, error, unit in zip(
        (SETUP, FILLING, GRAM), values, model.errors, ("min", "min", per("min", "g")), strict=True
    ):
        if value > 0:
            half = critical * error
            yield Estimate(
                quantity, MappingProxyType({"taxon": taxon, "treatment": name}), value,
                float(np.maximum(value - half, 0)), float(value + half), confidence=confidence, unit=unit,
                df=float(model.df), n_batches=found.runs, rung=str(Rung.BATCH),
            )  # fmt: skip


def _quicker(read, fitted, confidence):
    """For each species, each other method against the one by hand."""
    hand = read[read["control"].isin([True])][["taxon", "treatment"]].drop_duplicates()
    for taxon, control in hand.astype(str).itertuples(index=False):
        if (taxon, control) not in fitted:
            continue
        for (of, name), found in fitted.items():
            if of == taxon and name != control:
                mass = quicker_from(found.model, fitted[taxon, control].model)
                never = f"It is never quicker than {control}." if np.isinf(mass) else ""
                yield Estimate(
                    QUICKER, MappingProxyType({"taxon": taxon, "a": name, "b": control}),
                    np.nan if never else mass, confidence=confidence, unit="g", rung=str(Rung.BATCH), reason=never,
                    n_batches=found.runs + fitted[taxon, control].runs,
                )  # fmt: skip
