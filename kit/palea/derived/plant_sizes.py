"""How large plants were: masses, heights and leaves, each plant or weighing with its plot and day."""

import pandas as pd

from palea import schema
from palea.calc.spans import earliest
from palea.derived.counting import DAY
from palea.derived.field_counts import PLACE, at_planned_day, day_of, sown_plots
from palea.derived.lookup import moments, numbers, texts
from palea.derived.view import view


def _quantities():
    """{trait: the quantity that is judged}."""
    named = {q: schema.word("quantity", q).get("trait") for q in schema.words("quantity", stage="field")}
    return {trait: quantity for quantity, trait in named.items() if trait}


@view(
    sown_plots,
    measurements="unit_id plant_id visit_id trait value unit n_plants_pooled",
    plants="plant_id unit_id taxon_id",
    visits="visit_id visited_at",
)
def sizes(sown_plots, measurements, plants, visits):
    """One row a plant or weighing of a trait that is judged: PLACE, trial, quantity, value (in its unit), n_plants, time [d].

    time : days since sowing.  n_plants : plants weighed together; 1 for a single tagged plant, nan where it is blank.
    Plants of another species than was sown are left out, and values in a unit of another kind.
    """
    named = plants.drop_duplicates("plant_id").set_index("plant_id")
    plot = measurements["unit_id"].fillna(texts(measurements["plant_id"], named["unit_id"]))
    quantity = texts(measurements["trait"], pd.Series(_quantities(), dtype=object))
    when = visits.drop_duplicates("visit_id").dropna(subset=["visit_id"]).set_index("visit_id")["visited_at"]
    rows = pd.DataFrame({
        "unit": plot, "quantity": quantity, "value": measurements["value"] * _factor(measurements["unit"], quantity),
        "n_plants": measurements["n_plants_pooled"].mask(measurements["plant_id"].notna(), 1.0),
        "at": moments(measurements["visit_id"], pd.Series(earliest(when), index=when.index)),
        "counted": texts(measurements["plant_id"], named["taxon_id"]),
    }).dropna(subset=["unit", "quantity", "value"])  # fmt: skip
    both = rows.merge(sown_plots[[*PLACE, "trial", "start"]], on="unit")
    both = both[both["counted"].isna() | both["counted"].eq(both["taxon"]).fillna(value=False)]
    return both.assign(time=((both["at"] - both["start"]) / DAY).astype(float)).drop(columns=["counted", "start"])


def _factor(unit, quantity):
    """What one of the unit is in the unit of the quantity; nan where they measure different things."""
    pairs = pd.DataFrame({"unit": unit, "quantity": quantity})
    known = pairs.dropna().drop_duplicates()
    known = known.assign(factor=[_ratio(*pair) for pair in known.itertuples(index=False)])
    return numbers(pairs["unit"] + " " + pairs["quantity"], known.set_index(known["unit"] + " " + known["quantity"])["factor"])


def _ratio(unit, quantity):
    wanted = schema.word("quantity", quantity)["unit"]
    if unit == wanted:
        return 1.0
    words = [schema.word("unit", each) if each in schema.words("unit") else {} for each in (unit, wanted)]
    one, other = (word.get("in_base") for word in words)
    alike = words[0].get("dimension") == words[1].get("dimension")
    return one / other if alike and one and other else float("nan")


@view(sizes, trial_outcomes="trial_id outcome at_day")
def measured(sizes, trial_outcomes):
    """Rows of `sizes` of the planned day of each quantity, of the last visit where no day was planned."""
    parts = [sizes.head(0)]
    for quantity, part in sizes.groupby("quantity", sort=False):
        day = part.assign(day=part["time"])
        parts.append(part[at_planned_day(day, day_of(trial_outcomes, quantity)).to_numpy()])
    return pd.concat(parts, ignore_index=True)


@view(measured)
def units(measured):
    """{quantity: UCUM code of its values}."""
    return {q: schema.word("quantity", q)["unit"] for q in measured["quantity"].unique()}
