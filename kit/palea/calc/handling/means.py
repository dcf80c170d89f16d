"""Means of repeated readings of a material, and declared contrasts between materials: the common part of handling.

The unit of replication is a batch where the arms have two or more, else the single run or sample, and then every
sentence says that the answer holds for that batch only.
"""

from dataclasses import dataclass, replace

import numpy as np

from palea.calc.germination.arms import KEYS
from palea.calc.handling.terms import ONE_BATCH, SIGNED, UNITS
from palea.calc.results import Estimate
from palea.calc.stats import declared, value_means
from palea.calc.stats.proportions import t_quantile
from palea.calc.terms import Rung

DESCRIBED = "{} has {} of the {} runs or samples that a comparison needs, so it is described only."

AGREE = "All readings of each material agree wholly, so how much they vary is not known. Read to more digits or repeat."


@dataclass(frozen=True)
class Ladder:
    """How readings are replicated: the rung of a single one, and how many of them an interval needs at least."""

    rung: str
    fewest: int = 2


@dataclass(frozen=True)
class Material:
    """The readings of one quantity of one material: values and batches, both (n,)."""

    values: np.ndarray
    batches: np.ndarray

    @property
    def of_batches(self):
        """(batches,) means."""
        names, at = np.unique(self.batches, return_inverse=True)
        return np.bincount(at, self.values) / np.bincount(at) if names.size else np.zeros(0)


@dataclass(frozen=True)
class Readings:
    """All materials of one taxon, environment and quantity. logged : values are logs, so that effects are ratios."""

    materials: dict[str, Material]
    ladder: Ladder
    logged: bool

    def replicated(self, *names):
        """(rung, values by material) on the highest rung that all of these are replicated on; ("", the reason)."""
        missing = [name for name in names if name not in self.materials]
        if missing:
            return "", f"Nothing was measured for {' and '.join(missing)}."
        if all(self.materials[name].of_batches.size > 1 for name in names):
            return str(Rung.BATCH), {n: m.of_batches for n, m in self.materials.items() if m.of_batches.size > 1}
        fewest = self.ladder.fewest
        for name in names:
            if self.materials[name].values.size < fewest:
                return "", DESCRIBED.format(name, self.materials[name].values.size, fewest)
        return self.ladder.rung, {n: m.values for n, m in self.materials.items() if m.values.size >= fewest}

    def means(self, *names):
        """(rung, ValueMeans), or ("", why not)."""
        rung, values = self.replicated(*names)
        if not rung:
            return "", values
        labels = np.repeat(list(values), [v.size for v in values.values()])
        means = value_means.of_values(labels, np.concatenate(list(values.values())))
        return (rung, means) if means else ("", AGREE)

    def behind(self, *names):
        """How many stand behind these materials, as fields of an Estimate."""
        held = [self.materials[name] for name in names if name in self.materials]
        return {"n_batches": sum(np.unique(m.batches).size for m in held), "n_units": sum(m.values.size for m in held)}


def readings(units, quantity, ladder, *, logged=False):
    """{(taxon, environment): Readings} of one quantity.

    units : frame, one row a run or sample and quantity: taxon, treatment, environment, batch, unit, quantity, value.
    Rows without a value are left out; of logs, also those that are not above 0.
    """
    mine = units[(units["quantity"] == quantity) & units["value"].notna()]
    if logged:
        mine = mine[mine["value"] > 0]
    found = {}
    for (taxon, environment, treatment), part in mine.groupby(list(KEYS), sort=False, dropna=False):
        values = part["value"].to_numpy(float)
        material = Material(np.log(values) if logged else values, part["batch"].fillna("").to_numpy(str))
        found.setdefault((str(taxon), str(environment)), {})[str(treatment)] = material
    return {key: Readings(materials, ladder, logged) for key, materials in found.items()}


def groups(found, quantity, confidence):
    """An Estimate a material: its mean (of logs: the geometric mean) with its t interval, where it is replicated."""
    return [
        _group(place, (taxon, environment, name), quantity, confidence)
        for (taxon, environment), place in found.items() for name in place.materials
    ]


def _group(place, key, quantity, confidence):
    name, turn = key[2], np.exp if place.logged else np.asarray
    bare = {"quantity": quantity, "of": dict(zip(KEYS, key, strict=True)), "confidence": confidence,
            "unit": UNITS[quantity]} | place.behind(name)
    rung, means = place.means(name)
    if not rung:
        return Estimate(value=float(turn(place.materials[name].values.mean())), reason=means,
                        rung=place.ladder.rung, **bare)
    value, lower, upper = (float(turn(x)) for x in means.interval(name, t_quantile(confidence, means.df)))
    least = -np.inf if quantity in SIGNED else 0.0
    reason = ONE_BATCH if bare["n_batches"] == 1 else ""
    return Estimate(value=value, lower=max(lower, least), upper=upper, df=means.df, rung=rung, reason=reason, **bare)


def effects(found, asked, quantity, confidence):
    """Estimates of the declared contrasts on one quantity; ratios where its readings are logs."""
    logged = any(place.logged for place in found.values())
    posed, out = [], []
    for row in _in_places(declared.about(asked, (quantity,)), found):
        place = found.get((row.taxon, row.environment))
        rung, means = place.means(row.a, row.b) if place else ("", "Nothing was measured here.")
        behind = place.behind(row.a, row.b) if place else {}
        if row.refused or not rung:
            out.append(declared.not_judged(row, means if not rung else "", confidence, UNITS[quantity], ratio=logged,
                                           behind=behind))
        else:
            single = any(place.behind(name)["n_batches"] == 1 for name in (row.a, row.b))
            posed.append((row, means, behind | {"rung": rung}, ONE_BATCH if single else ""))
    return declared.by_means(posed, confidence, UNITS[quantity], ratio=logged) + out


def _in_places(rows, found):
    """A row for each environment that holds one of its sides, where it names none."""
    for row in rows:
        held = [e for (taxon, e), place in found.items()
                if taxon == row.taxon and {row.a, row.b} & set(place.materials)]
        for environment in [row.environment] if row.environment else held or [""]:
            yield replace(row, environment=environment)
