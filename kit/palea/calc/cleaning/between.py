"""Values of runs gathered into means of methods, and methods compared where both have two runs or more."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np

from palea.calc.results import Effects, Estimate
from palea.calc.stats.contrasts import Question, answer
from palea.calc.stats.proportions import t_quantile
from palea.calc.stats.share_means import of_batches
from palea.calc.stats.value_means import of_values
from palea.calc.stats.verdicts import UNDECLARED
from palea.calc.terms import Kind, Rung, Verdict

KEYS = ("taxon", "treatment")
LABELS = [*KEYS, "unit", "batch", "quantity", "denominator", "value"]
ONE_RUN = "One run: it is described, not compared."
AGREE = "All runs of the methods agree to the last digit, so there is no spread to judge by."
NOTHING = "It was not measured in the runs of {}."


@dataclass(frozen=True)
class Measured:
    """One quantity: its name, unit, and whether it is compared as a ratio (a time) and not as a difference."""

    quantity: str
    unit: str
    ratio: bool = False


@dataclass(frozen=True)
class _Cell:
    """Runs of one species and quantity."""

    taxon: str
    what: Measured
    rows: object
    confidence: float

    @property
    def names(self):
        return list(dict.fromkeys(self.rows["treatment"]))

    def values(self, name):
        return self.rows.loc[self.rows["treatment"] == name, "value"].to_numpy(float)

    def behind(self, *names):
        rows = self.rows[self.rows["treatment"].isin(names)]
        seeds = rows["seeds"].sum() if "seeds" in rows else 0
        return {"n_batches": len(rows), "n_seeds": round(float(seeds))}

    @property
    def scale(self):
        """What one unit of the means is in the unit of the quantity: counted shares are kept from 0 to 1."""
        return 100.0 if self._counted else 1.0

    @property
    def _counted(self):
        n = self.rows["n"]
        known = n.notna().all() and (n > 0).all() and self.rows["value"].between(0, 100).all()
        return not self.what.ratio and bool(known)

    @cached_property
    def means(self):
        """Means of the methods with two runs or more, in logs for a ratio; None where there is nothing to compare."""
        many = self.rows.groupby("treatment")["value"].transform("size") > 1
        rows = self.rows[many & ((self.rows["value"] > 0) | (not self.what.ratio))]
        if rows.empty:
            return None
        if self._counted:
            return of_batches(rows["treatment"], rows["value"] / 100 * rows["n"], rows["n"])
        return of_values(rows["treatment"], np.log(rows["value"]) if self.what.ratio else rows["value"])

    def turned(self, x):
        """From the scale of the means to the unit of the quantity."""
        return float(np.exp(x)) if self.what.ratio else float(x) * self.scale


def answers(long, asked, measured, confidence, warnings=()):
    """Means of methods and effects between them -> Effects.

    long : frame, one row a run and quantity: taxon, treatment, control (bool), batch, quantity, value, seeds, n (units
    that a share in % was counted of; nan: it was not counted).
    asked : declared contrasts, as in germination.final.  measured : quantities in the order to show them.
    One spread between runs, pooled over the methods of a species with two runs or more; counted shares near an end, or
    that cannot vary alike, as quasi-binomial counts (see share_means.of_batches).
    Source: Snedecor & Cochran 1989; Dunnett 1955; Holm 1979; Schuirmann 1987.
    """
    cells = [
        _Cell(str(taxon), what, rows, confidence)
        for taxon, of_taxon in long.groupby("taxon", sort=False, dropna=False)
        for what in measured
        if len(rows := of_taxon[of_taxon["quantity"] == what.quantity])
    ]
    groups = tuple(_group(cell, name) for cell in cells for name in cell.names)
    asked_for = [] if asked is None or asked.empty else asked.to_dict("records")
    effects = tuple(effect for cell in cells for effect in _effects(cell, asked_for))
    return Effects(
        units=long.assign(unit=long["batch"], denominator="")[LABELS],
        groups=groups, effects=effects, warnings=tuple(warnings),
        method="Unit of replication: the cleaning run. Shares compared as a minus b in points, minutes as a ratio of "
        "geometric means. One variance between runs, pooled over the methods of a species, t intervals; counted shares "
        "near 0 or 100 % as quasi-binomial counts with score intervals.",
        assumptions=("Runs of a method were made independently, each with its own portion of the lot.",
                     "One received lot a species: the answer is for that lot."),
    )  # fmt: skip


def _group(cell, name):
    values, means, reason = cell.values(name), cell.means, ""
    lower = upper = df = np.nan
    if means is not None and name in means.names:
        value, lower, upper = map(cell.turned, means.interval(name, t_quantile(cell.confidence, means.df)))
        df = float(means.df)
    else:
        value, reason = float(values.mean()), ONE_RUN if len(values) < 2 else AGREE
    return Estimate(
        cell.what.quantity, MappingProxyType({"taxon": cell.taxon, "treatment": str(name)}), value, max(lower, 0.0)
        if lower == lower else lower, upper, confidence=cell.confidence, unit=cell.what.unit, df=df,
        rung=str(Rung.BATCH), reason=reason, **cell.behind(name),
    )  # fmt: skip


def _effects(cell, asked):
    """Declared contrasts first, then what else can be compared with the control, without a verdict."""
    declared = [row for row in asked if row["taxon"] == cell.taxon and row["quantity"] == cell.what.quantity]
    taken = {pair for row in declared for pair in ((row["a"], row["b"]), (row["b"], row["a"]))}
    controls = list(dict.fromkeys(cell.rows.loc[cell.rows["control"].isin([True]), "treatment"]))
    beside = [
        {"a": a, "b": b, "undeclared": True} for b in controls for a in cell.names if a != b and (a, b) not in taken
    ]
    means = cell.means
    rows = [(row, _why_not(cell, means, row)) for row in (*declared, *beside)]
    answered = iter(answer([_question(cell, means, row) for row, why in rows if not why], cell.confidence))
    for row, why in rows:
        if not why:
            yield _effect(cell, row, next(answered))
        elif not row.get("undeclared"):
            yield _refused(cell, row, why)


def _why_not(cell, means, row):
    """Why two methods cannot be compared; "" where they can."""
    if isinstance(row.get("refused"), str) and row["refused"]:
        return row["refused"]
    for name in (row["a"], row["b"]):
        if name not in cell.names:
            return NOTHING.format(name)
        if means is not None and name not in means.names:
            return f"{name} has one run: repeat it, each time with a portion of its own."
    return "" if means is not None else AGREE if (cell.rows["treatment"].value_counts() > 1).all() else ONE_RUN


def _question(cell, means, row):
    margin = _number(row, "margin")
    margin = float(np.log(margin)) if cell.what.ratio and margin > 1 else margin / cell.scale
    return Question(
        means, str(row["a"]), str(row["b"]), (cell.taxon, cell.what.quantity), cell.taxon,
        _text(row, "kind") or str(Kind.SUPERIORITY), margin, _text(row, "wanted") or "higher", _flag(row, "primary"),
        _text(row, "asks_about"), _flag(row, "margin_late"),
    )  # fmt: skip


def _number(row: Mapping, name):
    value = row.get(name)
    return float(value) if value is not None and value == value else np.nan


def _flag(row: Mapping, name):
    value = row.get(name)
    return bool(value) if isinstance(value, bool | np.bool_) else False


def _text(row: Mapping, name):
    value = row.get(name, "")
    return value if isinstance(value, str) else ""


def _effect(cell, row, found):
    bare = Estimate(
        cell.what.quantity, _sides(cell, row), cell.turned(found.value), *map(cell.turned, found.outer),
        scale="ratio" if cell.what.ratio else "difference", confidence=cell.confidence,
        unit="1" if cell.what.ratio else cell.what.unit, df=float(found.df), p_value=float(found.p_value),
        rung=str(Rung.BATCH), inner_lower=cell.turned(found.inner[0]), inner_upper=cell.turned(found.inner[1]),
        verdict=found.verdict, reason=found.reason, **cell.behind(row["a"], row["b"]),
    )  # fmt: skip
    if row.get("undeclared"):
        return replace(bare, verdict="", reason=" ".join(filter(None, (found.reason, UNDECLARED))))
    return replace(bare, margin=_number(row, "margin"), kind=_text(row, "kind"), primary=_flag(row, "primary"),
                   asks_about=_text(row, "asks_about"))  # fmt: skip


def _refused(cell, row, why):
    behind = cell.behind(row["a"], row["b"])
    return Estimate(
        cell.what.quantity, _sides(cell, row), np.nan, scale="ratio" if cell.what.ratio else "difference",
        confidence=cell.confidence, unit="1" if cell.what.ratio else cell.what.unit, kind=_text(row, "kind"),
        asks_about=_text(row, "asks_about"), verdict=str(Verdict.NOT_JUDGED), reason=why, **behind,
    )  # fmt: skip


def _sides(cell, row):
    return MappingProxyType({"taxon": cell.taxon, "a": str(row["a"]), "b": str(row["b"])})

