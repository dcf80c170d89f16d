"""Runs as points: what cleaning costs against what it yields, and how coats grew; the run is the unit, so each is drawn."""

import altair as alt
import pandas as pd

from palea import look
from palea.figures import theme
from palea.figures.chart import Chart, concat, hconcat, layer, vconcat
from palea.words import prose

PANEL = (330, 260)
GROWN, HISTOGRAM = (270, 170), (270, 110)
BINS = 24
EFFORT = "A point a run. Up is more living seed kept, left is less work; the axis of minutes runs by factors of ten."
GROWTH = (
    "Points are batches, joined cycle by cycle; the band is what the procedure allows and the dashed line what it plans, for the"
    " same masses of seed."
)
UNITS = "Shares of the units that were weighed one by one; the dashed line is the mean mass of a bare unit."


def effort(points, names, title, told):
    """Live-seed yield against minutes of work: a panel a species, a shape and colour a treatment.

    points : one row a run: taxon, treatment, minutes (per 1000 live seeds), yield_pct.  names : {id: readable label}.
    """
    ends = points["minutes"].min() / 2, points["minutes"].max() * 2
    x = alt.X("minutes:Q", title="minutes per 1000 live seeds", axis=alt.Axis(tickCount=5, format="~g", labelOverlap=True),
              scale=alt.Scale(type="log", domain=list(ends), nice=False))  # fmt: skip
    marks = theme.marks(list(points["treatment"]), names)
    panels = []
    for taxon, own in points.groupby("taxon", sort=False):
        y = alt.Y("yield_pct:Q", title=None if panels else "live-seed yield, %", scale=alt.Scale(domain=[0, 105], nice=False))
        frame = own.assign(colour=[marks[t][0] for t in own["treatment"]], shape=[marks[t][2] for t in own["treatment"]])
        base = Chart(frame.round(theme.PLACES)).encode(x, y)
        dots = base.mark_point(filled=True, size=75, opacity=0.9, stroke=look.INK, strokeWidth=0.8).encode(
            shape=alt.Shape("shape:N", scale=None), fill=alt.Fill("colour:N", scale=None))
        by = frame.groupby("treatment", as_index=False, sort=False)
        means = by.agg(minutes=("minutes", "mean"), yield_pct=("yield_pct", "min"))
        means["name"] = [f"{t}, {prose.counted(n, 'run')}" for t, n in zip(
            means["treatment"], frame.groupby("treatment", sort=False).size(), strict=True)]  # fmt: skip
        means["yield_pct"] = means["yield_pct"] - 7
        text = Chart(means.round(theme.PLACES)).mark_text(fontSize=theme.SMALL_PX).encode(x, y, text=alt.Text("name:N"))
        head = alt.Title(names.get(taxon, taxon), fontSize=theme.HEAD_PX)
        panels.append(layer(dots, text, width=PANEL[0], height=PANEL[1], title=head))
    chart = vconcat(hconcat(*panels, spacing=22), theme.notes([EFFORT], 40),
                        title=alt.Title(title, fontSize=theme.TITLE_PX + 2), spacing=14)  # fmt: skip
    return theme.finished(chart, prose.together("A point a cleaning run", told))


def growth(cycles, singles, names, title, told):
    """How coats grew: a column a treatment, mass put on by cycle above, masses of single units below.

    cycles : treatment, batch, cycle, done, planned, lowest, highest (% of seed put in).
    singles : treatment, mass_mg of units weighed alone, bare_mg (mean mass of a bare unit, nan where not known).
    """
    marks = theme.marks(list(cycles["treatment"]), names)
    columns = []
    for treatment, own in cycles.groupby("treatment", sort=False):
        upper = _grown(own, marks[treatment], _head(names, treatment, own), first=not columns)
        weighed = singles[singles["treatment"].eq(treatment)]
        columns.append(vconcat(upper, _masses(weighed, marks[treatment][0]), spacing=12) if len(weighed) else upper)
    notes = theme.notes([GROWTH, *([UNITS] if len(singles) else [])], 40)
    head = alt.Title(title, fontSize=theme.TITLE_PX + 2)
    chart = vconcat(concat(*columns, columns=3, spacing=30), notes, title=head, spacing=14)
    return theme.finished(chart, prose.together("Mass of the coat by cycle beside what was planned", told))


def _head(names, treatment, own):
    first, second = theme.in_two(prose.capital(names.get(treatment, treatment)), treatment, 34)
    batches = prose.counted(own["batch"].nunique(), "batch", "batches")
    return alt.Title(first, subtitle=", ".join(filter(None, (second, batches))), fontSize=theme.HEAD_PX, fontWeight="normal",
                     subtitleFontSize=theme.SMALL_PX, subtitleColor=look.QUIET, subtitlePadding=2, offset=4)  # fmt: skip


def _grown(own, mark, head, *, first):
    colour, _, shape = mark
    last = int(own["cycle"].max())
    ticks = alt.Axis(values=list(range(1, last + 1)), grid=False, labelOverlap=True)
    x = alt.X("cycle:Q", title="cycle", axis=ticks, scale=alt.Scale(domain=[0.5, last + 0.5], nice=False))
    y = alt.Y("done:Q", title="put on so far, % of seed" if first else None, axis=alt.Axis(tickCount=5))
    meant = own.groupby("cycle", as_index=False)[["planned", "lowest", "highest"]].mean().dropna().round(3)
    done = own[["batch", "cycle", "done"]].dropna().round(3)
    band, plan = Chart(meant), Chart(meant)
    dots = Chart(done)
    return layer(
        band.mark_area(color=look.QUIET, opacity=0.18).encode(x, alt.Y("lowest:Q"), alt.Y2("highest:Q")),
        plan.mark_line(strokeDash=[5, 4], color=look.INK, strokeWidth=1.2).encode(x, alt.Y("planned:Q")),
        dots.mark_line(color=look.QUIET, strokeWidth=0.8).encode(x, y, detail=alt.Detail("batch:N")),
        dots.mark_point(filled=True, size=34, color=colour, shape=shape, stroke=look.INK, strokeWidth=0.6).encode(x, y),
        width=GROWN[0], height=GROWN[1], title=head)  # fmt: skip


def _masses(weighed, colour):
    """A histogram of single masses, as shares, from zero; made of rectangles so that both edges of a class are known."""
    bare = weighed["bare_mg"].dropna()
    top = max([float(weighed["mass_mg"].max()), *bare]) * 1.02
    edges = [top * i / BINS for i in range(BINS + 1)]
    counts = pd.cut(weighed["mass_mg"], edges, labels=False).value_counts()
    share = [100 * counts.get(i, 0) / len(weighed) for i in range(BINS)]
    frame = pd.DataFrame({"left": edges[:-1], "right": edges[1:], "share": share})
    frame = frame.assign(zero=0.0).round(4)
    x = alt.X("left:Q", title="mass of a unit, mg", scale=alt.Scale(domain=[0, top], nice=False), axis=alt.Axis(tickCount=5))
    y = alt.Y("share:Q", title=f"% of {len(weighed)} units", axis=alt.Axis(tickCount=3))
    box = Chart(frame[frame["share"] > 0]).mark_rect(fill=colour, stroke=look.INK, strokeWidth=0.6, opacity=0.8)
    layers = [box.encode(x, y, x2=alt.X2("right:Q"), y2=alt.Y2("zero:Q"))]
    if len(bare):
        line = Chart(pd.DataFrame({"left": [round(float(bare.mean()), 4)]})).mark_rule(strokeDash=[5, 4], color=look.INK)
        layers.append(line.encode(x))
    return layer(*layers, width=HISTOGRAM[0], height=HISTOGRAM[1])
