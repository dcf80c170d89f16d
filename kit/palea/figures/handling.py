"""The row that a seeder made: a strip a run, and beside it the seeds of each metre with the mean of the run.

Single seeds whose places were measured are ticks; what was counted by the metre is a cell, the darker the more seeds lie in it.
"""

import altair as alt
import pandas as pd

from palea import look
from palea.figures import theme
from palea.figures.chart import Chart, hconcat, layer, vconcat
from palea.words import prose

STRIP_PX, POINTS_PX, LABEL_PX, RUN_PX = 600, 300, 200, 20
KEY = (
    "Left: the row as it was sown, a line a run; the darker a cell the more seeds lie in it (white: none; ticks are single"
    " seeds). Right: hollow points are the stretches that were counted, the bar is the mean of the run."
)


def draw(stretches, names, title, told):
    """A chart of one species.

    stretches : one row a counted stretch: treatment, run, start_m, end_m (equal: the place of one seed), per_m (nan for a
    single seed), in the order in which runs shall stand: treated seed above untreated.
    names : {id: readable label}.  title : of the figure.  told : its text alternative.
    """
    order = list(dict.fromkeys(zip(stretches["treatment"], stretches["run"], strict=True)))
    place = {key: i for i, key in enumerate(order)}
    rows = [place[key] for key in zip(stretches["treatment"], stretches["run"], strict=True)]
    frame = stretches.assign(row=rows, top=[r + 0.1 for r in rows], foot=[r + 0.9 for r in rows], lane=[r + 0.5 for r in rows])
    high = RUN_PX * len(order)
    scale = alt.Scale(domain=[len(order), 0], nice=False)
    strip = layer(*_cells(frame, scale), *_names(order, names, scale), width=STRIP_PX, height=high)
    points = layer(*_points(frame, scale, names), width=POINTS_PX, height=high)
    chart = vconcat(
        hconcat(strip, points, spacing=24, bounds="flush"), theme.notes([KEY], LABEL_PX),
        title=alt.Title(title, fontSize=theme.TITLE_PX + 2), spacing=14)  # fmt: skip
    return theme.finished(chart, prose.together("A strip a run of the seeder with its seeds", told))


def _y(column, scale):
    return alt.Y(f"{column}:Q", axis=None, scale=scale)


def _cells(frame, scale):
    counted, single = frame[frame["end_m"] > frame["start_m"]], frame[frame["end_m"] <= frame["start_m"]]
    x = alt.X("start_m:Q", title="place in the row, m", scale=alt.Scale(domain=[0, float(frame["end_m"].max())], nice=False))
    shade = alt.Fill(
        "per_m:Q", title="seeds per metre", scale=alt.Scale(domain=[0, float(counted["per_m"].max()) if len(counted) else 1.0],
                                                            range=[look.PAPER, look.INK]),
        legend=alt.Legend(orient="bottom", gradientLength=160, titleFont=look.CHART_FONT, labelFont=look.CHART_FONT))  # fmt: skip
    cells = Chart(counted[["start_m", "end_m", "top", "foot", "per_m"]]).mark_rect(stroke=look.LINE, strokeWidth=0.5)
    drawn = [cells.encode(x, _y("top", scale), x2=alt.X2("end_m:Q"), y2=alt.Y2("foot:Q"), fill=shade)] if len(counted) else []
    if len(single):
        tick = Chart(single[["start_m", "top", "foot"]]).mark_rule(color=look.INK, strokeWidth=1)
        drawn.append(tick.encode(x, _y("top", scale), y2=alt.Y2("foot:Q")))
    return drawn


def _names(order, names, scale):
    """The treatment beside the middle of its runs, and a line between treatments."""
    table = pd.DataFrame(order, columns=["treatment", "run"]).assign(row=range(len(order)))
    spans = table.groupby("treatment", sort=False)["row"].agg(["min", "max", "size"]).reset_index()
    lines = [theme.in_two(prose.capital(names.get(t, t)), t, 28) for t in spans["treatment"]]
    text = pd.DataFrame({
        "row": (spans["min"] + spans["max"] + 1) / 2, "name": [a for a, _ in lines],
        "second": [", ".join(filter(None, (b, prose.counted(n, "run")))) for (_, b), n in zip(lines, spans["size"], strict=True)],
    })  # fmt: skip
    edge = Chart(pd.DataFrame({"row": spans["min"].iloc[1:].astype(float)})).mark_rule(color=look.QUIET, strokeWidth=1)
    room = Chart(pd.DataFrame({"row": [0.0]})).mark_rule(opacity=0)
    return [
        *theme.two_lines(text, "name", "second", _y("row", scale), -10, "right", bold=False),
        edge.encode(_y("row", scale), x=alt.XValue(-LABEL_PX), x2=alt.X2Value(STRIP_PX)),
        room.encode(_y("row", scale), x=alt.XValue(-LABEL_PX), x2=alt.X2Value(0)),
    ]


def _points(frame, scale, names):
    marks = theme.marks(list(frame["treatment"]), names)
    counted = frame.dropna(subset=["per_m"])
    top = float(counted["per_m"].max()) * 1.04 if len(counted) else 1.0
    x = alt.X("per_m:Q", title="seeds per metre", scale=alt.Scale(domain=[0, top], nice=False))
    means = counted.groupby(["row", "treatment"], as_index=False)["per_m"].mean()
    colour = [marks[t][0] for t in means["treatment"]]
    means = means.assign(top=means["row"] + 0.12, foot=means["row"] + 0.88, colour=colour).round(3)
    dots = Chart(counted[["per_m", "lane"]].round(3)).mark_point(
        shape="circle", filled=False, size=16, color=look.QUIET, opacity=0.7, strokeWidth=1)
    bars = Chart(means).encode(x, _y("top", scale), y2=alt.Y2("foot:Q"))
    return [
        dots.encode(x, _y("lane", scale)),
        bars.mark_rule(color=look.INK, strokeWidth=5),
        bars.mark_rule(strokeWidth=3).encode(stroke=alt.Stroke("colour:N", scale=None)),
    ]
