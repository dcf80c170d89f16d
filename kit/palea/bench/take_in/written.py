"""How cells are written: local dates, decimal commas, units in headings. What can mean two things is never chosen silently."""

import json
import re
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

from palea import schema
from palea.calc import spans, units
from palea.errors import UnfitValue

DAY_FIRST, MONTH_FIRST = "day first", "month first"
ORDERS = (DAY_FIRST, MONTH_FIRST)
_TIME = r"(?:[ T,]+(\d{1,2}):(\d\d)(?::(\d\d)(?:\.\d+)?)?\s*([AaPp])?\.?(?:[Mm]\.?)?)?"
_NUMERIC = re.compile(rf"(\d{{1,2}})\s?[./-]\s?(\d{{1,2}})\s?[./-]\s?(\d{{4}}|\d{{2}}){_TIME}", re.ASCII)
_YEAR_FIRST = re.compile(rf"(\d{{4}})[./-](\d{{1,2}})[./-](\d{{1,2}}){_TIME}", re.ASCII)
_NAMED = re.compile(rf"(?:\w{{3,9}},?\s+)?(\d{{1,2}})\.?[ -]([A-Za-z]{{3,9}})\.?,?[ -](\d{{4}}|\d{{2}}){_TIME}", re.ASCII)
_MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_UNIT = re.compile(r"(.*?)\s*[\(\[]\s*([^()\[\]]{1,20})\s*[\)\]]\s*")
_COMMA_UNIT = re.compile(r"(.*\w)\s*,\s*([^\s,]{1,12})")
_GROUPED = re.compile(r"[+-]?\d{1,3}(?:\.\d{3})+(?:,\d+)?", re.ASCII)
_POINT_OR_GROUP = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}", re.ASCII)
_COMMA = re.compile(r"[+-]?\d+,\d+(?:[eE][+-]?\d+)?", re.ASCII)
_POINT = re.compile(r"[+-]?\d*\.\d+(?:[eE][+-]?\d+)?|[+-]?\d+", re.ASCII)
# RFC 5322, section 4.3 (obs-zone): the only names of zones with one published meaning
ZONES = {"EDT": "-04:00", "EST": "-05:00", "CDT": "-05:00", "CST": "-06:00", "MDT": "-06:00", "MST": "-07:00",
         "PDT": "-07:00", "PST": "-08:00", "GMT": "+00:00", "UTC": "+00:00", "UT": "+00:00"}  # fmt: skip


@cache
def spellings():
    """{what people write: UCUM code} where the two differ; common practice, no source."""
    return json.loads(Path(__file__).with_name("synonyms.json").read_text(encoding="utf-8"))["units"]


@dataclass(frozen=True)
class Order:
    """In what order day and month stand in a file's dates.

    order : one of ORDERS, "" where nothing in the file says it.  proof : a date that has only one reading.
    mixed : a date that contradicts the proof, "" where none does.  unsure : how many dates need the order.
    """

    order: str = ""
    proof: str = ""
    mixed: str = ""
    unsure: int = 0


def is_date(text):
    """Whether a text looks like a date, whatever its order."""
    text = text.strip()
    if re.fullmatch(r"\d{4}", text):
        return False  # a number as much as a year
    return bool(spans.is_readable([text])[0] or any(p.fullmatch(text) for p in (_NUMERIC, _YEAR_FIRST)) or _month_of(text))


def has_short_year(text):
    """Whether a date has a year of two digits."""
    found = _NUMERIC.fullmatch(text.strip()) or _month_of(text.strip())
    return bool(found) and len(found[3]) == 2


def order_of(texts):
    """The Order that these texts prove: a first number above 12 is a day, a second above 12 is a day, too."""
    first = second = ""
    unsure = 0
    for text in texts:
        found = _NUMERIC.fullmatch(text.strip())
        if found:
            a, b = int(found[1]), int(found[2])
            if a > 12 >= b:
                first = first or text
            elif b > 12 >= a:
                second = second or text
            else:
                unsure += a != b
    if first and second:
        return Order("", first, second, unsure)
    return Order(DAY_FIRST, first, "", unsure) if first else Order(MONTH_FIRST if second else "", second, "", unsure)


def moment(text, order, offset=""):
    """A date as text -> (as the tables write it, sentence of what is wrong). offset : added where a time has no zone.

    >>> moment("9/17/20 12:55:00 PM", "month first", "-07:00")
    ('2020-09-17T12:55-07:00', '')
    >>> moment("4/3/2025", "")
    ('', '“4/3/2025” can be 2025-03-04 or 2025-04-03. Say which number is the day, or write it as the first of these.')
    """
    text = text.strip()
    if spans.is_readable([text])[0]:
        return (text + offset if "T" in text and offset and not re.search(r"(Z|[+-]\d\d:\d\d)$", text) else text), ""
    parts = _parts(text, order)
    if isinstance(parts, str):
        return "", parts
    if parts is None:
        return "", f"“{text}” is no date. Write year, month and day, as in 2026-05-04."
    (year, month, day), clock = parts
    try:
        told = date(year, month, day).isoformat()
    except ValueError:
        return "", f"“{text}” is no day in the calendar ({order or 'as written'}). Look at the sheet again."
    return told + (f"T{clock}{offset}" if clock else ""), ""


def _parts(text, order):
    """((year, month, day), clock), a sentence where there are two readings, None for no date."""
    if found := _YEAR_FIRST.fullmatch(text):
        return tuple(map(int, found.groups()[:3])), _clock(found, 4)
    if found := _month_of(text):
        return (_year(found[3]), _MONTHS.index(found[2][:3].lower()) + 1, int(found[1])), _clock(found, 4)
    found = _NUMERIC.fullmatch(text)
    if not found:
        return None
    a, b, year = int(found[1]), int(found[2]), _year(found[3])
    if not order and a != b:
        if a <= 12 and b <= 12:
            one, other = f"{year}-{b:02d}-{a:02d}", f"{year}-{a:02d}-{b:02d}"
            return f"“{text}” can be {one} or {other}. Say which number is the day, or write it as the first of these."
        order = DAY_FIRST if a > 12 else MONTH_FIRST
    day, month = (a, b) if order == DAY_FIRST or not order else (b, a)
    return (year, month, day), _clock(found, 4)


def _month_of(text):
    found = _NAMED.fullmatch(text)
    return found if found and found[2][:3].lower() in _MONTHS else None


def _year(text):
    return int(text) if len(text) > 2 else 2000 + int(text)


def _clock(found, at):
    hour, minute, second, half = found.groups()[at - 1 : at + 3]
    if hour is None:
        return ""
    hours = int(hour) % 12 + (12 if half.lower() == "p" else 0) if half else int(hour)
    return f"{hours:02d}:{minute}" + (f":{second}" if second and second != "00" else "")


def zone_in(texts):
    """(name, offset) of the first zone named in texts, where RFC 5322 gives it one meaning; ("", "") else."""
    found = (word for text in texts for word in re.findall(r"\b[A-Z]{2,4}\b", text) if word in ZONES)
    name = next(found, "")
    return name, ZONES.get(name, "")


def decimal_of(texts, separator=""):
    """The decimal sign of a file: "," or "." where a number shows it, else "," in a file parted by semicolons, else "."."""
    sure = [t for t in texts if not _POINT_OR_GROUP.fullmatch(t)]
    if any(_COMMA.fullmatch(t) for t in sure):
        return ","
    if any("." in t and _POINT.fullmatch(t) for t in sure):
        return "."
    return "," if separator == ";" and any(_COMMA.fullmatch(t) for t in texts) else "."


def number(text, decimal):
    """A number as text -> the same with a decimal point; as it was where it is none, which the field's reader then says.

    >>> number("1.234,5", ","), number("3,20", ","), number("1 200", ".")
    ('1234.5', '3.20', '1200')
    """
    plain = re.sub(r"(?<=\d)[ '\u202f\u00a0](?=\d{3}\b)", "", text.strip()).replace("\u2212", "-")
    if decimal == ",":
        if _GROUPED.fullmatch(plain) and "," in plain:
            return plain.replace(".", "").replace(",", ".")
        return plain.replace(",", ".") if _COMMA.fullmatch(plain) else plain
    return plain


def whole(text):
    """A whole number without the decimals that a spreadsheet gave it: "3.0" is "3"; any other text as it is."""
    return text.partition(".")[0] if re.fullmatch(r"[+-]?\d+\.0+", text, re.ASCII) else text


def is_number(text):
    """Whether a text is a number in some way of writing."""
    plain = number(text.removesuffix("%"), ",")
    return bool(_POINT.fullmatch(plain))


def heading(text):
    """A heading -> (name, unit as a UCUM code or ""): "Mass (mg)" is ("Mass", "mg").

    A bracket that is no unit stays with the name.
    """
    for pattern in (_UNIT, _COMMA_UNIT):
        found = pattern.fullmatch(text.strip())
        if found and (code := unit(found[2])):
            return found[1].strip(), code
    return text.strip(), ""


def unit(text):
    """The UCUM code of a unit as people write it; "" where it is none that is known."""
    text = text.strip().rstrip(".")
    known = schema.words("unit")
    code = text if text in known else spellings().get(text.casefold(), "")
    if not code:
        named = {schema.word("unit", name)["title"]: name for name in known}
        code = named.get(text.casefold(), named.get(text.casefold().removesuffix("s"), ""))
    if code or not text or text.isdigit():
        return code
    try:
        units.read(text)
    except UnfitValue:
        return ""
    return text if len(text) < 8 else ""


def factor(code, to):
    """What a value in `code` is multiplied by to be in `to`: (factor, sentence of why not)."""
    if code == to or (code == "%" and to.startswith("%")):
        return 1.0, ""
    try:
        return units.convert(1.0, code, to), ""
    except UnfitValue as fault:
        return 1.0, str(fault)


def times(text, by):
    """A plain number as text, multiplied; what is no number stays as it is."""
    try:
        return f"{float(text) * by:.12g}"
    except ValueError:
        return text
