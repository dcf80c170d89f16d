"""Dates as far as known, and what to say of those that are written another way."""

import re
from datetime import date, timedelta

from palea.calc import spans
from palea.tables.misfit import Misfit, quoted

_FIRST_HALF = ["January", "February", "March", "April", "May", "June"]
_MONTHS = [*_FIRST_HALF, "July", "August", "September", "October", "November", "December"]
_WHOLE_DATE = re.compile(r"(\d{4})-(\d\d)-(\d\d)(?:T.*)?", re.ASCII)
_SHORT_YEAR = re.compile(r"\d{1,2}[./ -]\d{1,2}[./ -]\d{2}", re.ASCII)
_SERIAL = re.compile(r"\d{5}(?:\.\d+)?", re.ASCII)
_DAY_ZERO = date(1899, 12, 30)  # of the usual workbook, as ECMA-376 part 1, 18.17.4.1 counts days
_FIRST_SERIAL, _LAST_SERIAL = 20_000, 80_000  # 1954 to 2119
_LOCAL_DATE = re.compile(r"(\d{1,2})[./ -](\d{1,2})[./ -](\d{4})", re.ASCII)


def partial_date(text):
    """The Misfit of a text that is no date as far as known, or None."""
    if spans.is_readable([text])[0]:
        return None
    local, whole = _LOCAL_DATE.fullmatch(text), _WHOLE_DATE.fullmatch(text)
    if local:
        return _local_date(text, *map(int, local.groups()))
    if _SERIAL.fullmatch(text) and _FIRST_SERIAL <= int(text.partition(".")[0]) <= _LAST_SERIAL:
        day = (_DAY_ZERO + timedelta(days=int(text.partition(".")[0]))).isoformat()
        return Misfit(
            "date",
            f"{quoted(text)} is how a spreadsheet keeps {day} (or, in a workbook that counts from 1904, another day)",
            f"compare with the sheet and write {day}; format the column as text, and it stays",
        )
    if _SHORT_YEAR.fullmatch(text):
        return Misfit("date", f"{quoted(text)} can be several days", "write the year with four digits, as in 2026-05-04")
    if whole and not _exists(*map(int, whole.groups())):
        return Misfit(
            "date",
            f"There is no day {text[:10]} in the calendar",
            "look at the sheet again; a year and month alone will do, as in 2026-02",
        )
    return Misfit(
        "date",
        f"{quoted(text)} is not a date that palea reads",
        "write year, month and day as in 2026-05-04, with a time as in 2026-05-04T09:30, or only 2026-05 or 2026",
    )


def _local_date(text, first, second, year):
    """A date in the order of some country: both readings where both exist."""
    readings = [
        f"{year:04d}-{m:02d}-{d:02d}"
        for d, m in dict.fromkeys([(first, second), (second, first)])
        if _exists(year, m, d)
    ]
    if not readings:
        return Misfit("date", f"{quoted(text)} is no day in the calendar", "write it as in 2026-05-04")
    if len(readings) == 1:
        return Misfit("date", f"{quoted(text)} is not written as year, month, day", f"write {readings[0]}")
    shown = " or ".join(
        f"{date.fromisoformat(r).day} {_MONTHS[date.fromisoformat(r).month - 1]} {year}" for r in readings
    )
    return Misfit("date", f"{quoted(text)} can be {shown}", f"write {' or '.join(readings)}")


def _exists(year, month, day):
    try:
        date(year, month, day)
    except ValueError:
        return False
    return True
