"""Plants that were followed from the day on which they were kept or tagged: who died between which two looks."""

import numpy as np
import pandas as pd

from palea import schema
from palea.calc.spans import earliest
from palea.derived.counting import DAY
from palea.derived.field_counts import PLACE, by_visit, sown_plots
from palea.derived.lookup import moments, numbers
from palea.derived.view import view


@view(by_visit)
def kept_plants(by_visit):
    """Rows of `by_visit` from the last thinning of a plot on: left (of the looks before), right (days since it), kept, dead.

    dead : plants found newly dead; where only standing plants were counted, by how many they fell. A visit at which
    neither was counted is no look.
    """
    last = by_visit[by_visit["kept"].notna()].drop_duplicates("unit", keep="last").set_index("unit")
    rows = by_visit[by_visit["unit"].isin(last.index)]
    rows = rows.assign(right=rows["day"] - numbers(rows["unit"], last["day"]), kept=numbers(rows["unit"], last["kept"]))
    later = rows[rows["right"].gt(0) & (rows["died"].notna() | rows["standing"].notna())]
    later = later.sort_values(["unit", "right"], kind="stable")
    before = later["standing"].groupby(later["unit"]).ffill().groupby(later["unit"]).shift().fillna(later["kept"])
    dead = later["died"].fillna((before - later["standing"]).clip(lower=0))
    return later.assign(left=later["right"].groupby(later["unit"]).shift().fillna(0.0), dead=dead)


@view(sown_plots, by_visit, plants="plant_id unit_id taxon_id tagged_at fate fate_at")
def tagged_plants(sown_plots, by_visit, plants):
    """One row a tagged plant of plots that nobody thinned: PLACE, left, right, count 1; days since it was tagged.

    A plant that died did so between the visit before and the day on which that was seen; any other was followed until its
    fate was seen, or to the last visit of its plot.
    """
    thinned = by_visit.loc[by_visit["kept"].notna(), "unit"]
    rows = plants[~plants["unit_id"].isin(thinned)].drop_duplicates("plant_id").rename(columns={"unit_id": "unit"})
    rows = rows.assign(start=earliest(rows["tagged_at"]), end=earliest(rows["fate_at"])).dropna(subset=["start"])
    rows = rows.merge(sown_plots[[*PLACE]], on="unit")
    looks = by_visit[["unit", "at"]].drop_duplicates()
    seen = rows[["plant_id", "unit", "start", "end"]].merge(looks, on="unit")
    last = seen.groupby("plant_id")["at"].max()
    before = seen[(seen["at"] < seen["end"]) & (seen["at"] > seen["start"])].groupby("plant_id")["at"].max()
    died = rows["fate"].isin(schema.words("fate", died=True)) & rows["end"].notna()
    since, until = (moments(rows["plant_id"], each) for each in (before, last))
    left = since.fillna(rows["start"]).where(died, rows["end"].fillna(until))
    days = ((left - rows["start"]) / DAY).astype(float), ((rows["end"] - rows["start"]) / DAY).astype(float)
    told = rows.assign(left=days[0], right=days[1].where(died, np.inf), count=1.0)
    return told.loc[told["left"].ge(0) & told["right"].gt(told["left"]), [*PLACE, "left", "right", "count"]]


@view(kept_plants, tagged_plants, sown_plots)
def intervals(kept_plants, tagged_plants, sown_plots):
    """One row a plot and interval (left, right] in which plants died, and one for those alive when last seen (right inf).

    Days since the plants were kept at the thinning, or tagged. Thinned, cut and lost plants did not die.
    """
    events = kept_plants[[*PLACE, "left", "right"]].assign(count=kept_plants["dead"])
    by = kept_plants.groupby("unit")
    seen = sown_plots[sown_plots["unit"].isin(kept_plants["unit"])]
    rest = numbers(seen["unit"], by["kept"].first() - by["dead"].sum())
    alive = seen[PLACE].assign(left=numbers(seen["unit"], by["right"].max()), right=np.inf, count=rest.clip(lower=0))
    both = pd.concat([events, alive, tagged_plants], ignore_index=True)
    return both[both["count"] > 0].reset_index(drop=True)


@view(intervals)
def survivors(intervals):
    """One row a plot: taxon, environment, treatment, unit, alive (not seen to die), kept (plants that were followed)."""
    by = intervals.assign(alive=intervals["count"].where(np.isinf(intervals["right"]), 0.0)).groupby("unit", sort=False)
    keys = ["taxon", "environment", "treatment"]
    told = by.agg(**{name: (name, "first") for name in keys}, alive=("alive", "sum"), kept=("count", "sum"))
    return told.reset_index()[[*keys, "unit", "alive", "kept"]]
