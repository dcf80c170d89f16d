"""What a lot held over time, by the book: steps, with what is planned to be drawn dotted behind the last of them."""

import altair as alt
import pandas as pd

from palea import look
from palea.figures import theme
from palea.figures.chart import Chart, concat, layer, vconcat
from palea.words import prose

PLOT = (420, 120)
ACROSS = 2
KEY = (
    "Steps: grams by the book after each movement. Dotted: what would be left after the draws that are planned; below the line of"
    " zero the lot falls short. Triangles: the lot as it was weighed."
)


def draw(held, left, weighed, title, told):
    """A chart of a panel a lot.

    held : lot, at (day, text YYYY-MM-DD), grams, in order of time.  left : lot, grams (after planned draws; nan: none are
    planned).  weighed : lot, at, grams.  title : of the figure.  told : its text alternative.
    """
    lots = list(dict.fromkeys(held["lot"]))
    last = held["at"].max()
    end = (pd.Timestamp(last) + (pd.Timestamp(last) - pd.Timestamp(held["at"].min())) * 0.15).strftime("%Y-%m-%d")
    panels = [
        _panel(held[held["lot"].eq(lot)], left[left["lot"].eq(lot)], weighed[weighed["lot"].eq(lot)], lot, last, end)
        for lot in lots
    ]
    chart = vconcat(
        concat(*panels, columns=ACROSS, spacing=26), theme.notes([KEY], 40),
        title=alt.Title(title, fontSize=theme.TITLE_PX + 2), spacing=14)  # fmt: skip
    return theme.finished(chart, prose.together("A panel a lot with its stock over time", told))


def _panel(held, left, weighed, lot, last, end):
    x = alt.X("at:T", title=None, axis=alt.Axis(format="%Y-%m", tickCount=6, grid=False))
    lowest = min([0.0, *left["grams"].dropna()])
    y = alt.Y("grams:Q", title="seed left, g", scale=alt.Scale(domain=[lowest, float(held["grams"].max()) * 1.05], nice=False),
              axis=alt.Axis(tickCount=4))  # fmt: skip
    now = held[["at", "grams"]].iloc[-1:]
    kept = pd.concat([held[["at", "grams"]], now.assign(at=last)], ignore_index=True).round(3)
    layers = [
        Chart(pd.DataFrame({"grams": [0.0]})).mark_rule(color=look.INK, strokeWidth=1).encode(y),
        Chart(kept).mark_line(interpolate="step-after", color=look.ESTIMATE, strokeWidth=2.5).encode(x, y),
    ]
    planned = left.dropna(subset=["grams"])
    if len(planned):
        after = float(planned["grams"].iloc[0])
        grams = [float(now["grams"].iloc[0]), after, after]
        rows = pd.DataFrame({"at": [last, last, end], "grams": grams, "n": [0, 1, 2]}).round(3)
        dots = Chart(rows).mark_line(strokeDash=[2, 3], color=look.INK, strokeWidth=2)
        layers.append(dots.encode(x, y, order=alt.Order("n:Q")))
    if len(weighed):
        seen = Chart(weighed[["at", "grams"]].round(3))
        marks = seen.mark_point(shape="triangle-up", size=45, filled=False, color=look.INK)
        layers.append(marks.encode(x, y))
    head = alt.Title(lot, fontSize=theme.HEAD_PX, fontWeight="normal", offset=4)
    return layer(*layers, width=PLOT[0], height=PLOT[1], title=head)
