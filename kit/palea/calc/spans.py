"""A date as it was written, perhaps only a year or a month, as the span of time that it can mean.

Accepted: YYYY, YYYY-MM, YYYY-MM-DD, YYYY-MM-DDTHH:MM and YYYY-MM-DDTHH:MM:SS, the last two with or without a zone (Z,
+hh:mm or -hh:mm). Nothing else: 07/08/2023 is July in one country and August in the next, so it is never guessed.

Wall clock: a span is what the clock on the wall showed, and the zone is not taken off it. A sowing date without a zone
and a visit at 00:30+02:00 of the same day then still fall on the same day. Only `days_between` uses zones, where
both ends have one, because there an hour of summer time is an hour that did not pass.
"""

import re

import numpy as np
import pandas as pd

_WRITTEN = re.compile(
    r"(\d{4})(?:-(\d\d)(?:-(\d\d)(?:T(\d\d):(\d\d)(?::(\d\d))?(Z|[+-]\d\d:\d\d)?)?)?)?",
    re.ASCII,  # Arabic-Indic digits are \d too, and no reader downstream takes them
)
_ABSENT, _NO_ZONE = -1, -9999
_DAY = np.timedelta64(1, "D")
_SECOND = np.timedelta64(1, "s")
_MOST_ZONE = 14 * 60  # minutes; no zone on Earth is further from Greenwich


def earliest(text):
    """First second that each written date can mean.

    text : (n,) strings, missing allowed; any array-like or Series.
    Returns (n,) datetime64[s], wall clock; NaT where missing or unreadable.
    Source: ISO 8601-1:2019, 5.2.2 (reduced precision), the forms above only.

    >>> earliest(["2023", "2023-02", "2024-02-30"]).astype(str).tolist()
    ['2023-01-01T00:00:00', '2023-02-01T00:00:00', 'NaT']
    """
    codes, spans = _spans(text)
    return _spread(spans["first"], codes, np.datetime64("NaT", "s"))


def latest(text):
    """Last second that each written date can mean; shapes and edges as in `earliest`.

    >>> latest(["2023-02", "2023-02-03T09:30"]).astype(str).tolist()
    ['2023-02-28T23:59:59', '2023-02-03T09:30:59']
    """
    codes, spans = _spans(text)
    return _spread(spans["last"], codes, np.datetime64("NaT", "s"))


def is_readable(text):
    """Whether each text is a date that exists, written in an accepted form; (n,) bool, False where missing.

    >>> is_readable(["2024-02-29", "2024-02-30", "07/08/2023"])
    array([ True, False, False])
    """
    codes, spans = _spans(text)
    return _spread(~np.isnat(spans["first"]), codes, fill=False)


def days_between(start, end):
    """Days that passed from `start` to `end`, negative when `end` is earlier.

    start, end : (n,) written dates (strings), broadcast against each other, or datetime64 arrays.
    Returns (n,) float [d]; nan where either is missing, unreadable, or written more coarsely than a day. Whole days
    (difference of calendar days) unless both carry a time of day; zones count only where both carry one.

    >>> days_between(["2024-03-01"], ["2024-03-04T09:00", "2024-03-04", "2024-03"])
    array([ 3.,  3., nan])
    """
    since, until = _moments(start), _moments(end)
    timed, zoned = since["timed"] & until["timed"], since["zoned"] & until["zoned"]
    wall = (until["first"] - since["first"]) / _DAY
    calendar = (until["first"].astype("datetime64[D]") - since["first"].astype("datetime64[D]")) / _DAY
    true = ((until["first"] - until["zone"]) - (since["first"] - since["zone"])) / _DAY
    days = np.where(timed, np.where(zoned, true, wall), calendar)
    return np.where(since["daily"] & until["daily"], days, np.nan)


def _moments(when):
    """`first`, `timed`, `zoned`, `zone`, `daily` of each value, whatever it was handed as."""
    if getattr(getattr(when, "dtype", None), "kind", "") == "M":
        first = np.atleast_1d(np.asarray(when)).astype("datetime64[s]")
        yes = np.ones(first.shape, bool)
        return {"first": first, "timed": yes, "zoned": ~yes, "zone": first - first, "daily": yes}
    codes, spans = _spans(when)
    blank = {"first": np.datetime64("NaT", "s"), "zone": np.timedelta64(0, "s")}
    return {name: _spread(values, codes, blank.get(name, False)) for name, values in spans.items() if name != "last"}


def _spread(of_distinct, codes, fill):
    """Values of the distinct texts laid back on the rows; `fill` where the text is missing (code -1)."""
    return np.append(of_distinct, np.array([fill], of_distinct.dtype))[codes]


def _spans(text):
    """Codes of the rows, and the meaning of each distinct text: a column holds few, so only these are read."""
    codes, distinct = pd.factorize(pd.Series(text, dtype=pd.StringDtype("pyarrow")))
    return codes, _meaning(np.array([_fields(written) for written in distinct], np.int64).reshape(-1, 7))


def _fields(written):
    """Year, month, day, hour, minute, second and zone [minutes] of one text; _ABSENT throughout if unreadable."""
    found = _WRITTEN.fullmatch(written)
    if not found:
        return (_ABSENT,) * 6 + (_NO_ZONE,)
    *numbers, zone = found.groups()
    return (*(_ABSENT if n is None else int(n) for n in numbers), _zone(zone))


def _zone(zone):
    """Minutes ahead of Greenwich; _NO_ZONE where none is written, beyond _MOST_ZONE where none can be meant."""
    if zone is None:
        return _NO_ZONE
    if zone == "Z":
        return 0
    hours, minutes = int(zone[1:3]), int(zone[4:])
    size = hours * 60 + minutes
    if minutes > 59 or size > _MOST_ZONE:
        return _MOST_ZONE + 1
    return size if zone[0] == "+" else -size


def _meaning(fields):
    """First and last second of (n, 7) fields, with how finely each was written."""
    year, month, day, hour, minute, second, zone = fields.T
    start = _months(year, month)
    wide = np.where(month == _ABSENT, 12, 1).astype("timedelta64[M]")
    days_in_month = ((start + np.timedelta64(1, "M")).astype("datetime64[D]") - start.astype("datetime64[D]")) / _DAY
    exists = (
        (year > 0) & (month != 0) & (month <= 12) & (day != 0) & (day <= days_in_month)
        & (hour < 24) & (minute < 60) & (second < 60) & (zone <= _MOST_ZONE)
    )
    hours = (np.maximum(day, 1) - 1) * 24 + np.maximum(hour, 0)
    into = (hours * 60 + np.maximum(minute, 0)) * 60 + np.maximum(second, 0)
    first = start.astype("datetime64[s]") + into.astype("timedelta64[s]")
    long = np.where(hour == _ABSENT, 86400, np.where(second == _ABSENT, 60, 1)).astype("timedelta64[s]")
    last = np.where(day == _ABSENT, (start + wide).astype("datetime64[s]"), first + long) - _SECOND
    first[~exists] = last[~exists] = np.datetime64("NaT")
    zoned = exists & (zone != _NO_ZONE)
    return {
        "first": first, "last": last, "daily": exists & (day != _ABSENT), "timed": exists & (hour != _ABSENT),
        "zoned": zoned, "zone": np.where(zoned, zone * 60, 0).astype("timedelta64[s]"),
    }


def _months(year, month):
    """Month number `month` (January where absent) of each year, as datetime64[M]."""
    return ((np.maximum(year, 1) - 1970) * 12 + np.clip(month, 1, 12) - 1).astype("datetime64[M]")
