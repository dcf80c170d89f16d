"""A layout as a plan to print and carry: each unit where it lies, with its number, its treatment and its block."""

import altair as alt
import numpy as np
import pandas as pd

from palea import look
from palea.figures import theme
from palea.figures.chart import Chart, layer, vconcat
from palea.words import layout as told
from palea.words import prose

CELL_PX, WIDEST_PX, HIGH_PX = 84, 1150, 52
TOP = "Read it in rows from the top left; units are numbered in walking order."
LINES = "Thick lines lie between blocks, dashed ones between main plots."


def draw(result, sentences, names):
    """A chart of the plan. sentences : what `words` said; its first is the subtitle.  names : {id: readable label}."""
    units, width = result.units, max(int(result.units["column"].max()), 1)
    cell = min(CELL_PX, WIDEST_PX // width)
    frame = _frame(units, theme.marks(units["treatment"], names))
    rows = int(units["row"].max())
    across, down = alt.Scale(domain=[0, width], nice=False), alt.Scale(domain=[rows, 0], nice=False)
    corner = _at("left", "top", across, down)
    layers = (*_cells(frame, corner, _at("middle", "centre", across, down)), *_lines(units, corner))
    plan = layer(*layers).properties(width=cell * width, height=HIGH_PX * rows)
    subtitle = [line for sentence in sentences[:1] for line in prose.wrapped(sentence, theme.WRAP)]
    title = alt.Title("Layout", subtitle=subtitle, fontSize=theme.TITLE_PX + 2)
    foot = theme.notes([f"{TOP} {LINES}" if units["block"].any() else TOP])
    chart = vconcat(plan, foot, title=title, spacing=18)
    return theme.finished(chart, prose.together("A plan of units in rows and columns", *told.say(result, names)))


def _at(column, row, across, down):
    """Where a mark lies, without axes."""
    return {"x": alt.X(f"{column}:Q", axis=None, scale=across), "y": alt.Y(f"{row}:Q", axis=None, scale=down)}


def _frame(units, marks):
    """Edges, texts and colour of each unit."""
    block = np.where(units["block"] > 0, "block " + units["block"].astype(str), "")
    main = np.where(units["main"].ne(""), ", " + units["main"].astype(str), "")
    left, top = units["column"] - 1.0, units["row"] - 1.0
    return pd.DataFrame({
        "left": left, "right": left + 1, "top": top, "foot": top + 1, "middle": left + 0.5, "centre": top + 0.5,
        "unit": units["unit"].astype(str), "treatment": units["treatment"].astype(str),
        "where": pd.Series(block, dtype=str).to_numpy() + pd.Series(main, dtype=str).to_numpy(),
        "colour": [marks[name][0] for name in units["treatment"]],
    })  # fmt: skip


def _cells(frame, corner, centre):
    base = Chart(frame)
    box = base.mark_rect(stroke=look.QUIET, strokeWidth=1, fillOpacity=0.22).encode(
        **corner, x2=alt.X2("right:Q"), y2=alt.Y2("foot:Q"), fill=alt.Fill("colour:N", scale=None))
    code = base.mark_text(fontSize=theme.HEAD_PX, fontWeight="bold", dy=-1).encode(**centre, text=alt.Text("treatment:N"))
    number = base.mark_text(align="left", baseline="top", dx=4, dy=4, fontSize=theme.SMALL_PX, color=look.QUIET)
    foot = base.mark_text(baseline="bottom", dy=22, fontSize=theme.SMALL_PX - 1, color=look.QUIET)
    return [box, code, number.encode(**corner, text=alt.Text("unit:N")), foot.encode(**centre, text=alt.Text("where:N"))]


def _lines(units, corner):
    """Edges between neighbours of different blocks, and of different main plots of one block."""
    drawn = []
    for column, dash, width in (("main_plot", [5, 3], 1.5), ("block", [1, 0], 3)):
        found = pd.DataFrame(list(edges(units, column)), columns=["left", "right", "top", "foot"])
        if len(found):
            line = Chart(found.astype(float)).mark_rule(color=look.INK, strokeWidth=width, strokeDash=dash)
            drawn.append(line.encode(**corner, x2=alt.X2("right:Q"), y2=alt.Y2("foot:Q")))
    return drawn


def edges(units, column):
    """(left, right, top, foot) of each edge between two neighbouring units that differ in `column`."""
    at = {(r, c): v for r, c, v in zip(units["row"], units["column"], units[column], strict=True)}
    for (row, place), value in at.items():
        if at.get((row, place + 1), value) != value:
            yield place, place, row - 1, row
        if at.get((row + 1, place), value) != value:
            yield place - 1, place, row, row
