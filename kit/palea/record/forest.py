"""Declared contrasts as one drawing for print: a line a contrast, its estimate, its interval and the margin it was held to.

Made of the rows of `results` alone, as wide as the text of a page, so that its type is as large as that of a table.
"""

import math
from html import escape

from palea import look, schema
from palea.record import declared
from palea.words.prose import capital, inside, listed

WIDTH, LINE, HEAD, AXIS = 640, 15, 22, 34  # px
LABEL, LEFT, RIGHT = 4, 222, 404  # where labels begin, and the plot begins and ends
TEXT, SMALL = 11, 10
TICKS = 5
MOST_RATIO = 20.0  # an interval that goes beyond is cut there


def draw(answers, unit="unit"):
    """(SVG text, text alternative) of the answers that have an estimate; None where none has.

    answers : of `declared.answers`.  unit : what a unit of the trial is called.
    """
    panels = {}
    for answer in (a for a in answers if a.judged):
        panels.setdefault(declared.quantity(answer.row), []).append(answer)
    if not panels:
        return None
    domains, pieces, y = _domains(panels), [], 0
    for title, rows in panels.items():
        pieces += _panel(title, rows, domains[_scale(rows[0].row)], y, unit)
        y += HEAD + LINE * len(rows) + AXIS
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{y}" viewBox="0 0 {WIDTH} {y}"'
        f' font-family="{escape(look.FONT)}" font-size="{TEXT}">{"".join(pieces)}</svg>'
    )
    return svg, _told(panels)


def _scale(row):
    """What rows must share to be drawn over one axis."""
    return row["scale"] in declared.TIMES, row["unit"] if row["scale"] not in declared.TIMES else ""


def _domains(panels):
    """{scale: (lowest, highest, whether logarithmic)} over all rows of a scale, none and the margins included."""
    found = {}
    for rows in panels.values():
        for answer in rows:
            row, scale = answer.row, _scale(answer.row)
            ends = [row[c] for c in ("estimate", "lower", "upper") if row[c] is not None and math.isfinite(row[c])]
            margin = [-row["margin"], row["margin"]] if row["margin"] is not None and not scale[0] else []
            found.setdefault(scale, [declared.none_of(row)]).extend(ends + margin)
    return {scale: _domain(values, log=scale[0]) for scale, values in found.items()}


def _domain(values, *, log):
    if log:
        reach = max(2 ** math.ceil(math.log2(max(x, 1 / x))) for x in values if 1 / MOST_RATIO <= x <= MOST_RATIO)
        reach = max(reach, 2)
        return 1 / reach, reach, True
    step = _step(max(values) - min(values))
    return step * math.floor(min(values) / step), step * math.ceil(max(values) / step), False


def _step(width):
    """A round distance between ticks."""
    rough = max(width, 1e-9) / TICKS
    size = 10 ** math.floor(math.log10(rough))
    return next(size * m for m in (1, 2, 5, 10) if size * m >= rough)


def _x(value, domain):
    low, high, log = domain
    value = min(max(value, low), high)
    share = math.log(value / low) / math.log(high / low) if log else (value - low) / (high - low)
    return LEFT + share * (RIGHT - LEFT)


def _panel(title, rows, domain, y, unit):
    """Title, lines and axis of one quantity."""
    yield _text(LABEL, y + HEAD - 8, title, weight="bold")
    top, foot = y + HEAD, y + HEAD + LINE * len(rows)
    for number, answer in enumerate(rows):
        yield from _row(answer, domain, top + LINE * number, unit)
    none = _x(declared.none_of(rows[0].row), domain)
    yield _line(none, top, none, foot, look.INK, 1, "4 3")
    yield _line(LEFT, foot, RIGHT, foot, look.QUIET, 1)
    for tick in _ticks(domain):
        yield _line(_x(tick, domain), foot, _x(tick, domain), foot + 4, look.QUIET, 1)
        yield _text(_x(tick, domain), foot + 15, f"{tick:g}", anchor="middle", size=SMALL, colour=look.QUIET)
    yield _text((LEFT + RIGHT) / 2, foot + 28, _axis(rows[0].row), anchor="middle", size=SMALL, colour=look.QUIET)


def _row(answer, domain, top, unit):
    row, contrast, middle = answer.row, answer.contrast, top + LINE / 2
    across = f", across {inside(contrast['across'])}" if contrast["across"] else ""
    about = inside(schema.word("asks_about", contrast["asks_about"])["title"])
    place = (
        f", {contrast['environment_id'].removeprefix(contrast['trial_id']).lstrip('-')}"
        if contrast["environment_id"]
        else ""
    )
    label = f"{contrast['a']} − {contrast['b']}: {about}{across or place}"
    yield _text(LABEL, middle + 4, label, weight="bold" if contrast["primary"] else "normal")
    if row["margin"] is not None and not domain[2]:
        left, right = _x(-row["margin"], domain), _x(row["margin"], domain)
        yield f'<rect x="{left:.1f}" y="{top + 1:.1f}" width="{right - left:.1f}" height="{LINE - 2}" fill="{look.BAND}"/>'
    ends = [row[side] if row[side] is not None else row["estimate"] for side in ("lower", "upper")]
    yield _line(_x(ends[0], domain), middle, _x(ends[1], domain), middle, look.ESTIMATE, 3)
    yield f'<circle cx="{_x(row["estimate"], domain):.1f}" cy="{middle:.1f}" r="4" fill="{look.ESTIMATE}"/>'
    word = inside(schema.word("verdict", row["verdict"])["title"]) if row["verdict"] else "no verdict"
    yield _text(RIGHT + 10, middle + 4, f"{word}; {declared.behind(row, unit).partition(' (')[0]}", size=SMALL)


def _ticks(domain):
    low, high, log = domain
    if log:
        many = round(math.log2(high))
        step = max(1, math.ceil(many / 3))
        return [2.0**n for n in range(-many, many + 1) if n % step == 0]
    step = _step(high - low)
    return [step * n for n in range(round(low / step), round(high / step) + 1)]


def _axis(row):
    if row["scale"] in declared.TIMES:
        return f"{row['scale']}, first to second (logarithmic)"
    unit = "percentage points" if row["unit"] == "%" else declared.symbol(row["unit"])
    return f"difference, first minus second{f', {unit}' if unit else ''}"


def _line(x1, y1, x2, y2, colour, width, dash=""):
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="{width}"'
        f"{dashed}/>"
    )


def _text(x, y, words, *, anchor="start", size=TEXT, weight="normal", colour=look.INK):
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}" font-weight="{weight}"'
        f' fill="{colour}">{escape(words)}</text>'
    )


def _told(panels):
    """The drawing in words: every line of it."""
    parts = []
    for title, rows in panels.items():
        told = [f"{a.contrast['a']} against {a.contrast['b']} {declared.with_interval(a.row)}" for a in rows]
        parts.append(f"{capital(title)}, estimate and interval: {listed(told)}.")
    return " ".join(parts)
