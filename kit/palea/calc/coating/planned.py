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
    unit, reason ("": none written). planned nan: nothing was planned; done nan: not recorded, which is told as a gap.
    within : % of the plan, either way, that counts as done as planned.
    Every departure stands in the warnings, in order. `confidence` is taken for the sake of a common call: these are
    counts of what was done, not samples. Refusal where nothing was planned. Source: common practice, no source.
    """
    read = planned_steps.dropna(subset=["planned"])
    if read.empty:
        return Refusal(quantity=AS_PLANNED, missing="Nothing was planned in figures, so nothing can be compared.",
                       remedy="Write amounts, speeds and times of the recipe into the protocol.")
    off = departure(read["planned"], read["done"])
    zero = (read["planned"] == 0) & (read["done"] == 0)
    read = read.assign(off=np.where(zero, 0.0, off), reason=read["reason"].fillna("").astype(str).str.strip())
    departed = read["done"].notna() & ~(read["off"].abs() <= within)
    read = read.assign(departed=departed, gap=read["done"].isna() | (departed & read["reason"].eq("")))
    groups = read.groupby(["taxon", "treatment"], sort=False, dropna=False)
    estimates = [e for key, part in groups for e in _of(key, part, confidence)]
    units = read.dropna(subset=["off"]).assign(unit=lambda r: r["what"], quantity=FARTHEST, denominator="")
    return Values(
        units=units.assign(value=units["off"])[
            ["taxon", "treatment", "unit", "batch", "quantity", "denominator", "value"]],
        estimates=tuple(estimates), warnings=tuple(_told(read)),
        method=f"Done against planned, figure by figure; within {within:g} % counts as done as planned.",
    )  # fmt: skip


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


def _told(read):
    for row in read.itertuples():
        unit = "" if row.unit in ("1", "") or not isinstance(row.unit, str) else f" {row.unit}"
        where = f"{row.treatment}, {row.batch}, {row.what}"
        if np.isnan(row.done):
            yield f"{where}: planned {row.planned:g}{unit}, not recorded."
        elif row.departed:
            why = row.reason or "no reason was written"
            share = "" if np.isnan(row.off) else f" ({row.off:+.0f} %)"
            yield f"{where}: planned {row.planned:g}{unit}, done {row.done:g}{unit}{share}; {why.rstrip('.')}."
