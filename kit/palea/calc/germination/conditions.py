"""Environments as levels of water and warmth, and dishes of one treatment laid out along them."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from palea.calc.stats.chance import stream
from palea.calc.stats.resampling import dish_weights, strata
from palea.calc.stats.threshold_time import Looks


@dataclass(frozen=True)
class Setting:
    """One level of water and warmth, whatever the chamber.

    temperature : mean over the day, degrees Celsius.  constant : whether it is the same by day and night.
    warmth : (day, night, hours of light), which tells two regimes with one mean apart.  water : potential, MPa.
    environments : ids of the environments that had it.  runs : the chamber and filling of each of them.
    """

    temperature: float
    constant: bool
    warmth: tuple[float, float, float]
    water: float
    environments: tuple[str, ...]
    runs: tuple[str, ...]

    @property
    def name(self):
        """The id of its first environment, by which results name it."""
        return self.environments[0]

    @property
    def says(self):
        """In words: "20/10 °C, -0.4 MPa"."""
        day, night, _ = self.warmth
        warm = f"{day:g} °C" if self.constant else f"{day:g}/{night:g} °C"
        return f"{warm}, {self.water:g} MPa" if self.water else f"{warm}, water"


def settings(environments):
    """Settings in the order in which their first environment was entered, and a warning for what cannot be placed.

    environments : frame, one row a filling of a chamber: environment, chamber, run_no, day_c, night_c (nan: as by day),
    light_hours (nan: 12), water_mpa (0: water; nan: not known, which is not 0).
    Returns (tuple of Setting, tuple of sentences). Two rows of one setting are two incubator runs where chamber or run
    number differ.
    """
    placed = environments[environments["day_c"].notna() & environments["water_mpa"].notna()]
    night = placed["night_c"].fillna(placed["day_c"]).to_numpy(float)
    light = placed["light_hours"].fillna(12.0).to_numpy(float)
    day, water = placed["day_c"].to_numpy(float), placed["water_mpa"].to_numpy(float)
    warmth = list(zip(day.tolist(), night.tolist(), np.where(day == night, 0.0, light).tolist(), strict=True))
    runs = (placed["chamber"].fillna("") + "#" + placed["run_no"].astype("string").fillna("")).to_numpy(str)
    found = {}
    for key, name, run in zip(zip(warmth, water.tolist(), strict=True), placed["environment"], runs, strict=True):
        found.setdefault(key, []).append((str(name), str(run)))
    out = tuple(
        Setting(_mean(warm), warm[0] == warm[1], warm, wet, *map(tuple, zip(*members, strict=True)))
        for (warm, wet), members in found.items()
    )
    lost = environments.loc[~environments.index.isin(placed.index), "environment"]
    told = (f"Temperature or water potential is not recorded for {', '.join(lost)}; left out.",) if len(lost) else ()
    return out, told


def _mean(warmth):
    day, night, light = warmth
    return day if day == night else (light * day + (24 - light) * night) / 24


@dataclass(frozen=True)
class Series:
    """Dishes of one treatment along a row of settings.

    key : taxon, environment (that of the first setting), treatment.  settings : (levels,).
    level, left, right : (n,) of each distinct inspection interval.  counts : (dishes, n).
    units, batches, levels_of_dishes : (dishes,).
    """

    key: dict
    settings: tuple[Setting, ...]
    level: np.ndarray
    left: np.ndarray
    right: np.ndarray
    counts: np.ndarray = field(repr=False)
    units: np.ndarray = field(repr=False)
    batches: np.ndarray = field(repr=False)
    levels_of_dishes: np.ndarray = field(repr=False)

    def looks(self, group=None):
        """Looks of its intervals; group : (n,) as in Looks, one for all where None."""
        return Looks(self.left, self.right, np.zeros(self.level.size, int) if group is None else group)

    @property
    def germinated(self):
        """(levels,) seeds seen to germinate."""
        seen = self.counts[:, np.isfinite(self.right)].sum(axis=0)
        return np.bincount(self.level[np.isfinite(self.right)], seen, len(self.settings))

    @property
    def strata(self):
        """(dishes,) labels within which dishes are drawn again: level and batch."""
        return np.char.add(np.char.add(self.levels_of_dishes.astype(str), "|"), self.batches)

    @property
    def df(self):
        """Dishes less the strata that they are drawn in."""
        return self.units.size - np.unique(strata(self.strata)).size

    def draws(self, purpose, replicates, seed):
        """(replicates, n) counts of dishes drawn again within level and batch."""
        return dish_weights(self.strata, replicates, stream(seed, purpose, *self.key.values())) @ self.counts

    @property
    def behind(self):
        """How many stand behind it, as fields of an Estimate."""
        return {"n_batches": np.unique(self.batches).size, "n_units": self.units.size,
                "n_seeds": round(float(self.counts.sum()))}


def series(intervals, chosen):
    """{(taxon, treatment): Series} of the dishes that stood in one of the chosen settings.

    intervals : frame, see germination.time.curve.  chosen : settings, in the order in which they become levels.
    """
    level = {name: at for at, setting in enumerate(chosen) for name in setting.environments}
    mine = intervals[intervals["environment"].isin(list(level)) & (intervals["count"] > 0)]
    parts = mine.groupby(["taxon", "treatment"], sort=False)
    return {tuple(map(str, key)): _series(key, part, chosen, level) for key, part in parts}


def _series(key, part, chosen, level):
    at = part["environment"].map(level).to_numpy(int)
    held, at = np.unique(at, return_inverse=True)
    kept = tuple(chosen[i] for i in held)
    unit, units = pd.factorize(part["unit"].astype(str).to_numpy(), sort=True)
    ends = np.column_stack([at, part[["left", "right"]].to_numpy(float)])
    ends, place = np.unique(ends, axis=0, return_inverse=True)
    counts = np.zeros((units.size, len(ends)))
    np.add.at(counts, (unit, place.ravel()), part["count"].to_numpy(float))
    first = np.zeros(units.size, int)
    first[unit] = np.arange(len(part))
    batches = part["batch"].fillna("").astype(str).to_numpy()[first]
    named = {"taxon": str(key[0]), "environment": kept[0].name, "treatment": str(key[1])}
    return Series(named, kept, ends[:, 0].astype(int), ends[:, 1], ends[:, 2], counts, units, np.asarray(batches, str),
                  at[first])
