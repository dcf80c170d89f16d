"""A package made from an open dataset: seed that waited through one rainy season, and was watered again in the next.

The dataset has one seed a row and no day of any look. A tray here is the seed of one population and cohort in one block,
since the block and not the seed was repeated. What is not told stays blank, with the reason.
"""

import json
from importlib import resources

import pandas as pd

from palea import schema
from palea.calc.places import uncertainty_m
from palea.stamp import Stamp
from palea.tables import saving
from palea.tables.beginning import new_package

STAMP = Stamp("palea", "2026-09-01T09:00:00+00:00")
TRIAL, LOGGER, WATERED = "SECOND-RAIN", "logger-block-04", "2021-09-15"
SENSITIVITY = "high"
NOWHERE = "not recorded"


def write(folder):
    """Write the open dataset as a package -> Package. Every call gives the same bytes.

    Raises PackageError where the folder holds something already.
    """
    told = json.loads(resources.files("palea.demo").joinpath("rain_cohorts.json").read_text(encoding="utf-8"))
    package = new_package(
        folder,
        "Seed of Caulanthus and Streptanthus watered in a second year (open dataset)",
        STAMP,
        licence="CC-BY-4.0",
        description=f"{told['about']} {told['derived']} Source: {told['source']}. Data: {told['data']}.",
        keywords=("germination", "dormancy", "open dataset", "wild seed"),
    )
    for table, rows in _rows(told).items():
        package = package.having(table, rows)
    sources = [{"title": told["source"]}, {"title": told["data"]}]
    package = package.describing(sources=sources, contributors=[{"title": "The palea authors"}])
    return saving.save(package, STAMP, "import", words=f"Taken in from {told['data']}.")


def _rows(told):
    taxon = {code: "".join(w[:2] for w in kind.split()).upper() for code, kind, *_ in told["populations"]}
    return {
        **_seed(told["populations"], taxon),
        **_plan(told["cohorts"]),
        "equipment": [_logger(told["logger"])],
        "units": [_unit(*group[:4]) for group in told["groups"]],
        **_looks(told["groups"], told["days"], taxon),
        "conditions": _conditions(told["logger"]),
    }


def _blank(*columns, reason=NOWHERE):
    return "; ".join(f"{column}: {reason}" for column in columns)


def _seed(populations, taxon):
    kinds = dict(zip(taxon.values(), (kind for _, kind, *_ in populations), strict=True))
    source = {
        "person_id": "SOURCE",
        "kind": "organisation",
        "name": "Authors of the dataset",
        "consent_to_publish": True,
    }
    return {
        "people": [source],
        "taxa": [
            {
                "taxon_id": taxon_id,
                "scientific_name": kind,
                "place_sensitivity": SENSITIVITY,
                "notes": "Name as in the source, which gives no authorship. How exact places may be told is our caution.",
            }
            for taxon_id, kind in kinds.items()
        ],
        "lots": [_lot(taxon[code], code, latitude, longitude) for code, _, latitude, longitude in populations],
    }


def _lot(taxon_id, code, latitude, longitude):
    """Seed of one population. The source gives a point of each but one; here it stands on the grid of its sensitivity."""
    lot = {
        "lot_id": code,
        "taxon_id": taxon_id,
        "seed_unit": "seed",
        "prior_treatment": "unknown",
        "notes": f"Population {code}. The source names places as of populations, not how the seed was had from there.",
    }
    blank = _blank("source_kind", "collected_from", "mother_plants", "permit")
    if latitude is None:
        told = "The list of populations has another code for this kind of plant, so its place is left out."
        return lot | {"notes": f"Population {code}. {told}", "why_blank": f"{blank}; {_blank('country', 'place')}"}
    cell = schema.word("place_sensitivity", SENSITIVITY)["grid_deg"]
    return lot | {
        "country": "US",
        "latitude": latitude,
        "longitude": longitude,
        "coordinate_uncertainty_m": round(float(uncertainty_m(cell, latitude))),
        "why_blank": f"{blank}; {_blank('place', reason='withheld')}",
    }


def _plan(cohorts):
    return {
        "treatments": [
            {
                "treatment_id": f"C{number}",
                "label": f"first rain {day}",
                "role": "test",
                "purpose": "Shows whether seed whose first rain came later germinates more, or less, in the second year.",
                "notes": f"Cohort {number}, planted {day}. Nothing was put on the seed as far as told.",
                "why_blank": _blank("hull") + "; " + _blank("clean_method", "clean_to", reason="not applicable"),
            }
            for number, day in cohorts
        ],
        "trials": [
            {
                "trial_id": TRIAL,
                "title": "Germination in a second year after first rains at seven times",
                "question": "Does the time of its first rain change how much waiting seed germinates a year later?",
                "time_zero": "placing",
                "status": "finished",
                "notes": f"Day 0 is {WATERED}, when water came again; the seed had been wet in the year before. A tray is "
                "the pots, of one seed each, of one population and cohort in one block. Days of looking are not told: a "
                "day on which a block has a germinated seed is taken as a look at all of that block, and at no other.",
                "why_blank": _blank(
                    "design", "allocation_method", "random_seed", "alpha", "planned_at", "germinated_when"
                ),
            }
        ],
        "trial_outcomes": [
            {
                "trial_id": TRIAL,
                "outcome": "germinated",
                "primary": True,
                "denominator": "sown units",
                "criterion": "a day of germination is entered; the sign is not told",
            }
        ],
        "trial_factors": [{"trial_id": TRIAL, "factor": "first rain", "applied_to": "block"}],
        "environments": [
            {
                "environment_id": "WATERED-2021",
                "trial_id": TRIAL,
                "moved_about": "placed anew in blocks before the second year",
                "notes": "Where the blocks stood and how they were watered is not told in the data.",
                "why_blank": _blank("chamber", "day_c", "night_c", "light_hours", "substrate", "water_per_unit_ml"),
            }
        ],
    }


def _logger(logger):
    return {
        "equipment_id": LOGGER,
        "kind": "logger",
        "serial": logger["serial"],
        "notes": f"Lay in a pot of block {logger['block']}. Its clock is that of summer time there. The file says that its "
        "memory rolled over, and ends before the trial does. The source names its model.",
    }


def _name(block, population, cohort):
    return f"B{block:02d}-{population}-C{cohort}"


def _unit(block, population, cohort, seeds):
    return {
        "unit_id": _name(block, population, cohort),
        "trial_id": TRIAL,
        "kind": "tray",
        "treatment_id": f"C{cohort}",
        "lot_id": population,
        "environment_id": "WATERED-2021",
        "block": str(block),
        "sown_n": seeds,
        "seeds_each": 1,
        "placed_at": WATERED,
        "status": "in use",
    }


def _looks(groups, days, taxon):
    """Visits and counts: on each day that a block has a germinated seed every tray of the block has a count."""
    blocks = [sorted({group[0] for group in groups if any(at == n for at, _ in group[4:])}) for n in range(len(days))]
    visits = [
        {
            "visit_id": f"V-{day}",
            "trial_id": TRIAL,
            "visited_at": day,
            "visited_by": "SOURCE",
            "looked_for": "germinated",
            "counting": "new",
            "notes": f"Blocks with a germinated seed that day: {', '.join(map(str, seen))}.",
            "why_blank": _blank("blind", "sheet", "typed_at"),
        }
        for day, seen in zip(days, blocks, strict=True)
    ]
    counts = [
        {
            "visit_id": f"V-{day}",
            "unit_id": _name(block, population, cohort),
            "outcome": "germinated",
            "taxon_id": taxon[population],
            "observer": "SOURCE",
            "count": dict(found).get(n, 0),
        }
        for n, day in enumerate(days)
        for block, population, cohort, _, *found in groups
        if block in blocks[n]
    ]
    return {"visits": visits, "counts": counts}


def _conditions(logger):
    """Hourly readings as they were logged, and lowest, mean and highest of each day that has all its hours."""
    first = pd.Timestamp(logger["from"])
    read = pd.Series(logger["values"], pd.date_range(first, periods=len(logger["values"]), freq="h"), dtype=float)
    by = read.groupby(read.index.date)
    daily = by.agg(["min", "mean", "max"])[by.size().eq(24)].set_axis(["lowest", "mean", "highest"], axis="columns")
    row = {"equipment_id": LOGGER, "quantity": "temperature", "environment_id": "WATERED-2021", "unit": "Cel"}
    single = [
        row | {"logged_at": at.isoformat(timespec="minutes"), "value": v, "of_the_day": "reading"}
        for at, v in read.items()
    ]
    summed = [
        row | {"logged_at": day.isoformat(), "value": round(value, 2), "of_the_day": which}
        for day, values in daily.iterrows()
        for which, value in values.items()
    ]
    return single + summed
