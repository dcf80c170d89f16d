"""Curves as a picture: each dish a thin line, the estimate a thick one with its band.

Up to four curves of a species share one panel and are named at their ends; more get a panel each, with the first curve
of the species dashed behind, because lines that end close together cannot be told apart.
"""

import altair as alt
import numpy as np
import pandas as pd

from palea import look
from palea.figures import courses, in_words, theme
from palea.figures.chart import Chart, concat, layer, vconcat
from palea.words import contrast, naming, prose
from palea.words import curves as in_sentences
from palea.words import values as told

TOGETHER = 4
SMALL, LARGE = (190, 120), (560, 300)
ACROSS = 5
LEADER_PX = 22
LABEL_APART = 15  # px between two names at the ends of lines
KEY = "Thin lines are dishes; the thick line is the estimate, its band the 95 % interval."
PLAIN_KEY = "The thick line is the estimate, its band, where there is one, the 95 % interval."
DASHED = " The dashed line is the first curve of the species."


def draw(result, sentences, names):  # noqa: ARG001  there is a sentence a curve: too many for a subtitle
    """A chart of one part a species and environment. names : {id: readable label}."""
    marks = theme.marks([c.of.get("treatment", "") for c in result.curves], names)
    several = told.several_environments(result.curves)
    found = courses.of_curves(result.curves, result.units)
    parts, small = [], False
    for here in dict.fromkeys(map(contrast.setting, result.curves)):
        curves = [c for c in result.curves if contrast.setting(c) == here]
        many = len(curves) > TOGETHER
        small |= many
        part = _each(result, found, curves, names, marks) if many else _together(result, found, curves, marks)
        where = naming.place(dict(zip(("taxon", "environment"), here, strict=True)), names, several)
        parts.append(part.properties(title=alt.Title(where, fontSize=theme.HEAD_PX + 1)))
    title = alt.Title(prose.capital(naming.subject(result.quantity, result.denominator)), fontSize=theme.TITLE_PX + 2)
    notes = theme.notes([(KEY if "unit" in result.units else PLAIN_KEY) + (DASHED if small else "")], 50)
    return theme.finished(vconcat(*parts, notes, title=title, spacing=26), in_words.alternative(result, names))


def spread_out(heights, apart):
    """Heights moved as little as is simple, so that no two lie closer than `apart`; order is kept.

    >>> spread_out(np.array([10.0, 11.0, 40.0]), 5).tolist()
    [8.0, 13.0, 40.0]
    """
    order = np.argsort(heights, kind="stable")
    groups = []  # [sum of heights, how many]: names that touch are laid out around their common middle
    for height in heights[order]:
        groups.append([height, 1])
        while len(groups) > 1 and _touch(*groups[-2:], apart):
            last = groups.pop()
            groups[-1] = [groups[-1][0] + last[0], groups[-1][1] + last[1]]
    placed = np.concatenate([_middle(g) + apart * (np.arange(g[1]) - (g[1] - 1) / 2) for g in groups])
    moved = np.empty(len(heights))
    moved[order] = placed
    return moved


def _touch(upper, lower, apart):
    return _middle(lower) - _middle(upper) < apart * (upper[1] + lower[1]) / 2


def _middle(group):
    return group[0] / group[1]


def _points(curve):
    """Columns time, value, lower and upper of a curve."""
    return {name: theme.rounded(getattr(curve, name)) for name in ("time", "value", "lower", "upper")}


def _axes(result, title_left):
    """Time from zero, and shares from 0 to 100."""
    last = max(float(c.time[-1]) for c in result.curves)
    ticks = alt.Axis(tickCount=5, grid=False)
    x = alt.X("time:Q", title=in_sentences.axis(result), scale=alt.Scale(domain=[0, last], nice=False), axis=ticks)
    left = prose.wrapped(naming.axis(result.quantity, result.denominator, result.unit), 20) if title_left else None
    y = alt.Y("value:Q", title=left, scale=alt.Scale(domain=[0, _top(result)], nice=False), axis=alt.Axis(tickCount=5))
    return _by_factors(result, x, y) if _is_by_factors(result) else (x, y)


def _is_by_factors(result):
    """Whether both axes run by factors of ten: what is not over days spans more than ten-fold and never touches zero."""
    first, last = (np.array([c.time[at] for c in result.curves]) for at in (0, -1))
    return bool(result.along) and first.min() > 0 and (last / first).max() > 10 and all((c.value > 0).all() for c in result.curves)


def _by_factors(result, x, y):
    """The same axes on logarithmic scales."""
    times = [float(c.time[at]) for c in result.curves for at in (0, -1)]
    ends = {"x": (min(times), max(times)), "y": (_foot(result), _top(result))}
    scale = {at: alt.Scale(type="log", domain=list(span), nice=False) for at, span in ends.items()}
    axis = {at: alt.Axis(values=_steps(*span), grid=at == "y", labelOverlap=True) for at, span in ends.items()}
    return x.scale(scale["x"]).axis(axis["x"]), y.scale(scale["y"]).axis(axis["y"])


def _foot(result):
    """Lower end of a logarithmic y axis: what is lowest, at most four powers of ten below what is highest."""
    lowest = min(float(np.nanmin([c.value, c.lower])) for c in result.curves)
    return max(lowest, _top(result) / 1e4)


def _steps(low, high):
    """1, 2 and 5 times powers of ten between two numbers.

    >>> _steps(0.5, 50)
    [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0]
    """
    tens = range(int(np.floor(np.log10(low))), int(np.ceil(np.log10(high))) + 1)
    found = [float(f"{step}e{ten}") for ten in tens for step in (1, 2, 5)]
    return [step for step in found if low <= step <= high]


def _top(result):
    """Upper end of the y axis."""
    return 100.0 if result.denominator else max(float(np.nanmax([c.value, c.upper])) for c in result.curves)


def _lines(curve, found, colour, dash, x, y):
    """Dishes, band and estimate of one curve: a broad line in its colour, its dashes dark, for paper without colour."""
    points = _points(curve)
    dishes = Chart(found[courses.key(curve)]).encode(x, y, detail=alt.Detail("unit:N"))
    band = Chart(points).encode(x, alt.Y("lower:Q"), alt.Y2("upper:Q"))
    return [
        dishes.mark_line(interpolate=_way(curve), color=look.QUIET, strokeWidth=0.75, opacity=0.4),
        band.mark_area(interpolate=_way(curve), color=colour, opacity=0.25),
        _thick(curve, points, x, y, color=colour, strokeWidth=4),
        _thick(curve, points, x, y, color=look.INK, strokeWidth=0.9, strokeDash=list(dash)),
    ]


def _thick(curve, points, x, y, **look_of):
    return Chart(points).mark_line(interpolate=_way(curve), **look_of).encode(x, y)


def _way(curve):
    return "step-after" if curve.shape == "step" else "linear"


def _each(result, found, curves, names, marks):
    """A small panel a curve."""
    panels, start = [], _points(curves[0])
    for i, curve in enumerate(curves):
        x, y = _axes(result, title_left=i % ACROSS == 0)
        first = [] if i == 0 else [_thick(curves[0], start, x, y, color=look.INK, strokeWidth=1, strokeDash=[5, 4])]
        layers = _lines(curve, found, marks[curve.of.get("treatment", "")][0], (1, 0), x, y)
        panels.append(layer(*layers, *first, width=SMALL[0], height=SMALL[1], title=_name(curve, result, names)))
    return concat(*panels, columns=ACROSS, spacing=18)


def _name(curve, result, names):
    key = curve.of.get("treatment", "")
    first, second = theme.in_two(naming.plain_name(names, key), key, 32)
    subtitle = ", ".join(part for part in (second, _behind(curve, result)) if part)
    return alt.Title(
        first, subtitle=subtitle, fontSize=look.CHART_FONT_PX, fontWeight="normal", subtitleColor=look.QUIET,
        subtitleFontSize=theme.SMALL_PX, subtitlePadding=2, offset=4,
    )


def _together(result, found, curves, marks):
    """Up to four curves in one panel, named at their ends."""
    x, y = _axes(result, title_left=True)
    ways = [marks[c.of.get("treatment", "")] for c in curves]
    layers = [
        layer for c, (colour, dash, _) in zip(curves, ways, strict=True)
        for layer in _lines(c, found, colour, dash, x, y)
    ]
    named = _ends(result, curves, [colour for colour, _, _ in ways], y)
    return layer(*layers, *named, width=LARGE[0], height=LARGE[1])


def _label_heights(result, ends):
    """Where the names of curves lie on the y axis, so that no two touch."""
    if not _is_by_factors(result):
        return spread_out(ends, LABEL_APART * _top(result) / LARGE[1])
    tall = np.log10(_top(result)) - np.log10(_foot(result))
    return 10 ** spread_out(np.log10(ends), LABEL_APART * tall / LARGE[1])


def _end_name(curve, result):
    return ", ".join(part for part in (curve.of.get("treatment", ""), _behind(curve, result)) if part)


def _behind(curve, result):
    """What stands behind a curve: "16 dishes, 388 seeds"."""
    ends = zip(in_sentences.ends_of(result), result.curves, strict=True)
    return naming.replication(next(end for end, c in ends if c is curve), batches=False)


def _ends(result, curves, colours, y):
    """The name of each curve beside its end, with what stands behind it, and a line from one to the other."""
    ends = np.array([float(c.value[-1]) for c in curves])
    frame = pd.DataFrame({
        "end": ends.round(theme.PLACES), "value": _label_heights(result, ends).round(theme.PLACES),
        "name": [_end_name(c, result) for c in curves],
        "colour": colours,
    })
    base = Chart(frame)
    leader = base.mark_rule(strokeWidth=2).encode(
        alt.Y("end:Q"), alt.Y2("value:Q"), x=alt.XValue(LARGE[0]), x2=alt.X2Value(LARGE[0] + LEADER_PX),
        color=alt.Color("colour:N", scale=None))
    text = base.mark_text(align="left", baseline="middle")
    return [leader, text.encode(y, x=alt.XValue(LARGE[0] + LEADER_PX + 4), text=alt.Text("name:N"))]
