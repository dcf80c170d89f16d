"""Days and hours of the invented demo's calendar."""

from datetime import date, datetime, timedelta

SUMMER_TIME_ENDS = "2023-10-29"
WEEKEND = 5


def after(day, days):
    """The date so many days later; both as YYYY-MM-DD."""
    return (date.fromisoformat(day) + timedelta(days=days)).isoformat()


def workday(first, number):
    """The date so many working days (Monday to Friday) after a first one."""
    day = date.fromisoformat(first)
    while number:
        day += timedelta(days=1)
        number -= day.weekday() < WEEKEND
    return day.isoformat()


def at(day, clock, minutes=0):
    """A moment with its offset: `minutes` after that time of that day."""
    moment = datetime.fromisoformat(f"{day}T{clock}") + timedelta(minutes=round(minutes))
    offset = "+01:00" if moment.date().isoformat() < SUMMER_TIME_ENDS else "+00:00"
    return moment.strftime("%Y-%m-%dT%H:%M") + offset


def in_a_row(days):
    """Days as a plan writes them: "3; 5; 7"."""
    return "; ".join(map(str, days))
