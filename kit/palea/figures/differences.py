"""Contrasts as rows: difference or ratio with its 95 % line and 90 % ticks, no difference, the margin, the verdict."""

import math

import altair as alt
import pandas as pd

from palea import look, schema
from palea.figures import rows, theme
from palea.figures.chart import Chart, layer
from palea.words import contrast, numbers, prose

LABEL_PX, PLOT_PX = 162, 195
COLUMNS = (
    "row", "value", "lower", "upper", "inner_lower", "inner_upper", "low", "high", "name", "asks", "said", "told",
    "sown", "sown_lower", "sown_upper",
)
RATIO_TICKS = (0.1, 0.2, 0.3, 0.5, 0.7, 1, 1.5, 2, 3, 5, 7, 10)


def panel(effects, result, domain):
    """A chart of one row an effect. domain : (low, high), shared by all panels of a figure; logarithmic for ratios."""
    frame = pd.DataFrame([_row(i, e, result) for i, e in enumerate(effects)], columns=list(COLUMNS))
    frame = frame.round(theme.PLACES)
    ratio = effects[0].scale in contrast.RATIOS
    scale = alt.Scale(domain=list(domain), nice=False, type="log" if ratio else "linear", clamp=True)
    ticks = [t for t in RATIO_TICKS if domain[0] <= t <= domain[1]]
    axis = alt.Axis(values=ticks, format="~f") if ratio else alt.Axis(tickCount=5, format="~f")
    none = pd.DataFrame({"value": [contrast.no_difference(effects[0])]})
    frame_of = Chart(none).mark_rule(color=look.INK, strokeWidth=1)
    layers = [
        *_margins(frame.dropna(subset=["low"])),
        frame_of.encode(alt.X("value:Q", title=_title(effects[0]), scale=scale, axis=axis)),
        *_sown(frame.dropna(subset=["sown"])), *_spans(frame.dropna(subset=["value"])), *_texts(frame),
    ]
    return layer(*layers, width=PLOT_PX, height=rows.STEP_PX * len(effects))


def domain_of(effects):
    """An axis on which every interval and margin fits; for differences as far to one side as to the other."""
    ends = [end for e in effects for end in (e.lower, e.upper, e.value, *contrast.margins(e)) if numbers.known(end)]
    if effects and effects[0].scale in contrast.RATIOS:
        ends = [end for end in ends if 0 < end < math.inf]
        return min([*ends, 0.8]) / 1.05, max([*ends, 1.25]) * 1.05
    reach = max([abs(end) for end in ends if math.isfinite(end)] + [1e-9]) * 1.05
    step = 10 if effects and contrast.in_points(effects[0]) else 10 ** math.floor(math.log10(reach)) / 2
    return -math.ceil(reach / step) * step, math.ceil(reach / step) * step


def _row(i, e, result):
    low, high = contrast.margins(e) or (math.nan, math.nan)
    beside = contrast.companion(e, result)
    sown = (math.nan,) * 3 if beside is None else (beside.value, beside.lower, beside.upper)
    told = f"{contrast.value(e)} ({contrast.bounds(e, e.lower, e.upper)})" if numbers.known(e.value) else ""
    said = prose.capital(contrast.verdict_words(e))
    return i, e.value, e.lower, e.upper, e.inner_lower, e.inner_upper, low, high, *_label(e), said, told, *sown


def _title(effect):
    if effect.scale in contrast.RATIOS:
        return f"{effect.scale}, first to second"
    unit = numbers.POINTS[1] if contrast.in_points(effect) else numbers.unit_word(effect.unit)
    return f"difference, {unit}".removesuffix(", ")


def _label(effect):
    """Who against whom, and below what it asks about."""
    about = prose.inside(schema.word("asks_about", effect.asks_about)["title"]) if effect.asks_about else ""
    second = ", ".join(part for part in (about, "primary" if effect.primary else "") if part)
    return f"{effect.of['a']} against {effect.of['b']}", second


def _margins(frame):
    """A pale band a row, its two edges drawn, and named above the panel."""
    whole = Chart(frame.assign(top=frame["row"] - 0.5, foot=frame["row"] + 0.5))
    whole = whole.encode(y=rows.down("top"), y2=alt.Y2("foot"))
    drawn = [whole.mark_rect(color=look.BAND).encode(x=alt.X("low:Q"), x2=alt.X2("high:Q"))]
    for edge in ("low", "high"):
        named = frame.drop_duplicates(edge)
        named = named.assign(name=[_edge(x, low) for x, low in zip(named[edge], named["low"], strict=True)])
        text = Chart(named).mark_text(baseline="bottom", dy=-3, fontSize=theme.SMALL_PX)
        drawn += [
            whole.mark_rule(color=look.QUIET, strokeWidth=0.75).encode(x=alt.X(f"{edge}:Q")),
            text.encode(x=alt.X(f"{edge}:Q"), y=alt.YValue(0), text=alt.Text("name:N")),
        ]
    return drawn


def _edge(x, low):
    """Name of an edge: "-15", "+15"; of a ratio "0.8", "1.25"."""
    return f"{'+' if x > 0 > low else ''}{numbers.short(x)}"


def _sown(frame):
    """The same contrast of sown units, small and below."""
    below = Chart(frame.assign(below=frame["row"] + 0.33)).encode(y=rows.down("below"))
    diamond = below.mark_point(
        shape="diamond", size=30, filled=True, fill=look.PAPER, stroke=look.QUIET, strokeWidth=1, opacity=1)
    return [
        below.mark_rule(color=look.QUIET, strokeWidth=1).encode(x=alt.X("sown_lower:Q"), x2=alt.X2("sown_upper:Q")),
        diamond.encode(x=alt.X("sown:Q")),
    ]


def _spans(frame):
    outer = Chart(frame).mark_rule(strokeWidth=4, color=look.ESTIMATE)
    outer = outer.encode(y=rows.down("row"), x=alt.X("lower:Q"), x2=alt.X2("upper:Q"))
    ticks = Chart(frame.assign(top=frame["row"] - 0.2, foot=frame["row"] + 0.2))
    ticks = ticks.encode(y=rows.down("top"), y2=alt.Y2("foot"))
    ends = [ticks.mark_rule(strokeWidth=1.25, color=look.INK).encode(x=alt.X(f"inner_{end}:Q")) for end in ("lower", "upper")]
    filled = {"filled": True, "fill": look.ESTIMATE, "stroke": look.INK, "strokeWidth": 1, "opacity": 1}
    best = Chart(frame).mark_point(size=75, **filled)
    return [outer, *ends, best.encode(x=alt.X("value:Q"), y=rows.down("row"))]


def _texts(frame):
    """Who against whom to the left of the row, verdict and interval to the right."""
    y = rows.down("row", len(frame))
    return [
        *theme.two_lines(frame, "name", "asks", y, -10, "right", bold=False),
        *theme.two_lines(frame, "said", "told", y, PLOT_PX + 10),
    ]
