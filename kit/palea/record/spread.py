"""Several readings as one phrase: numbers as they were recorded, and days."""

import math

from palea import schema
from palea.words.numbers import short
from palea.words.prose import counted


def decimals(numbers):
    """How many decimals the finest of the numbers was recorded with.

    >>> decimals([40, 41.25, 3.5])
    2
    """
    return max((len(short(x).partition(".")[2]) for x in numbers if "e" not in short(x)), default=0)


def known(numbers):
    """The numbers that are there: neither None nor nan."""
    return [x for x in numbers if x is not None and not math.isnan(x)]


def spread(numbers):
    """Lowest to highest of what is known, all with the decimals of the finest; one number where they are equal.

    >>> spread([40.0, 41.2, 40.6]), spread([5, 5, None]), spread([])
    ('40.0 to 41.2', '5', '')
    """
    there = known(numbers)
    if not there:
        return ""
    places = decimals(there)
    low, high = f"{min(there):.{places}f}", f"{max(there):.{places}f}"
    return low if low == high else f"{low} to {high}"


def centre(numbers, places=None):
    """Mean with lowest and highest in brackets, to three digits at most; one number, as recorded, where all are equal.

    >>> centre([40.0, 41.2]), centre([5, 5]), centre([58.71, 60.02, 56.3], 1), centre([0.6352, 0.742, 0.722])
    ('40.6 (40.0 to 41.2)', '5', '58.3 (56.3 to 60.0)', '0.700 (0.635 to 0.742)')
    """
    there = known(numbers)
    if not there:
        return ""
    if len(set(there)) == 1 and places is None:
        return short(there[0])
    mean = sum(there) / len(there)
    places = min(decimals(there), _digits(mean)) if places is None else places
    low, middle, high = (f"{x:.{places}f}" for x in (min(there), mean, max(there)))
    return low if low == high else f"{middle} ({low} to {high})"


def _digits(x):
    """Decimals that three significant digits of a number need."""
    return max(0, 2 - math.floor(math.log10(abs(x)))) if x else 0


def duration(seconds):
    """A time in the largest unit that keeps it a plain number.

    >>> duration(45), duration(90), duration(600), duration(21600), duration(5400), duration(259200)
    ('45 s', '90 s', '10 min', '6 h', '90 min', '72 h')
    """
    for size, unit in ((3600, "h"), (60, "min")):
        if seconds >= 2 * size - (size == 3600) * 3600 and seconds % size == 0:
            return f"{short(seconds / size)} {unit}"
    return f"{short(seconds)} s"


def durations(seconds):
    """(numbers, unit) of times in the largest unit that suits their mean.

    >>> durations([2613, 2840]), durations([80, 80]), durations([3600, 3600]), durations([64000, 65000])[1]
    (([43.5, 47.3], 'min'), ([80, 80], 's'), ([1.0, 1.0], 'h'), 'h')
    """
    mean = sum(seconds) / len(seconds)
    whole = len(set(seconds)) == 1 and mean % 3600 == 0
    size, unit = (3600, "h") if mean >= 14400 or whole else (60, "min") if mean >= 300 else (1, "s")
    return [round(x / size, 1) if size > 1 else x for x in seconds], unit


def period(moments):
    """When, from texts of dates or times: "on" one day, or "between" the first and the last.

    >>> period(["2024-02-12T09:30", "2024-02-12"]), period(["2024-03", None, "2024-02-12"]), period([])
    ('on 2024-02-12', 'between 2024-02-12 and 2024-03', '')
    """
    days = sorted({moment[:10] for moment in moments if moment})
    if not days:
        return ""
    first, last = days[0], days[-1]
    if first == last:
        return f"on {first}" if len(first) == 10 else f"in {first}"
    return f"between {first} and {last}"


def several(n, one, more=None):
    """A small number in words before what is counted, as prose has it.

    >>> several(4, "batch", "batches"), several(1, "dish"), several(16, "dish", "dishes")
    ('four batches', 'one dish', '16 dishes')
    """
    words = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
    return counted(n, one, more).replace(str(n), words[n], 1) if 0 <= n < len(words) else counted(n, one, more)


def symbol(code):
    """A UCUM code as it is printed.

    >>> symbol("Cel"), symbol("%{w/w}"), symbol("kg/har"), symbol("mg/{seed}"), symbol("1")
    ('°C', '% w/w', 'kg/ha', 'mg/unit', '')
    """
    return schema.word("unit", code)["symbol"] if code else ""


def with_symbol(text, code):
    """A number that is already text, and its unit as printed."""
    return f"{text} {symbol(code)}".strip()
