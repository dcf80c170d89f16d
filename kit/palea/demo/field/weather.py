"""The weather at both sites, day by day, as the loggers summed it up."""

from datetime import date
from math import cos, log, pi

from palea import schema
from palea.demo.chance import Chance
from palea.demo.days import after
from palea.demo.field.seedlings import WEEK
from palea.demo.field.truth import field_setting, field_truth

WARMEST = 200  # day of the year
YEAR = 365.25
EVENING = 0.35  # of the half range: how much it varies


def logged(book, seed):
    """Enter what the loggers wrote, from the day of sowing to the last visit."""
    for site, where in field_setting("weather").items():
        plan = field_truth()["trials"][where["trial"]]
        first = field_setting("sown_on")[where["trial"]]
        for since, day in enumerate(weather(site, plan["later_weeks"][-1] * WEEK, first, seed)):
            _enter(book, site, where, after(first, since), day)


def _enter(book, site, where, on, day):
    for quantity, kinds in field_setting("logged").items():
        word = schema.word("condition", quantity)
        for kind in kinds:
            book.add("conditions", equipment_id=where["gauge" if word["adds_up"] else "logger"], logged_at=on,
                     quantity=quantity, site_id=site, value=day[quantity, kind], unit=word["unit"], of_the_day=kind)


def weather(site, last_day, first, seed):
    """{(quantity, of the day): value} of each day from 0 to `last_day` after the day `first`."""
    it, chance = field_truth()["weather"][site], Chance(seed, site, "weather")
    warmth, water, found = 0.0, it["water_lowest"] + 5, []
    for since in range(last_day + 1):
        kept = field_truth()["warmth_kept"]
        warmth = kept * warmth + chance.normal(0, field_truth()["warmth_sd_c"] * (1 - kept**2) ** 0.5)
        rain = _rain(chance, it, since)
        above = (water - it["water_lowest"]) * it["water_kept"] + rain * it["water_per_mm"]
        water = min(it["water_lowest"] + above, it["water_highest"])
        found.append(_day(chance, it, _season(it, after(first, since)) + warmth, rain, water))
    return found


def _season(it, on):
    """The usual temperature of a day of the year."""
    return it["mean_c"] + it["swing_c"] * cos(2 * pi * (date.fromisoformat(on).timetuple().tm_yday - WARMEST) / YEAR)


def _rain(chance, it, since):
    """Rain of a day: none, or an exponential amount. The same two draws in a dry spell, so that it changes no other day."""
    wet, amount = chance.happens(it["wet_share"]), -log(1 - chance.share()) * it["wet_day_mm"]
    dry = it["dry_days"] and it["dry_days"][0] <= since <= it["dry_days"][1]
    return 0.0 if dry or not wet else round(amount / 0.2) * 0.2


def _day(chance, it, mean, rain, water):
    below, beyond = (it["half_range_c"] * (1 + EVENING * chance.normal()) for _ in range(2))
    return {
        ("temperature", "lowest"): round(mean - max(below, 0.5), 1), ("temperature", "mean"): round(mean, 1),
        ("temperature", "highest"): round(mean + max(beyond, 0.5), 1), ("rain", "sum"): round(rain, 1),
        ("soil moisture", "mean"): round(water + chance.normal(0, 0.15), 1),
    }
