"""The bag for two portions that a trial followed: which places stand for bad seasons, and how often those come."""

import numpy as np
import pandas as pd

from palea.calc.decision.mixture import SHARE, mixture
from palea.calc.results import Refusal
from palea.errors import UnfitValue


def held_back(seasons, portions, mixtures, first="", second="", bad_chance=0.5, keep=0.0, viable_seeds=10_000):
    """Two treatments of one species in one bag, from what each established at each place -> Values, or Refusal.

    seasons : frame, one row a place and treatment: taxon, season, portion, established [% of viable seed].
    portions : frame, one row a treatment: taxon, portion, waiting, viable, thousand_g, build_up; see `mixture.mixture`.
    mixtures : frame, the pairs that may be meant, the likeliest first: first, second (treatments), seasons.
    first, second : treatments; second is held back. "": those of the first pair in `mixtures` that fits.
    bad_chance : chance, 0 to 1, of the kind of season in which the first portion established least; the others share the
    rest evenly. With one place there is one kind of season.
    keep, viable_seeds : as in `mixture.mixture`, which does the sums.
    Refusal where there is no such pair, or a place saw one of them only. Raises UnfitValue for a chance outside 0 to 1.
    Source: Cohen 1966, J. Theor. Biol. 12:119 (geometric mean over seasons).
    """
    if not 0 <= bad_chance <= 1:
        msg = f"bad_chance is {bad_chance:g}; allowed is 0 to 1."
        raise UnfitValue(msg)
    pair = _pair(mixtures, first, second)
    own = portions.set_index("portion").reindex(pair).reset_index() if pair else portions.head(0)
    if len(own) < 2 or own["taxon"].isna().any() or own["taxon"].iloc[0] != own["taxon"].iloc[1]:
        return Refusal(
            quantity=SHARE, missing="There are no two treatments of one species that were both followed to their end.",
            remedy="Name two that were sown at the same places: first, and second, which is held back.",
        )  # fmt: skip
    mine = seasons[seasons["portion"].isin(pair)]
    both = mine.groupby("season")["portion"].transform("nunique").eq(len(pair))
    return mixture(_with_chances(mine[both], pair[0], bad_chance), own, keep, viable_seeds)


def _pair(mixtures, first, second):
    if first and second:
        return [first, second]
    fits = [row for row in mixtures.itertuples(index=False) if first in ("", row.first) and second in ("", row.second)]
    return [fits[0].first, fits[0].second] if fits else []


def _with_chances(seasons, first, bad_chance):
    """Each place its chance: the one where the first portion did worst has bad_chance, the rest what is left."""
    own = seasons[seasons["portion"].eq(first)]
    places = list(own["season"])
    if not places:
        return seasons.assign(chance=pd.Series(dtype=float))
    worst = own["season"].iloc[int(np.argmin(own["established"]))]
    rest = (1 - bad_chance) / (len(places) - 1) if len(places) > 1 else 0.0
    chance = {place: bad_chance if place == worst else rest for place in places}
    chance = chance if len(places) > 1 else {worst: 1.0}
    return seasons.assign(chance=seasons["season"].map(chance).astype(float))
