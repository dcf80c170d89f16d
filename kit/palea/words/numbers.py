"""Digits and units, so that a number reads the same in a sentence, on an axis and in a table.

Conventions: a point as decimal mark, a plain hyphen as minus, "22 to 40" for an interval, a space before "%".
Shares and points carry no decimal unless their interval is narrower than two; other numbers carry as many as their
interval is worth. A bound is never rounded onto the line that decides a verdict (no difference, or the margin).
"""

import math

from palea import schema

MOST_PLACES = 4

# Units of these dimensions are said in words ("7.2 days", "0.14 per day"); all others by their symbol.
SPOKEN, COUNTED = ("rate",), ("time", "time squared", "information")
POINTS = ("point", "points")


def known(x):
    """Whether there is a number at all: neither None nor nan."""
    return x is not None and not math.isnan(x)


def plain(x, places=0):
    """A number with so many decimals; what rounds to zero has no sign, and zero itself no decimals.

    >>> plain(58.66, 1), plain(-0.3), plain(0.0, 1)
    ('58.7', '0', '0')
    """
    if x == 0:
        return "0"
    if math.isinf(x):
        return "infinity" if x > 0 else "-infinity"
    text = f"{x:.{places}f}"
    return text.lstrip("-") if float(text) == 0 else text


def signed(x, places=0):
    """As `plain`, with a plus before what is above zero.

    >>> signed(17.2), signed(-11.4), signed(0.2)
    ('+17', '-11', '0')
    """
    text = plain(x, places)
    return text if text.startswith("-") or float(text) == 0 else f"+{text}"


def short(x):
    """A number somebody typed, without needless decimals: a margin, a dose, a day.

    >>> short(15.0), short(0.125)
    ('15', '0.125')
    """
    return f"{x:.6g}"


def places(value, lower=math.nan, upper=math.nan, share=False, lines=()):
    """How many decimals a number and its interval are worth.

    share : a share in % or a difference in points.  lines : values onto which no bound may be rounded.

    >>> places(31.2, 22.1, 40.3, share=True), places(58.66, 53.2, 64.2), places(2.9, 2.6, 3.2)
    (0, 1, 1)
    >>> places(6.1, 0.3, 11.9, share=True, lines=(0,))
    1
    """
    many = _by_width(upper - lower, share) if _finite(lower, upper) else _by_size(value, share)
    while many < MOST_PLACES and any(_rounds_onto(bound, line, many) for bound in (lower, upper) for line in lines):
        many += 1
    return many


def interval(lower, upper, places=0, sign=False):
    """Two bounds; one that was not reached is not made up.

    >>> interval(22.4, 39.6), interval(-11.2, 17, sign=True), interval(8.54, math.nan, 1)
    ('22 to 40', '-11 to +17', '8.5 or more')
    """
    write = signed if sign else plain
    if math.isnan(upper):
        return f"{write(lower, places)} or more"
    if math.isnan(lower):
        return f"{write(upper, places)} or less"
    return f"{write(lower, places)} to {write(upper, places)}"


def unit_word(code, text="2"):
    """What a UCUM code is called after the number `text`; "" for a bare number.

    >>> unit_word("d", "1"), unit_word("d", "7.2"), unit_word("%")
    ('day', 'days', '%')
    """
    word = schema.vocabulary("unit").words.get(code, {})
    if word.get("dimension") in COUNTED:
        return word["title"] if text.lstrip("+-") == "1" else f"{word['title']}s"
    return word["title"] if word.get("dimension") in SPOKEN else word.get("symbol", code)


def with_unit(text, code):
    """A number that is already text, and its unit.

    >>> with_unit("7.2", "d"), with_unit("58.7", "%"), with_unit("0.42", "1")
    ('7.2 days', '58.7 %', '0.42')
    """
    return f"{text} {unit_word(code, text)}".strip()


def points(text):
    """A difference of shares that is already text.

    >>> points("31"), points("+1")
    ('31 points', '+1 point')
    """
    return f"{text} {POINTS[0] if text.lstrip('+-') == '1' else POINTS[1]}"


def percent_of(confidence):
    """A level of confidence as a percentage.

    >>> percent_of(0.95), percent_of(0.975)
    ('95 %', '97.5 %')
    """
    return f"{short(round(100 * confidence, 6))} %"


def p_value(p):
    """Two digits of a p-value; below 0.001 only that it is.

    >>> p_value(0.0123), p_value(4e-9)
    ('p = 0.012', 'p < 0.001')
    """
    return "p < 0.001" if p < 0.001 else f"p = {p:.2g}"


def _finite(*numbers):
    return all(map(math.isfinite, numbers))


def _by_width(width, share):
    """Whole shares down to a width of two; other numbers one decimal from a half width of 0.15 up, two below."""
    if width >= (2 if share else 20):
        return 0
    return min(MOST_PLACES, max(1, math.ceil(-math.log10(max(width / 2, 1e-9) / 1.5))))


def _by_size(value, share):
    if not math.isfinite(value) or value == 0:
        return 0
    digits = 2 - math.floor(math.log10(abs(value)))  # three significant digits
    return max(0, min(MOST_PLACES, digits - 1 if share else digits))


def _rounds_onto(bound, line, many):
    return math.isfinite(bound) and math.isfinite(line) and bound != line and round(bound, many) == round(line, many)
