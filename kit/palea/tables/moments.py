"""Written moments of millions of rows as numbers, by their digits; the few that are written otherwise one by one."""

from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from palea.calc import spans

_WIDTHS = {16: "", 19: "s", 17: "Z", 20: "sZ", 22: "+", 25: "s+"}  # of YYYY-MM-DDThh:mm, with seconds and a zone or not
_LENGTH = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
_DAYS_TO_1970 = 719162  # from 0001-01-01 on
_BEFORE_MONTH = np.array([0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334])
_MOST_ZONE = 14 * 60  # minutes; no zone on Earth is further from Greenwich
NO_OFFSET = -(10**6)


@dataclass(frozen=True, eq=False)
class Moments:
    """wall : (n,) seconds since 1970 as the clock showed.  offset : minutes ahead of Greenwich, NO_OFFSET where none is
    written.  timed : whether a time of day is written.  readable : whether it could be read at all.
    """

    wall: np.ndarray
    offset: np.ndarray
    timed: np.ndarray
    readable: np.ndarray

    @property
    def true(self):
        """Seconds since 1970 in Greenwich; the wall's where no offset is written."""
        return self.wall - np.where(self.offset == NO_OFFSET, 0, self.offset) * 60


def of(column):
    """A pyarrow array of text -> Moments. Says the same of each text as `palea.calc.spans`."""
    width = np.asarray(pc.fill_null(pc.binary_length(column), 0))
    many = len(column)
    found = Moments(np.zeros(many, np.int64), np.full(many, NO_OFFSET), np.zeros(many, bool), np.zeros(many, bool))
    for size in np.unique(width):
        at = np.flatnonzero(width == size)
        part = column if len(at) == many else column.take(pa.array(at))
        if size in _WIDTHS:
            _put(found, at, _by_digits(part, int(size)))
    rest = np.flatnonzero(~found.readable & (width > 0))
    if len(rest):
        _put(found, rest, _one_by_one(column.take(pa.array(rest))))
    return found


def _put(found, at, parts):
    for values, new in zip((found.wall, found.offset, found.timed, found.readable), parts, strict=True):
        values[at] = new


def _by_digits(column, size):
    """Wall, offset, timed, readable of texts of one length, which must be ASCII digits in their places."""
    text = np.frombuffer(column.buffers()[2], np.uint8)[_first_byte(column) :][: len(column) * size].reshape(-1, size)
    kind, sign = _WIDTHS[size], np.ascontiguousarray(text.T)  # a row a place
    digit = sign - np.uint8(48)  # a sign below "0" becomes a large number
    zone = kind.endswith("+")
    seconds, offsets = [17, 18] * ("s" in kind), [size - 5, size - 4, size - 2, size - 1] * zone
    fine = (digit[[0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15, *seconds, *offsets]] <= 9).all(axis=0)
    for place, wanted in {4: "-", 7: "-", 10: "T", 13: ":", **({16: ":"} if seconds else {})}.items():
        fine &= sign[place] == ord(wanted)
    year, month, day, hour, minute = (_number(digit, a, b) for a, b in ((0, 4), (5, 7), (8, 10), (11, 13), (14, 16)))
    second = _number(digit, 17, 19) if seconds else 0
    fine &= (year > 0) & (month > 0) & (month < 13) & (day > 0) & (hour < 24) & (minute < 60) & (second < 60)
    offset = np.full(len(text), 0 if kind.endswith("Z") else NO_OFFSET)
    if kind.endswith("Z"):
        fine &= sign[-1] == ord("Z")
    elif zone:
        behind, minutes = sign[-6] == ord("-"), _number(digit, size - 2, size)
        offset = _number(digit, size - 5, size - 3) * 60 + minutes
        fine &= ((sign[-6] == ord("+")) | behind) & (sign[-3] == ord(":")) & (minutes < 60) & (offset <= _MOST_ZONE)
        offset = np.where(behind, -offset, offset)
    month = np.clip(month, 1, 12)
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    fine &= day <= _LENGTH[month - 1] + (leap & (month == 2))
    before = year - 1  # by the rule of the Gregorian calendar
    since = before * 365 + before // 4 - before // 100 + before // 400 - _DAYS_TO_1970
    since = since + _BEFORE_MONTH[month - 1] + (leap & (month > 2)) + day - 1
    wall = since.astype(np.int64) * 86400 + (hour * 60 + minute) * 60 + second
    return wall, offset, np.ones(len(text), bool), fine


def _first_byte(column):
    """Where the text of the first row begins in the buffer of texts."""
    return int(np.frombuffer(column.buffers()[1], np.int32)[column.offset])


def _number(digit, first, last):
    """The whole number that stands in these places."""
    value = digit[first].astype(np.int32)
    for place in range(first + 1, last):
        value = value * 10 + digit[place]
    return value


def _one_by_one(column):
    """The same by the reader of partial dates: days, months, and whatever cannot be read."""
    texts = column.to_pandas()
    first = spans.earliest(texts)
    readable = ~np.isnat(first)
    wall = np.where(readable, first, np.datetime64(0, "s")).astype("datetime64[s]").astype(np.int64)
    return wall, np.full(len(wall), NO_OFFSET), texts.str.contains("T").to_numpy(bool), readable
