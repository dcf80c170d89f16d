"""Instruments of the invented demo: their calibrations, and what the loggers in the incubators wrote."""

from palea.demo.chance import Chance
from palea.demo.days import after
from palea.demo.setting import laid_down, setting
from palea.demo.truth import truth

ROUNDS = (("2023-08-14", "2024-08-14"), ("2024-08-05", "2025-08-05"))  # done, due
HOURS = 24
LIGHT_FROM, LIGHT_TO = 8, 20
WAVE_C = 0.4  # between the middle of the light or dark hours and their extremes


def calibrated(book):
    """Every instrument that measures, held against a reference once a year."""
    for one in setting("calibrations"):
        for done_on, due_on in ROUNDS:
            chance = Chance(book.seed, "calibration", one["equipment_id"], one["quantity"], done_on)
            found = round(chance.normal(one["reference"], one["uncertainty"] / 3), one["digits"])
            row = {k: v for k, v in one.items() if k != "digits"}
            book.add("calibrations", done_on=done_on, due_on=due_on, found=found, **row)


def logged(book):
    """Temperature in the incubators, day by day over the trials, and hour by hour for a few days."""
    for trial, environment, there, filling in _fillings(book):
        chance = Chance(book.seed, "logged", trial, there["chamber"], there["filling"])
        for day in range(truth()["germination"][trial]["days"][-1] + 1):
            _day(book, chance, f"{trial}-{environment}", there, after(filling["sown_on"], day))
    for one in setting("logged_hourly"):
        if one["trial"] in {row["trial_id"] for row in book.rows["trials"]}:
            _hours(book, one)


def _fillings(book):
    """Each filling of a chamber once, by the first environment in it: the logger hung beside its dishes."""
    for row in book.rows["trials"]:
        down, seen = laid_down(row["trial_id"]), set()
        for environment, there in down.get("environments", {}).items():
            if (there["chamber"], there["filling"]) not in seen:
                seen.add((there["chamber"], there["filling"]))
                yield row["trial_id"], environment, there, down["fillings"][there["filling"]]


def _day(book, chance, environment_id, there, on):
    off = truth()["chambers"][there["chamber"]]["off_c"] + chance.normal(0, truth()["chambers"]["day_sd_c"])
    mean = (there["day_c"] * there["light_hours"] + there["night_c"] * (HOURS - there["light_hours"])) / HOURS
    ends = {"lowest": there["night_c"] - WAVE_C, "mean": mean, "highest": there["day_c"] + WAVE_C}
    for which, value in ends.items():
        _row(book, environment_id, there, logged_at=on, of_the_day=which, value=round(value + off, 1))


def _hours(book, one):
    there = laid_down(one["trial"])["environments"][one["environment"]]
    chance = Chance(book.seed, "logged hourly", one["trial"], one["environment"])
    off = truth()["chambers"][there["chamber"]]["off_c"]
    for hour in range(one["days"] * HOURS):
        light = LIGHT_FROM < hour % HOURS <= LIGHT_TO
        value = there["day_c" if light else "night_c"] + off + chance.normal(0, WAVE_C / 2)
        moment = f"{after(one['from'], hour // HOURS)}T{hour % HOURS:02d}:00{one['offset']}"
        _row(book, f"{one['trial']}-{one['environment']}", there, logged_at=moment, of_the_day="reading",
             value=round(value, 1))


def _row(book, environment_id, there, **row):
    logger = setting("logger_in")[there["chamber"]]
    book.add("conditions", equipment_id=logger, environment_id=environment_id, quantity="temperature", unit="Cel", **row)
