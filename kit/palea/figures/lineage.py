"""Where seed came from and went: stations in columns, ribbons between them as broad as the grams that passed.

A station stands to the right of all that it came from; trials stand in the last column. Nothing is left to chance, so the
same package gives the same picture.
"""

from dataclasses import dataclass

import altair as alt
import numpy as np
import pandas as pd

from palea import look
from palea.figures import theme
from palea.figures.chart import Chart, layer, vconcat
from palea.words import prose

WIDE_PX, TALL_PX = 1180, 420  # of the whole picture; of the column through which most seed passed
NODE_PX, SLOT_PX = 12, 31
THIN_PX = 1.0  # of a ribbon that would be thinner, or whose grams are not known
POINTS = 17  # along a ribbon
KEY = (
    "From left to right: seed as it was received, runs (hollow), the lots they made (filled), trials (black). Ribbons are as broad"
    " as the grams that passed; hairlines are too little to show, dashed ones were not weighed."
)
NOTHING = "No movement of seed is recorded, so there is no way to show."


@dataclass(frozen=True)
class Plan:
    """Where everything lies, px. nodes : node, x, top, foot.  ribbons : from, to, x0, x1, y0, y1, wide, known."""

    nodes: pd.DataFrame
    ribbons: pd.DataFrame
    height: float


def draw(nodes, links, names, title, told):
    """A chart of stations and what passed between them.

    nodes : one row a station: kind ("lot", "run" or "trial"), name, second (small line below), treatment ("" for none).
    links : one row a passage: from, to (positions in nodes), grams (nan where not weighed).
    names : {id: readable label}; fixes the colours of treatments.  title : of the figure.  told : its text alternative.
    """
    if not len(nodes):
        return theme.finished(theme.notes([NOTHING]), NOTHING)
    plan = laid_out(nodes, links)
    marks = theme.marks([t for t in nodes["treatment"] if t], names)
    colours = [marks[t][0] if t else look.QUIET for t in nodes["treatment"]]
    across, down = alt.Scale(domain=[0, WIDE_PX], nice=False), alt.Scale(domain=[plan.height, 0], nice=False)
    at = {"x": alt.X("x:Q", axis=None, scale=across), "y": alt.Y("top:Q", axis=None, scale=down)}
    beside = {"x": alt.X("text:Q", axis=None, scale=across), "y": alt.Y("line:Q", axis=None, scale=down)}
    layers = [*_ribbons(plan.ribbons, nodes, colours, at), *_stations(plan.nodes, nodes, colours, at, beside)]
    picture = layer(*layers, width=WIDE_PX, height=plan.height)
    chart = vconcat(picture, theme.notes([KEY]), title=alt.Title(title, fontSize=theme.TITLE_PX + 2), spacing=14)
    return theme.finished(chart, prose.together("Stations of seed in columns, with ribbons between them", told))


def laid_out(nodes, links):
    """The Plan of a picture: columns by distance from what was received, in each the order that crosses little."""
    links = links[links["from"].ne(links["to"])]
    column = columns_of(nodes["kind"].to_numpy(), links["from"].to_numpy(), links["to"].to_numpy())
    scale = _scale(column, links)
    wide = np.maximum(links["grams"].fillna(0).to_numpy() * scale, THIN_PX)
    tall = np.maximum.reduce([
        np.bincount(links["to"], wide, len(nodes)), np.bincount(links["from"], wide, len(nodes)), np.full(len(nodes), 3.0),
    ])  # fmt: skip
    top = np.zeros(len(nodes))
    for here in range(column.max() + 1):
        members = np.flatnonzero(column == here)
        wanted = _pulled(members, links, top, tall, wide)
        order = members[np.argsort(wanted, kind="stable")]
        top[order] = _stacked(np.sort(wanted, kind="stable"), tall[order])
    step = (WIDE_PX - NODE_PX - 150) / max(column.max(), 1)
    x = column * step
    placed = pd.DataFrame({"x": x, "right": x + NODE_PX, "top": top, "foot": top + tall}).round(2)
    height = float(np.ceil(np.maximum(top + tall, top + SLOT_PX).max()))
    return Plan(placed, _offsets(links, placed, wide), height)


def columns_of(kinds, starts, ends):
    """(n,) column of each station: the longest way to it; trials in the last. What lies on a loop stays where it is found.

    >>> columns_of(np.array(["lot", "run", "lot", "trial"]), np.array([0, 1, 0]), np.array([1, 2, 3])).tolist()
    [0, 1, 2, 3]
    """
    column = np.zeros(len(kinds), dtype=int)
    for _ in range(len(kinds)):
        further = column.copy()
        np.maximum.at(further, ends, column[starts] + 1)
        if (further == column).all() or further.max() > len(kinds):
            break
        column = further
    trial = kinds == "trial"
    if trial.any() and not trial.all():
        column[trial] = column[~trial].max() + 1
    return column


def _scale(column, links):
    """How many px a gram, by which the fullest column is as tall as it may be."""
    grams = links["grams"].fillna(0).to_numpy()
    through = np.maximum(np.bincount(column[links["from"]], grams, column.max() + 1),
                         np.bincount(column[links["to"]], grams, column.max() + 1))  # fmt: skip
    return TALL_PX / through.max() if len(links) and through.max() > 0 else 0.0


def _pulled(members, links, top, tall, wide):
    """Where each member would lie best: beside the middle of what it came from."""
    middle = top + tall / 2
    wanted = np.full(len(members), -1.0)
    for place, node in enumerate(members):
        mine = links["to"].to_numpy() == node
        if mine.any():
            came = links["from"].to_numpy()[mine]
            wanted[place] = np.average(middle[came], weights=wide[mine]) - tall[node] / 2
    return wanted


def _stacked(wanted, tall):
    """Tops of a column, as near to what is wanted as fits without two of them touching, none above 0."""
    room = np.maximum(tall + 6, SLOT_PX)
    groups = []  # [first, last, top]: what touches is moved together
    for i, y in enumerate(wanted):
        groups.append([i, i, max(y, 0.0)])
        while len(groups) > 1 and groups[-2][2] + room[groups[-2][0]:groups[-2][1] + 1].sum() > groups[-1][2]:
            last = groups.pop()
            first = groups[-1]
            first[1] = last[1]
            before = np.concatenate([[0], np.cumsum(room[first[0]:first[1]])])
            first[2] = max(float(np.mean(wanted[first[0]:first[1] + 1] - before)), 0.0)
    tops = np.zeros(len(wanted))
    for first, last, y in groups:
        tops[first:last + 1] = y + np.concatenate([[0], np.cumsum(room[first:last])])
    return tops


def _offsets(links, placed, wide):
    """Where each ribbon leaves and arrives, so that those of one station lie beside each other in order of the other end."""
    ribbons = links.assign(wide=wide, known=links["grams"].notna())
    for end, other, name in (("from", "to", "y0"), ("to", "from", "y1")):
        far = placed["top"].to_numpy()[ribbons[other]]
        ordered = ribbons.assign(far=far).sort_values([end, "far"], kind="stable")
        before = ordered.groupby(end)["wide"].cumsum() - ordered["wide"]
        ribbons[name] = (before + placed["top"].to_numpy()[ordered[end]]).reindex(ribbons.index)
    ribbons["x0"] = placed["right"].to_numpy()[ribbons["from"]]
    ribbons["x1"] = placed["x"].to_numpy()[ribbons["to"]]
    return ribbons


def _ribbons(ribbons, nodes, colours, at):
    """Bands from station to station, in the colour of the treatment that they lead to or come from."""
    t = np.linspace(0, 1, POINTS)
    bend = t * t * (3 - 2 * t)
    rows = []
    for i, r in enumerate(ribbons.to_dict("records")):
        target = r["to"] if nodes["treatment"].iloc[r["to"]] else r["from"]
        y = r["y0"] + (r["y1"] - r["y0"]) * bend
        rows.append(pd.DataFrame({
            "x": r["x0"] + (r["x1"] - r["x0"]) * t, "top": y, "foot": y + r["wide"], "ribbon": i, "known": r["known"],
            "colour": colours[target],
        }))  # fmt: skip
    if not rows:
        return []
    frame = pd.concat(rows, ignore_index=True).round(2)
    colour = alt.Color("colour:N", scale=None)
    drawn = []
    for known in (True, False):
        base = Chart(frame[frame["known"].eq(known)])
        if known:
            area = base.mark_area(opacity=0.38)
            drawn.append(area.encode(**at, y2=alt.Y2("foot:Q"), color=colour, detail=alt.Detail("ribbon:N")))
        else:
            line = base.mark_line(strokeDash=[4, 3], strokeWidth=1)
            drawn.append(line.encode(**at, color=colour, detail=alt.Detail("ribbon:N")))
    return [layer for layer, part in zip(drawn, (True, False), strict=True) if frame["known"].eq(part).any()]


def _stations(placed, nodes, colours, at, beside):
    """A bar a station, hollow for a run and black for a trial, and its name beside it."""
    filled = {"lot": None, "run": look.PAPER, "trial": look.INK}
    fill = [filled[k] or c for k, c in zip(nodes["kind"], colours, strict=True)]
    frame = placed.assign(name=nodes["name"].to_numpy(), second=nodes["second"].to_numpy(), fill=fill)
    frame["text"] = frame["right"] + 4
    frame["line"] = np.maximum((frame["top"] + frame["foot"]) / 2, frame["top"] + 7)
    bar = Chart(frame).mark_rect(stroke=look.INK, strokeWidth=1, opacity=1).encode(
        **at, x2=alt.X2("right:Q"), y2=alt.Y2("foot:Q"), fill=alt.Fill("fill:N", scale=None))
    base = Chart(frame).encode(**beside)
    halo = {"align": "left", "baseline": "middle", "stroke": look.PAPER, "strokeWidth": 3, "strokeOpacity": 0.75}
    name, second = {"fontSize": theme.SMALL_PX, "fontWeight": "bold", "dy": -5}, {"fontSize": theme.SMALL_PX - 1, "dy": 7}
    return [
        bar,
        base.mark_text(**halo, **name).encode(text=alt.Text("name:N")),
        base.mark_text(**halo, **second).encode(text=alt.Text("second:N")),
        base.mark_text(align="left", baseline="middle", **name).encode(text=alt.Text("name:N")),
        base.mark_text(align="left", baseline="middle", **second, color=look.INK).encode(text=alt.Text("second:N")),
    ]
