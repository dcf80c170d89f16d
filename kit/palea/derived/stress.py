"""Germination under stress: dishes in the filling of a chamber that they stood in, settings, doses, and months in store."""

import pandas as pd

from palea import schema
from palea.calc.spans import earliest
from palea.derived import contrasts, counting
from palea.derived.counting import DAY, dishes
from palea.derived.doses import delivered
from palea.derived.factors import differing, levels
from palea.derived.lineage import ancestry
from palea.derived.lookup import TEXT, moments, numbers, texts
from palea.derived.view import view

MONTH = 365.25 / 12  # days


@view(
    environments="environment_id chamber run_no day_c night_c light_hours water_potential_mpa", units="environment_id kind"
)
def environments(environments, units):
    """One row a filling of a chamber in which dishes stood: environment, chamber, run_no, day_c, night_c, light_hours and
    water_mpa.
    """
    indoors = units.loc[units["kind"].isin(schema.words("unit_kind", stage="germination")), "environment_id"]
    named = {"environment_id": "environment", "water_potential_mpa": "water_mpa"}
    kept = environments[environments["environment_id"].isin(indoors)].drop_duplicates("environment_id")
    return kept.rename(columns=named).reset_index(drop=True)


@view(counting.shares, units="unit_id environment_id")
def shares(shares, units):
    """Shares of dishes, each with the filling that it stood in as its environment: fillings are what temperature is put to."""
    return _in_fillings(shares, units)


@view(counting.intervals, units="unit_id environment_id")
def intervals(intervals, units):
    """Inspection intervals of dishes, each with the filling that it stood in as its environment."""
    return _in_fillings(intervals, units)


def _in_fillings(rows, units):
    own = units.drop_duplicates("unit_id").set_index("unit_id")["environment_id"]
    return rows.assign(environment=texts(rows["unit"], own).fillna(""))


def _across(factor, judged=""):
    """The view of declared contrasts as a question along a factor takes them: those declared across it first.

    A pair that was declared across the factor is asked as that declaration says, whatever else was declared about it.
    judged : the quantity that answers such a declaration, where it is another than the declared one.
    """

    def asked(asked):
        mine = asked[asked["across"].eq(factor)]
        if judged:  # the declared margin is of another quantity, and a number in store has no denominator and no place
            bare = mine["margin"].isna()
            mine = mine.assign(
                quantity=mine["quantity"].mask(bare, judged), denominator=mine["denominator"].mask(bare, ""),
                environment=mine["environment"].mask(bare, ""),
            )
        return pd.concat([mine, asked[asked["across"].eq("")]], ignore_index=True)

    return view(contrasts.asked)(asked)


asked_along_water = _across("water")
asked_along_temperature = _across("temperature")
asked_along_storage = _across("storage", judged="half-life in storage")


@view(counting.shares, levels, delivered)
def series(shares, levels, delivered):
    """One row a treatment of a series of doses: series (the same without the active), active, treatment, dose, dose_unit.

    Treatments belong to a series where the active is all that tells them from the one without it; that one is its dose 0.
    dose : mg of the active that reached a kg of bare seed, assayed, else by uptake, else intended.
    """
    known = levels[levels["treatment"].isin(shares["treatment"])].to_dict("records")
    zero = [row for row in known if not row["active"]]
    dosed = [row for row in known if row["active"]]
    pairs = [(b["treatment"], a["treatment"]) for a in dosed for b in zero if differing(a, b) == ["active"]]
    found = pd.DataFrame(pairs, columns=["series", "treatment"], dtype=TEXT).merge(delivered, on="treatment")
    alone = ~found.duplicated(["series", "treatment"], keep=False)  # of two actives at once neither is the dose
    found = found[alone & found["mg_kg"].notna()]
    told = found[["series", "active", "treatment"]].assign(
        dose=found["mg_kg"], dose_unit=schema.word("quantity", "dose for half the effect")["unit"]
    )
    nothing = told.drop_duplicates(["series", "active"]).assign(treatment=lambda f: f["series"], dose=0.0)
    return pd.concat([nothing, told], ignore_index=True)


@view(dishes, ancestry, storage="storage_id lot_id from_at place temperature_c rh_pct", trial_factors="trial_id factor")
def stored(dishes, ancestry, storage, trial_factors):
    """One row a dish of a trial of storage: unit, months in store when it was sown, store (its place; "" in month 0),
    temperature_c and moisture_pct (relative humidity) of the store.

    A trial is one of storage where that is among its factors. Seed of a lot that was portioned from one that the trial
    sowed too, under the same treatment, has lain in store since its portion was put there; any other lot since the trial
    first sowed it, which is month 0.
    """
    trials = trial_factors.loc[trial_factors["factor"].eq("storage").fillna(value=False), "trial_id"]
    dishes = dishes[dishes["trial"].isin(trials)]
    sown = dishes[["trial", "treatment", "lot"]].drop_duplicates()
    before = sown.merge(ancestry, on="lot").merge(
        sown.rename(columns={"lot": "ancestor"}), on=["trial", "treatment", "ancestor"]
    )
    portions = dishes["lot"].isin(before["lot"])
    first = dishes.groupby(["trial", "lot"])["start"].transform("min")
    kept = storage.assign(since=earliest(storage["from_at"]))
    place = dishes[["unit", "lot", "start"]].merge(kept, left_on="lot", right_on="lot_id")
    place = place[place["since"] <= place["start"]].sort_values("since", kind="stable").groupby("unit").last()
    since = moments(dishes["unit"], place["since"]).where(portions, first)
    months = (((dishes["start"] - since) / DAY).astype(float) / MONTH).round(2)
    later = months.gt(0).to_numpy()
    return pd.DataFrame({
        "unit": dishes["unit"], "months": months, "store": texts(dishes["unit"], place["place"]).where(later, "").fillna(""),
        "temperature_c": numbers(dishes["unit"], place["temperature_c"]).where(later),
        "moisture_pct": numbers(dishes["unit"], place["rh_pct"]).where(later),
    })  # fmt: skip


@view(counting.shares, stored, dishes)
def viability(shares, stored, dishes):
    """One row a dish that was counted out: `stored`, with taxon, treatment, lot, batch, k and n.

    k : living seeds, germinated or still waiting.  n : filled ones.  moisture_pct : relative humidity of the store.
    """
    seeds = shares.drop_duplicates(["unit", "denominator"]).set_index("unit")
    n, k = (seeds.loc[seeds["denominator"].eq(base), "n"] for base in ("filled", "viable"))
    told = stored.merge(dishes[["unit", "taxon", "treatment", "lot", "batch"]], on="unit")
    alive = numbers(told["unit"], k).fillna(0.0)  # where none is alive, there is no share of the living
    told = told.assign(n=numbers(told["unit"], n), k=alive)
    return told[told["n"] > 0].reset_index(drop=True)
