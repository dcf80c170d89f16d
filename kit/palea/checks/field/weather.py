"""What cannot be true of logged conditions, and what a trial outdoors lacks."""

from palea import schema
from palea.calc.spans import earliest, latest
from palea.checks.rule import rule
from palea.derived.logged import steps
from palea.derived.lookup import numbers, texts

HOLE_H, HOLE_STEPS = 48, 6  # a silence is a hole from two days on, and beyond six usual steps: our own bounds


def logged(*moments, offset="+02:00", values=None, **more):
    """Hourly readings of one logger at these moments ("09-01T10:00"), in degrees."""
    rows = [
        {
            "equipment_id": "L1",
            "logged_at": f"2025-{m}:00{offset}" if "+" not in m else f"2025-{m}",
            "quantity": "temperature",
            "of_the_day": "reading",
            "site_id": "S1",
            "value": 15.0 if values is None else values[n],
            "unit": "Cel",
        }
        | more
        for n, m in enumerate(moments)
    ]
    return {"conditions": rows}


HOURS = [f"09-{1 + h // 24:02d}T{h % 24:02d}" for h in range(30)]


@rule(
    "field.logger-hole",
    severity="warning",
    reads=("conditions", steps),
    at="conditions.logged_at",
    says="Logger {logger}, {quantity}: nothing between {since} and {written}, {days} days, though it writes every "
    "{usual} h.",
    remedy="If the logger was down, say so in the record; sums and means over this time stand on what was logged.",
    fires=logged(*HOURS, "09-11T06"),
    nearly=logged(*HOURS, "09-03T05"),
)
def logger_hole(conditions, steps):
    """A silence of two days or more."""
    hole = steps[(steps["hours"] >= HOLE_H) & (steps["hours"] > HOLE_STEPS * steps["usual"])]
    return _at(conditions, hole.assign(days=(hole["hours"] / 24).round(1)))


@rule(
    "field.logger-clock",
    severity="warning",
    reads=("conditions", steps),
    at="conditions.logged_at",
    says="Logger {logger}, {quantity}: between {since} and {written} the offset changes by {shift} h and {hours} h "
    "passed in place of "
    "{usual}: its clock was not put forward or back, so what follows is an hour off.",
    remedy="Compare a later reading with a clock. If the times are off, correct the offset of all that follow.",
    fires=logged("10-26T01:00+02:00", "10-26T02:00+02:00", "10-26T03:00+01:00", "10-26T04:00+01:00"),
    nearly=logged("10-26T01:00+02:00", "10-26T02:00+02:00", "10-26T02:00+01:00", "10-26T03:00+01:00"),
)
def logger_clock(conditions, steps):
    """When clocks change, true time runs on: a step that is longer or shorter by the change shows a clock that was left."""
    shift = (steps["offset"] - steps["offset_before"]) / 60
    off = (steps["hours"] - steps["usual"] + shift).abs() < ALMOST
    return _at(conditions, steps.assign(shift=shift.abs())[shift.ne(0) & shift.notna() & off])


ALMOST = 0.01  # hours


def _at(conditions, found):
    told = found.set_index("line")
    return told.loc[told.index.intersection(conditions.index)]


@rule(
    "field.condition-unit",
    severity="error",
    reads=("conditions",),
    at="conditions.unit",
    says="Logger {equipment_id}, {logged_at}: {quantity} cannot be in “{unit}”; it is kept in {due}.",
    remedy="Correct the unit, or the quantity.",
    fires=logged("09-01T10", unit="%"),
    nearly=logged("09-01T10", unit="Cel"),
)
def condition_unit(conditions):
    """A quantity has its unit; told once a logger, quantity and unit."""
    once = conditions.drop_duplicates(["equipment_id", "quantity", "unit"])
    due = texts(once["quantity"], {q: schema.word("condition", q)["unit"] for q in schema.words("condition")})
    return once.assign(due=due)[once["unit"].ne(due).fillna(value=False)]


@rule(
    "field.condition-out-of-range",
    severity="warning",
    reads=("conditions",),
    at="conditions.value",
    says="Logger {equipment_id}, {logged_at}: {quantity} {value} {unit} lies outside what can be ({lowest} to "
    "{highest}).",
    remedy="A broken sensor shows such values: take them out of sums and means, with the reason.",
    fires=logged("09-01T10", values=[99.0]),
    nearly=logged("09-01T10", values=[39.0]),
)
def condition_out_of_range(conditions):
    """Values that no weather and no chamber gives."""
    lowest, highest = (
        numbers(conditions["quantity"], {q: schema.word("condition", q)[end] for q in schema.words("condition")})
        for end in ("lowest", "highest")
    )
    out = (conditions["value"] < lowest) | (conditions["value"] > highest)
    return conditions[out].assign(lowest=lowest[out], highest=highest[out])


@rule(
    "field.indoors-or-out",
    severity="error",
    reads=("conditions",),
    at="conditions.site_id",
    says="Logger {equipment_id}, {logged_at}: {named} is named.",
    remedy="Name the environment for a chamber, the site outdoors; exactly one of the two.",
    fires=logged("09-01T10", site_id=None),
    nearly=logged("09-01T10"),
)
def indoors_or_out(conditions):
    """A reading was taken in one place; told once a logger."""
    both = conditions["environment_id"].notna() & conditions["site_id"].notna()
    neither = conditions["environment_id"].isna() & conditions["site_id"].isna()
    named = both.map({True: "both an environment and a site", False: "neither an environment nor a site"})
    wrong = conditions.assign(named=named)[both | neither]
    return wrong.drop_duplicates(["equipment_id", "named"])


@rule(
    "field.summary-order",
    severity="error",
    reads=("conditions",),
    at="conditions.value",
    says="Logger {equipment_id}, {logged_at}: the highest {quantity} of the day, {value}, is below the lowest, "
    "{lowest}.",
    remedy="The two were swapped, or one belongs to another day.",
    fires={
        "conditions": [
            {
                "equipment_id": "L1",
                "logged_at": "2025-09-01",
                "quantity": "temperature",
                "of_the_day": d,
                "site_id": "S1",
                "value": v,
                "unit": "Cel",
            }
            for d, v in (("lowest", 15.0), ("highest", 9.0))
        ]
    },
    nearly={
        "conditions": [
            {
                "equipment_id": "L1",
                "logged_at": "2025-09-01",
                "quantity": "temperature",
                "of_the_day": d,
                "site_id": "S1",
                "value": v,
                "unit": "Cel",
            }
            for d, v in (("lowest", 9.0), ("highest", 15.0))
        ]
    },
)
def summary_order(conditions):
    """Lowest, mean, highest."""
    by = ["equipment_id", "logged_at", "quantity"]
    daily = conditions[conditions["of_the_day"].ne("reading").fillna(value=False)]
    low = daily[daily["of_the_day"].eq("lowest")][[*by, "value"]].rename(columns={"value": "lowest"})
    both = daily[daily["of_the_day"].eq("highest")].reset_index(names="line").merge(low, on=by).set_index("line")
    return both[both["value"] < both["lowest"]]


@rule(
    "field.logger-past-calibration",
    severity="warning",
    reads=("equipment", "calibrations", "conditions"),
    at="equipment.equipment_id",
    says="Logger {equipment_id} wrote {quantity} until {until}; its last calibration was good until {due} only.",
    remedy="Have it calibrated, and say in the record what was found.",
    fires={
        "equipment": [{"equipment_id": "L1", "kind": "logger"}],
        "calibrations": [
            {"equipment_id": "L1", "done_on": "2024-01-01", "quantity": "temperature", "due_on": "2025-01-01"}
        ],
        **logged("09-01T10"),
    },
    nearly={
        "equipment": [{"equipment_id": "L1", "kind": "logger"}],
        "calibrations": [
            {"equipment_id": "L1", "done_on": "2024-01-01", "quantity": "temperature", "due_on": "2026-01-01"}
        ],
        **logged("09-01T10"),
    },
)
def logger_past_calibration(equipment, calibrations, conditions):
    """A logger is in calibration while it writes; told once a logger."""
    last = conditions.drop_duplicates(["equipment_id", "quantity"], keep="last")[
        ["equipment_id", "quantity", "logged_at"]
    ]
    good = calibrations.dropna(subset=["due_on"]).assign(to=latest(calibrations["due_on"].dropna()))
    good = good.sort_values("to", kind="stable").drop_duplicates(["equipment_id", "quantity"], keep="last")
    both = last.merge(good, on=["equipment_id", "quantity"]).rename(columns={"logged_at": "until", "due_on": "due"})
    late = both[earliest(both["until"]) > both["to"]].drop_duplicates("equipment_id")
    return (
        equipment.reset_index(names="line")
        .merge(late[["equipment_id", "quantity", "until", "due"]], on="equipment_id")
        .set_index("line")
    )


def outdoors(**more):
    """A plot of trial F1 in an environment at a site."""
    return {
        "trials": [{"trial_id": "F1"}],
        "units": [{"unit_id": "P1", "trial_id": "F1", "kind": "plot", "environment_id": "E1"}],
        "environments": [{"environment_id": "E1", "trial_id": "F1"} | more],
    }


@rule(
    "field.site-not-said",
    severity="gap",
    reads=("trials", "units", "environments"),
    at="trials.trial_id",
    says="Trial {trial_id} has {n} plots or rows outdoors, and no environment of it names a site.",
    remedy="Enter the site, and name it in the environment of the trial: soil and weather are half of what happens "
    "there.",
    fires=outdoors(),
    nearly=outdoors(site_id="S1"),
)
def site_not_said(trials, units, environments):
    """A trial outdoors stands somewhere."""
    n = units[units["kind"].isin(schema.words("unit_kind", stage="field"))].groupby("trial_id").size()
    placed = set(environments.loc[environments["site_id"].notna(), "trial_id"])
    found = trials[trials["trial_id"].isin(n.index) & ~trials["trial_id"].isin(placed)]
    return found.assign(n=numbers(found["trial_id"], n))


@rule(
    "field.no-weather",
    severity="gap",
    reads=("sites", "environments", "units", "conditions"),
    at="sites.site_id",
    says="Nothing is logged of {missing} at {name}, where trial {trial} stands.",
    remedy="Enter at least daily rain and temperature, or say whose station they can be had from.",
    fires=outdoors(site_id="S1") | {"sites": [{"site_id": "S1", "name": "Hollow Sands"}], **logged("09-01T10")},
    nearly=outdoors(site_id="S1")
    | {
        "sites": [{"site_id": "S1", "name": "Hollow Sands"}],
        "conditions": [
            *logged("09-01T10")["conditions"],
            *logged("09-01T10", quantity="rain", unit="mm")["conditions"],
        ],
    },
)
def no_weather(sites, environments, units, conditions):
    """Rain and temperature of a site where something was sown are on record."""
    used = environments[environments["environment_id"].isin(units["environment_id"]) & environments["site_id"].notna()]
    trial = used.drop_duplicates("site_id").set_index("site_id")["trial_id"]
    there = conditions[conditions["site_id"].notna()].drop_duplicates(["site_id", "quantity"])
    known = there.groupby("site_id")["quantity"].agg(set)
    missing = [
        " and ".join(q for q in ("rain", "temperature") if q not in known.get(site, ())) for site in sites["site_id"]
    ]
    told = sites.assign(missing=missing, trial=texts(sites["site_id"], trial))
    return told[told["missing"].ne("") & told["trial"].notna()]


RULES = (
    logger_hole,
    logger_clock,
    condition_unit,
    condition_out_of_range,
    indoors_or_out,
    summary_order,
    logger_past_calibration,
    site_not_said,
    no_weather,
)
