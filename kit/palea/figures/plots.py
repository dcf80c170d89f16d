"""A map of plots or rows as they lie in the field: where each is, what was sown, and a number of it as a shade.

Blocks are told apart by thick lines. A plot without a number stays white, with its treatment alone.
"""

import altair as alt
import numpy as np
import pandas as pd

from palea import look
from palea.figures import layout, theme
from palea.figures.chart import Chart, layer, vconcat
from palea.words import prose

WIDEST_PX, CELL_PX, HIGH_PX = 1180, 64, 40
LINES = "Rows and columns as they lie; thick lines lie between blocks."


def draw(plots, title, axis, told, domain=None):
    """A chart of one trial.

    plots : one row a plot: unit, treatment, block, row, column (numbers from 1), value (nan: none), told (what it says of it).
    title : of the figure.  axis : what the value is.  told : text alternative.  domain : (low, high) of the shade.
    """
    width, high = int(plots["column"].max()), int(plots["row"].max())
    cell = min(CELL_PX, WIDEST_PX // width)
    across, down = alt.Scale(domain=[0, width], nice=False), alt.Scale(domain=[high, 0], nice=False)
    known = plots["value"].dropna()
    low, top = domain or (0.0, float(known.max()) if len(known) else 1.0)
    frame = pd.DataFrame({
        "left": plots["column"] - 1.0, "right": plots["column"] + 0.0, "top": plots["row"] - 1.0, "foot": plots["row"] + 0.0,
        "middle": plots["column"] - 0.5, "centre": plots["row"] - 0.5,
        "name": plots["treatment"].fillna(""), "value": plots["value"],
        "told": plots["told"], "ink": np.where(plots["value"].fillna(low) > (low + top) / 2, look.PAPER, look.INK),
    }).round({"value": 3})  # fmt: skip
    shade = alt.Fill(
        "value:Q", title=axis, scale=alt.Scale(domain=[low, top], range=[look.PAPER, "#00405F"]),
        legend=alt.Legend(
            orient="bottom", gradientLength=220, titleFont=look.CHART_FONT, labelFont=look.CHART_FONT, titleLimit=400),
    )  # fmt: skip
    corner = _at("left", "top", across, down)
    empty, filled = frame[frame["value"].isna()], frame[frame["value"].notna()]
    box = {"stroke": look.QUIET, "strokeWidth": 0.75}
    text = Chart(frame).encode(**_at("middle", "centre", across, down), color=alt.Color("ink:N", scale=None))
    layers = [
        Chart(empty).mark_rect(fill=look.PAPER, **box).encode(**corner, x2=alt.X2("right:Q"), y2=alt.Y2("foot:Q")),
        Chart(filled).mark_rect(**box).encode(**corner, x2=alt.X2("right:Q"), y2=alt.Y2("foot:Q"), fill=shade),
        text.mark_text(fontSize=theme.SMALL_PX, fontWeight="bold", dy=-6).encode(text=alt.Text("name:N")),
        text.mark_text(fontSize=theme.SMALL_PX - 1, dy=8).encode(text=alt.Text("told:N")),
        *_blocks(plots, corner),
    ]
    picture = layer(*layers, width=cell * width, height=HIGH_PX * high)
    chart = vconcat(picture, theme.notes([LINES]), title=alt.Title(title, fontSize=theme.TITLE_PX + 2), spacing=14)
    return theme.finished(chart, prose.together("A map of plots in rows and columns", told))


def _at(x, y, across, down):
    """Where a mark lies, without axes."""
    return {"x": alt.X(f"{x}:Q", axis=None, scale=across), "y": alt.Y(f"{y}:Q", axis=None, scale=down)}


def _blocks(plots, corner):
    edges = pd.DataFrame(list(layout.edges(plots, "block")), columns=["left", "right", "top", "foot"])
    if not len(edges):
        return []
    rule = Chart(edges.astype(float)).mark_rule(color=look.INK, strokeWidth=3)
    return [rule.encode(**corner, x2=alt.X2("right:Q"), y2=alt.Y2("foot:Q"))]
