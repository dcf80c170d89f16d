"""Published numbers against those of a rerun: points on the line where they are the same, other shapes where they are not."""

import math

import altair as alt
import pandas as pd

from palea import look, schema
from palea.figures import theme
from palea.figures.chart import Chart, hconcat, layer, vconcat
from palea.words import prose

SIDE_PX, ACROSS, MOST = 250, 3, 6
NAMED = 12  # points a panel that carry their number
PAD = 0.06  # of an axis, left free at both ends
FAR, NEAR = "differs", "within tolerance"
KEY = (
    "Circle: the same number. Square: within tolerance. Triangle with its number in the table: another number, or other words"
    " beside it. The line: no difference."
)


def draw(frame):
    """A chart with one panel a unit, those with differences first; None where no result has both numbers.

    frame : one row a result with was, now (float or missing), verdict, unit and no (its number in the table, 0 for none).
    """
    pairs = frame[frame["was"].notna() & frame["now"].notna()]
    pairs = pairs[pairs[["was", "now"]].astype(float).abs().lt(math.inf).all(axis="columns")]
    if pairs.empty:
        return None
    panels = _panels(pairs)
    shown = [_panel(unit, rows) for unit, rows in panels[:MOST]]
    lines = [hconcat(*shown[n : n + ACROSS], spacing=28) for n in range(0, len(shown), ACROSS)]
    chart = vconcat(*lines, theme.notes([KEY, *_left_out(frame, pairs, panels[MOST:])]), spacing=20)
    return theme.finished(chart, described(pairs))


def described(pairs):
    """The chart in words: how many numbers a unit, and which of them lie off the line."""
    told = []
    for unit, rows in _panels(pairs):
        far = rows[rows["verdict"].eq(FAR)].head(NAMED)
        off = "; ".join(f"published {r.was:.6g}, rerun {r.now:.6g}" for r in far.itertuples())
        where = f"of these off the line: {off}" if off else "all on the line"
        told.append(f"{_unit(unit)}: {prose.counted(len(rows), 'number')}, {where}")
    return f"Published numbers against those of the rerun. {'. '.join(told)}."


def _panels(pairs):
    """(unit, rows) in the order in which they are drawn."""
    found = list(pairs.groupby("unit", sort=False))
    return sorted(found, key=lambda one: (-one[1]["verdict"].eq(FAR).sum(), -len(one[1]), one[0]))


def _unit(unit):
    return (schema.word("unit", unit)["symbol"] if unit in schema.words("unit") else "") or "no unit"


def _left_out(frame, pairs, further):
    if further:
        many = prose.counted(sum(len(rows) for _, rows in further), "number")
        yield f"{many} of further units stand in the table alone."
    if len(frame) > len(pairs):
        yield f"{prose.counted(len(frame) - len(pairs), 'result')} without a number on one of the sides cannot be drawn."


def _panel(unit, rows):
    ends = rows[["was", "now"]].astype(float)
    low, high = ends.min().min(), ends.max().max()
    pad = (high - low or abs(high) or 1) * PAD
    domain = [low - pad, high + pad]
    rows = _seen(rows, SIDE_PX / (domain[1] - domain[0]))
    scale = alt.Scale(domain=domain, nice=False, zero=False)
    x, y = (
        alt.X("was:Q", title=f"published, {_unit(unit)}", scale=scale, axis=alt.Axis(tickCount=4)),
        alt.Y("now:Q", title=f"rerun, {_unit(unit)}", scale=scale, axis=alt.Axis(tickCount=4)),
    )
    line = Chart(pd.DataFrame({"was": domain, "now": domain})).mark_line(color=look.QUIET, strokeWidth=1)
    layers = [line.encode(x, y), *(_points(rows, verdict).encode(x, y) for verdict in MARKS)]
    far = rows[rows["verdict"].eq(FAR) & rows["no"].gt(0)].head(NAMED)
    text = Chart(far).mark_text(align="left", dx=8, dy=-7, fontSize=theme.SMALL_PX)
    return layer(*layers, text.encode(x, y, text="no:N"), width=SIDE_PX, height=SIDE_PX)


# shape, size, fill and line of each verdict: told apart without colour
MARKS = {
    "identical": ("circle", 26, look.PAPER, look.QUIET),
    NEAR: ("square", 46, look.PAPER, look.ESTIMATE),
    FAR: ("triangle-up", 95, look.CATEGORIES[3], look.INK),
}


def _points(rows, verdict):
    shape, size, fill, stroke = MARKS[verdict]
    mine = Chart(rows[rows["verdict"].eq(verdict)])
    return mine.mark_point(shape=shape, size=size, filled=True, fill=fill, stroke=stroke, strokeWidth=1, opacity=1)


def _seen(rows, per_unit):
    """Rows without those that would lie on the very pixel of another one that is the same; all that differ stay."""
    rows = rows.assign(was=rows["was"].astype(float), now=rows["now"].astype(float))[["was", "now", "verdict", "no"]]
    place = (rows[["was", "now"]] * per_unit).round().assign(verdict=rows["verdict"])
    return rows[~place.duplicated() | rows["verdict"].eq(FAR)]
