"""What cannot be true of single plants and of what was measured on them."""

from palea import schema
from palea.calc.spans import earliest, latest
from palea.checks.examples import several
from palea.checks.rule import rule
from palea.derived.lookup import numbers, texts


def measured(**more):
    """One measurement of a plot of trial F1."""
    usual = {
        "measurement_id": "X1",
        "unit_id": "P1",
        "trait": "dry mass",
        "value": 2.0,
        "unit": "g",
        "n_plants_pooled": 5,
    }
    return {"units": [{"unit_id": "P1", "trial_id": "F1"}], "measurements": [usual | more]}


def tagged(measurements=(), visits=(), **more):
    """One tagged plant of plot P1, with what was measured on it."""
    usual = {"plant_id": "P1-1", "unit_id": "P1", "tagged_at": "2025-11-25", "fate": "alive", "fate_at": "2026-06-03"}
    rows = [
        {
            "measurement_id": f"X{n}",
            "plant_id": "P1-1",
            "trait": "height",
            "value": 9.0,
            "unit": "mm",
            "n_plants_pooled": 1,
        }
        | m
        for n, m in enumerate(measurements)
    ]
    return {
        "units": [{"unit_id": "P1", "trial_id": "F1"}],
        "plants": [usual | more],
        "measurements": rows,
        "visits": list(visits),
    }


@rule(
    "field.mass-of-how-many",
    severity="gap",
    reads=("measurements",),
    at="measurements.n_plants_pooled",
    says="Measurement {measurement_id}: {trait} of {unit_id} is {value} {unit}, and nothing says of how many plants.",
    remedy="Enter how many plants were taken together; without it no mass of a plant can be told.",
    fires=measured(n_plants_pooled=None),
    nearly=measured(),
)
def mass_of_how_many(measurements):
    """A value of plants taken together needs their number. Cover is of ground and of no plant."""
    alone = schema.words("trait", takes_plant=False)
    pooled = measurements["unit_id"].notna() & measurements["value"].notna() & measurements["trait"].notna()
    of_ground = measurements["trait"].isin([t for t in alone if schema.word("trait", t)["unit"] == "%"])
    return measurements[pooled & measurements["n_plants_pooled"].isna() & ~of_ground]


@rule(
    "field.unit-or-plant",
    severity="error",
    reads=("measurements",),
    at="measurements.unit_id",
    says="Measurement {measurement_id} names {named}.",
    remedy="Name the plant, or the plot for plants taken together; exactly one of the two.",
    fires=measured(unit_id=None),
    nearly=measured(),
)
def unit_or_plant(measurements):
    """A measurement is of one plant, or of plants of one unit."""
    both = measurements["unit_id"].notna() & measurements["plant_id"].notna()
    neither = measurements["unit_id"].isna() & measurements["plant_id"].isna()
    said = both.map({True: "a plot and a plant", False: "neither a plot nor a plant"})
    return measurements.assign(named=said)[both | neither]


@rule(
    "field.unit-of-a-trait",
    severity="error",
    reads=("measurements",),
    at="measurements.unit",
    says="Measurement {measurement_id}: {trait} cannot be in “{unit}”; it is kept in {due}.",
    remedy="Correct the unit, or the trait; values are kept in the unit of the trait.",
    fires=measured(unit="mm"),
    nearly=measured(unit="mg"),
)
def unit_of_a_trait(measurements):
    """A trait has one dimension."""
    due = texts(measurements["trait"], {t: schema.word("trait", t)["unit"] for t in schema.words("trait")})
    of = {u: schema.word("unit", u)["dimension"] for u in schema.words("unit")}
    wrong = texts(measurements["unit"], of).ne(texts(due, of))
    return measurements.assign(due=due)[wrong.fillna(value=False) & measurements["unit"].notna()]


@rule(
    "field.value-without-unit",
    severity="error",
    reads=("measurements",),
    at="measurements.unit",
    says="Measurement {measurement_id}: {trait} is {value}, without a unit.",
    remedy="Enter the unit.",
    fires=measured(unit=None),
    nearly=measured(unit=None, value=None, missing="lost"),
)
def value_without_unit(measurements):
    """A number without unit is no measurement."""
    return measurements[measurements["value"].notna() & measurements["unit"].isna()]


@rule(
    "field.below-nothing",
    severity="error",
    reads=("measurements",),
    at="measurements.value",
    says="Measurement {measurement_id}: {trait} is {value} {unit}, below what it can be.",
    remedy="Look at the sheet; a balance that was not set to zero shows such values.",
    fires=measured(value=-0.2),
    nearly=measured(value=0.0),
)
def below_nothing(measurements):
    """Nothing is shorter or lighter than nothing."""
    lowest = numbers(measurements["trait"], {t: schema.word("trait", t).get("lowest") for t in schema.words("trait")})
    return measurements[measurements["value"] < lowest]


@rule(
    "field.no-value-no-reason",
    severity="gap",
    reads=("measurements",),
    at="measurements.missing",
    says="Measurement {measurement_id}: {trait} has no value and no reason why.",
    remedy="Enter the value, or why there is none.",
    fires=measured(value=None),
    nearly=measured(value=None, missing="lost"),
)
def no_value_no_reason(measurements):
    """Blank is not zero."""
    return measurements[measurements["value"].isna() & measurements["missing"].isna()]


def _of_plants(*plants):
    """A height of each of these plants at one visit."""
    seen = {"visit_id": "W40", "trait": "height", "value": 9.0, "unit": "mm"}
    return {"measurements": [{"measurement_id": f"X{n}", "plant_id": plant} | seen for n, plant in enumerate(plants)]}


@rule(
    "field.measured-twice",
    severity="warning",
    reads=("measurements",),
    at="measurements.measurement_id",
    says="Measurement {measurement_id} has the same plant or plot, visit and trait as {other}.",
    remedy="If one was typed twice, take it out; if it was measured twice, say so in the notes.",
    fires=_of_plants("P1-1", "P1-1"),
    nearly=_of_plants("P1-1", "P1-2"),
)
def measured_twice(measurements):
    """One value a plant, visit and trait."""
    told = measurements[measurements["visit_id"].notna()]
    by = ["unit_id", "plant_id", "visit_id", "trait"]
    first = told.groupby(by, dropna=False)["measurement_id"].transform("first")
    return told.assign(other=first)[told.duplicated(by)]


@rule(
    "field.fate-before-tag",
    severity="error",
    reads=("plants",),
    at="plants.fate_at",
    says="Plant {plant_id} was tagged on {tagged_at}, and its fate ({fate}) was seen on {fate_at} already.",
    remedy="Correct one of the two dates.",
    fires=tagged(fate_at="2025-11-01"),
    nearly=tagged(fate_at="2025-11"),
)
def fate_before_tag(plants):
    """Tagged, then seen again; partial dates are spans."""
    return plants[earliest(plants["tagged_at"]) > latest(plants["fate_at"])]


@rule(
    "field.fate-without-day",
    severity="gap",
    reads=("plants",),
    at="plants.fate_at",
    says="Plant {plant_id} is {fate}, and nothing says when that was seen.",
    remedy="Enter the day on which it was seen: survival rests on it.",
    fires=tagged(fate="dead", fate_at=None),
    nearly=tagged(fate=None, fate_at=None),
)
def fate_without_day(plants):
    """A fate has the day on which it was seen."""
    return plants[plants["fate"].notna() & plants["fate_at"].isna()]


@rule(
    "field.measured-after-death",
    severity="error",
    reads=("measurements", "plants", "visits"),
    at="measurements.plant_id",
    says="Measurement {measurement_id}: plant {plant_id} was found {fate} on {fate_at}, and measured on {measured}.",
    remedy="Correct the plant, the visit, or the day of its fate.",
    fires=tagged(
        [{"visit_id": "W40"}],
        [{"visit_id": "W40", "trial_id": "F1", "visited_at": "2026-06-03"}],
        fate="dead",
        fate_at="2026-02-01",
    ),
    nearly=tagged(
        [{"visit_id": "W40"}],
        [{"visit_id": "W40", "trial_id": "F1", "visited_at": "2026-06-03"}],
        fate="cut",
        fate_at="2026-06-03",
    ),
)
def measured_after_death(measurements, plants, visits):
    """A dead plant is not measured later."""
    dead = (
        plants[plants["fate"].isin(schema.words("fate", died=True))].drop_duplicates("plant_id").set_index("plant_id")
    )
    told = measurements.assign(
        fate=texts(measurements["plant_id"], dead["fate"]),
        fate_at=texts(measurements["plant_id"], dead["fate_at"]),
        measured=texts(
            measurements["visit_id"], visits.drop_duplicates("visit_id").set_index("visit_id")["visited_at"]
        ),
    )
    return told[earliest(told["measured"]) > latest(told["fate_at"])]


@rule(
    "field.more-tagged-than-kept",
    severity="warning",
    reads=("units", "plants", "counts"),
    at="units.unit_id",
    needs="plants",
    says="{kind} {unit_id}: {tagged} plants are tagged, but at most {most} ever stood there.",
    remedy="Look for a tag that was entered twice, or a plant of another plot.",
    fires=several(
        tagged() | {"units": [{"unit_id": "P1", "trial_id": "F1", "kind": "plot"}]},
        {"counts": [{"visit_id": "W1", "unit_id": "P1", "outcome": "standing", "count": 0}]},
    ),
    nearly=several(
        tagged() | {"units": [{"unit_id": "P1", "trial_id": "F1", "kind": "plot"}]},
        {"counts": [{"visit_id": "W1", "unit_id": "P1", "outcome": "standing", "count": 1}]},
    ),
)
def more_tagged_than_kept(units, plants, counts):
    """Tags are on plants that stood."""
    if plants.empty:
        return None
    standing = counts[counts["outcome"].eq("standing") & counts["count"].notna()]
    most = standing.groupby("unit_id")["count"].max()
    tags = plants.drop_duplicates("plant_id").groupby("unit_id").size()
    told = units.assign(tagged=numbers(units["unit_id"], tags), most=numbers(units["unit_id"], most))
    return told[told["tagged"] > told["most"]]


@rule(
    "field.dry-above-fresh",
    severity="error",
    reads=("measurements",),
    at="measurements.value",
    says="Measurement {measurement_id}: dry mass {value} {unit} is above the fresh mass of the same plants, {fresh} "
    "{unit}.",
    remedy="Look whether the two were swapped, or the number of plants differs.",
    fires={
        "measurements": [
            {
                "measurement_id": f"X{n}",
                "unit_id": "P1",
                "visit_id": "W40",
                "trait": t,
                "value": v,
                "unit": "g",
                "n_plants_pooled": 5,
            }
            for n, (t, v) in enumerate((("fresh mass", 2.0), ("dry mass", 3.0)))
        ]
    },
    nearly={
        "measurements": [
            {
                "measurement_id": f"X{n}",
                "unit_id": "P1",
                "visit_id": "W40",
                "trait": t,
                "value": v,
                "unit": "g",
                "n_plants_pooled": 5,
            }
            for n, (t, v) in enumerate((("fresh mass", 3.0), ("dry mass", 0.6)))
        ]
    },
)
def dry_above_fresh(measurements):
    """Drying takes mass away."""
    by = ["unit_id", "plant_id", "visit_id", "unit", "n_plants_pooled"]
    fresh = measurements[measurements["trait"].eq("fresh mass")][[*by, "value"]].rename(columns={"value": "fresh"})
    dry = measurements[measurements["trait"].eq("dry mass")].reset_index(names="line")
    both = dry.merge(fresh.drop_duplicates(by), on=by).set_index("line")
    return both[both["value"] > both["fresh"]]


RULES = (
    mass_of_how_many,
    unit_or_plant,
    unit_of_a_trait,
    value_without_unit,
    below_nothing,
    no_value_no_reason,
    measured_twice,
    fate_before_tag,
    fate_without_day,
    measured_after_death,
    more_tagged_than_kept,
    dry_above_fresh,
)
