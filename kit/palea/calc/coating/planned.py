"""What was planned beside what was done, step by step; a departure without a reason is a gap."""

from types import MappingProxyType

import numpy as np

from palea.calc.checked import not_below_zero
from palea.calc.results import Estimate, Refusal, Values
from palea.calc.terms import Rung

AS_PLANNED, FARTHEST = "steps done as planned", "farthest departure from plan"
UNEXPLAINED = "departures without a reason"
WITHIN = 5.0  # % of the plan that still counts as done as planned


def departure(planned, done):
    """How far done lies from planned: 100 (done - planned) / planned [%]; nan where either is missing or planned is 0.

    >>> departure([8.0, 40.0], [9.2, 40.0]).round(1).tolist()
    [15.0, 0.0]
    """
    planned, done = not_below_zero(planned, "planned"), not_below_zero(done, "done")
    return 100 * (done - planned) / np.where(planned > 0, planned, np.nan)


def planned_and_done(planned_steps, within=WITHIN, confidence=0.95):
    """Steps done as planned, the farthest departure, and departures without a reason, of each treatment -> Values.

    planned_steps : frame, one row a planned figure of a batch: taxon, treatment, batch, what (in words), planned, done,
    unit, reason ("": none written); lowest and highest that the procedure allows (nan, or no such column: it does not
    say). planned nan: only bounds were planned, or nothing; done nan: not recorded, which is told as a gap.
    within : % of the plan, either way, that counts as done as planned on a side where the procedure states no bound.
    Every departure stands in the warnings, in order, and so does what lies within the bounds but was given a reason.
    `confidence` is taken for the sake of a common call: these are counts of what was done, not samples. Refusal where
    nothing was planned. Source: common practice, no source.
    """
    read = _with_bounds(planned_steps, within)
    if read.empty:
        return Refusal(quantity=AS_PLANNED, missing="Nothing was planned in figures, so nothing can be compared.",
                       remedy="Write amounts, speeds and times of the recipe into the protocol.")
    off = departure(read["planned"], read["done"])
    zero = (read["planned"] == 0) & (read["done"] == 0)
    read = read.assign(off=np.where(zero, 0.0, off), reason=read["reason"].fillna("").astype(str).str.strip())
    departed = read["done"].notna() & ~read["done"].between(read["least"], read["most"])
    read = read.assign(departed=departed, gap=read["done"].isna() | (departed & read["reason"].eq("")))
    groups = read.groupby(["taxon", "treatment"], sort=False, dropna=False)
    estimates = [e for key, part in groups for e in _of(key, part, confidence)]
    units = read.dropna(subset=["off"]).assign(unit=lambda r: r["what"], quantity=FARTHEST, denominator="")
    return Values(
        units=units.assign(value=units["off"])[
            ["taxon", "treatment", "unit", "batch", "quantity", "denominator", "value"]],
        estimates=tuple(estimates), warnings=tuple(_told(read, within)),
        method="Done against planned, figure by figure: as planned within the bounds that the procedure states, and where "
        f"it states none within {within:g} %.",
    )  # fmt: skip


def _with_bounds(steps, within):
    """Steps for which something was planned, with the least and the most that count as done as planned."""
    steps = steps.assign(**{name: np.nan for name in ("lowest", "highest") if name not in steps})
    read = steps.dropna(subset=["planned", "lowest", "highest"], how="all")
    planned = read["planned"].astype(float)
    slack = planned.abs() * within / 100 * (1 + 1e-12)  # a departure of just as much is still as planned
    least = read["lowest"].astype(float).fillna(planned - slack).fillna(-np.inf)
    most = read["highest"].astype(float).fillna(planned + slack).fillna(np.inf)
    return read.assign(least=least, most=most)


def _of(key, part, confidence):
    of = MappingProxyType(dict(zip(("taxon", "treatment"), map(str, key), strict=True)))
    recorded = part[part["done"].notna()]
    known = recorded["off"].dropna()
    farthest = float(known.loc[known.abs().idxmax()]) if len(known) else np.nan
    kept = 100 * float((~recorded["departed"]).mean()) if len(recorded) else np.nan
    common = {"confidence": confidence, "n_batches": part["batch"].nunique(), "rung": str(Rung.BATCH)}
    yield Estimate(AS_PLANNED, of, kept, **common, reason="" if len(recorded) else "Nothing was recorded.")
    yield Estimate(FARTHEST, of, farthest, **common)
    yield Estimate(UNEXPLAINED, of, float(part["gap"].sum()), unit="1", **common)


def _told(read, within):
    """A sentence for what was not recorded, for every departure, and for what is allowed but was given a reason."""
    for row in read.itertuples():
        unit = "" if row.unit in ("1", "") or not isinstance(row.unit, str) else f" {row.unit}"
        where = f"{row.treatment}, {row.batch}, {row.what}"
        plan = f"{_plan(row)}{unit}"
        if np.isnan(row.done):
            yield f"{where}: planned {plan}, not recorded."
        elif row.departed or (row.reason and abs(row.off) > within):
            why = row.reason or "no reason was written"
            allowed = "" if row.departed else ", which the procedure allows"
            share = "" if np.isnan(row.off) else f" ({row.off:+.0f} %)"
            yield f"{where}: planned {plan}, done {row.done:g}{unit}{share}{allowed}; {why.rstrip('.')}."


def _plan(row):
    """The planned figure with what the procedure allows: "8", "8 (7.5 to 8.5)", "7.5 to 8.5", "at most 8.5"."""
    low, high = (f"{x:g}" if np.isfinite(x) else "" for x in (row.lowest, row.highest))
    span = f"{low} to {high}" if low and high else f"at least {low}" if low else f"at most {high}" if high else ""
    if np.isnan(row.planned):
        return span
    return f"{row.planned:g} ({span})" if span else f"{row.planned:g}"
