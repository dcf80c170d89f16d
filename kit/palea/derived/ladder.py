"""The rungs of replication that a trial has: incubator runs, main plots, and the levels that units carry."""

import pandas as pd

from palea.derived.lookup import TEXT, nothing, texts
from palea.derived.view import view


@view(units="unit_id parent_unit_id", unit_levels="unit_id factor level")
def level_of(units, unit_levels):
    """One row a unit and factor that it carries: unit, factor, level, parent. A part has what its main plot has."""
    known = unit_levels.drop_duplicates(["unit_id", "factor"])
    parent = units.drop_duplicates("unit_id").set_index("unit_id")["parent_unit_id"].dropna()
    from_above = pd.DataFrame({"unit_id": parent.index, "above": parent.to_numpy()}).merge(
        known, left_on="above", right_on="unit_id", suffixes=("", "_above")
    )
    both = pd.concat([known, from_above[["unit_id", "factor", "level"]]]).drop_duplicates(["unit_id", "factor"])
    return pd.DataFrame(
        {
            "unit": both["unit_id"],
            "factor": both["factor"],
            "level": both["level"],
            "parent": texts(both["unit_id"], parent),
        }
    ).reset_index(drop=True)


@view(
    environments="environment_id trial_id day_c night_c water_potential_mpa light_hours site_id",
    units="unit_id environment_id",
    unit_levels="unit_id factor level",
)
def alike(environments, units, unit_levels):
    """One row an environment: environment, and the first of its trial with the same conditions (`like`).

    Two fillings of a chamber at one setting are one environment held twice: they are compared together, each filling a
    block of its own. Where their units carry other levels of a factor (seed stored for six months or for twelve) they
    are not.
    """
    if environments.empty:
        return nothing(text="environment like")
    told = environments.drop_duplicates("environment_id").dropna(subset=["environment_id"])
    where = texts(unit_levels["unit_id"], units.set_index("unit_id")["environment_id"])
    level = (unit_levels["factor"] + ": " + unit_levels["level"]).groupby(where).agg(lambda x: "; ".join(sorted(set(x))))
    told = told.assign(levels=texts(told["environment_id"], level).fillna(""))
    same = ["trial_id", "day_c", "night_c", "water_potential_mpa", "light_hours", "site_id", "levels"]
    first = told.groupby(same, dropna=False, sort=False)["environment_id"].transform("first")
    return pd.DataFrame({"environment": told["environment_id"], "like": first}).reset_index(drop=True)


@view(environments="environment_id trial_id chamber run_no day_c night_c")
def chambers(environments):
    """One row a trial and temperature indoors: trial, day_night, temperatures of the trial, runs behind this one."""
    indoors = environments[environments["chamber"].notna() & environments["day_c"].notna()]
    night = indoors["night_c"].fillna(indoors["day_c"])
    named = [f"{d:g}/{n:g} °C" for d, n in zip(indoors["day_c"], night, strict=True)]
    told = pd.DataFrame(
        {
            "trial": indoors["trial_id"],
            "day_night": pd.Series(named, index=indoors.index, dtype=object),
            "run": indoors["chamber"] + " run " + indoors["run_no"].fillna(1).astype(int).astype(TEXT),
        }
    )
    by = told.groupby(["trial", "day_night"], sort=False)["run"].nunique().reset_index(name="runs")
    return by.assign(temperatures=by.groupby("trial")["day_night"].transform("nunique"))
