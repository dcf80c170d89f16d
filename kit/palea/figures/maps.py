"""The map of single steps: treatments as nodes, a line only where exactly one thing differs, with that thing on it.

Treatments stand in columns by how many steps they are from the first of them. Nothing is left to chance.
"""

from collections import defaultdict

import altair as alt
import numpy as np
import pandas as pd

from palea import look
from palea.figures import theme
from palea.figures.chart import Chart, layer, vconcat
from palea.words import prose

COLUMN_PX, ROW_PX, BOX_PX, BOX_HIGH_PX = 244, 62, 142, 36
POINTS = 15  # along a line
LETTER_PX = 6.2  # about how broad a letter is at the size of words on lines
LABEL_AT = 10  # which of them carries the words: near the end, where lines from one treatment have parted
BOW = 0.13  # of the height between two treatments of one column, how far the line between them bows out
KEY = (
    "A line stands only where two treatments differ in exactly one thing, which is written on it; thick lines are declared"
    " contrasts, thin ones could be. Dashed: declared, though more than one thing differs. A dotted box is an arm that is not"
    " there."
)


def draw(nodes, pairs, absent, names, title, told):
    """A chart of one species.

    nodes : one row a treatment: treatment, label.  pairs : a, b, words (in what they differ), n of these, declared.
    absent : one row an arm that is missing: base (the treatment it would start from), words.
    names : {id: readable label}; fixes the colours.  title : of the figure.  told : its text alternative.
    """
    ids = list(nodes["treatment"])
    place = _places(ids, pairs)
    boxes = [{"treatment": k, "name": k, "label": label, "x": place[k][0], "y": place[k][1]} for k, label in zip(
        ids, nodes["label"], strict=True)]  # fmt: skip
    rows = max(y for _, y in place.values()) + 1
    gaps = [{"label": _short(words, 46), "x": i, "y": rows} for i, words in enumerate(absent["words"])]
    width = COLUMN_PX * max([x for x, _ in place.values()] + [g["x"] for g in gaps]) + BOX_PX + 60
    height = ROW_PX * (rows + bool(gaps))
    across, down = alt.Scale(domain=[0, width], nice=False), alt.Scale(domain=[height, 0], nice=False)
    marks = theme.marks(ids, names)
    lines = _lines(pairs, place)
    over = (*_labels(lines, across, down), *_gaps(gaps, across, down))
    layers = [*_drawn(lines, across, down), *_boxes(boxes, marks, across, down), *over]
    chart = vconcat(
        layer(*layers, width=width, height=height), theme.notes([KEY]), title=alt.Title(title, fontSize=theme.TITLE_PX + 2),
        spacing=14)  # fmt: skip
    return theme.finished(chart, prose.together("A map of treatments and the single steps between them", told))


def _places(ids, pairs):
    """{treatment: (column, row)}. Columns by steps from the first, declared steps before others; rows by where they come from."""
    steps = steps_from(ids, pairs)
    rows, taken = {}, defaultdict(set)
    before = _before(ids, pairs, steps)
    for name in sorted(ids, key=lambda k: (steps[k], ids.index(k))):
        row = rows.get(before.get(name), 0)
        while row in taken[steps[name]]:
            row += 1
        rows[name] = row
        taken[steps[name]].add(row)
    return {k: (steps[k], rows[k]) for k in ids}


def steps_from(ids, pairs):
    """{treatment: steps from the first one}; what no step leads to stands one column behind the others.

    >>> pairs = pd.DataFrame({"a": ["x", "y"], "b": ["y", "z"], "n": [1, 1], "declared": [True, False]})
    >>> steps_from(["x", "y", "z", "w"], pairs)
    {'x': 0, 'y': 1, 'z': 2, 'w': 3}
    """
    found = {ids[0]: 0}
    for which in (pairs["n"].eq(1) & pairs["declared"], pairs["n"].eq(1)):
        links = _links(pairs[which])
        edge = list(found)
        while edge:
            new = [(b, found[a] + 1) for a in edge for b in links[a] if b not in found and b in ids]
            found = dict(new) | found
            edge = list(dict.fromkeys(b for b, _ in new))
    last = max(found.values())
    return {k: found.get(k, last + 1) for k in ids}


def _links(pairs):
    links = defaultdict(list)
    for a, b in zip(pairs["a"], pairs["b"], strict=True):
        links[a].append(b)
        links[b].append(a)
    return links


def _before(ids, pairs, steps):
    """{treatment: the one it is a step from}, the declared one first."""
    found = {}
    ordered = pairs[pairs["n"].eq(1)].sort_values("declared", ascending=False, kind="stable")
    links = _links(ordered)
    for name in ids:
        found[name] = next((k for k in links[name] if steps[k] == steps[name] - 1), None)
    return found


def _lines(pairs, place):
    """Lines to draw: points of each, its words, and how it is drawn."""
    drawn = []
    for p in pairs.to_dict("records"):
        if p["n"] != 1 and not p["declared"]:
            continue
        (xa, ya), (xb, yb) = sorted((place[p["a"]], place[p["b"]]))
        way = "dashed" if p["n"] != 1 else "declared" if p["declared"] else "thin"
        drawn.append({"points": _points(xa, ya, xb, yb), "words": p["words"], "way": way})
    return drawn


def _points(xa, ya, xb, yb):
    """Points, px, of a line from the right edge of a box to the left edge of another; in one column it bows out to the right."""
    t = np.linspace(0, 1, POINTS)
    y = np.array([ya, yb]) * ROW_PX + BOX_HIGH_PX / 2
    if xa == xb:
        out = (y[1] - y[0]) * BOW + 14
        return COLUMN_PX * xa + BOX_PX + out * 4 * t * (1 - t), y[0] + (y[1] - y[0]) * t
    x = np.array([COLUMN_PX * xa + BOX_PX, COLUMN_PX * xb])
    return x[0] + (x[1] - x[0]) * t, y[0] + (y[1] - y[0]) * t * t * (3 - 2 * t)


def _drawn(lines, across, down):
    ways = {"thin": {"strokeWidth": 0.8, "color": look.QUIET}, "declared": {"strokeWidth": 2.5, "color": look.INK},
            "dashed": {"strokeWidth": 1.5, "strokeDash": [5, 4], "color": look.INK}}  # fmt: skip
    for way, how in ways.items():
        parts = [
            pd.DataFrame({"x": line["points"][0], "y": line["points"][1], "line": i, "at": range(POINTS)})
            for i, line in enumerate(lines) if line["way"] == way
        ]
        if parts:
            frame = pd.concat(parts, ignore_index=True).round(2)
            base = Chart(frame).mark_line(**how)
            yield base.encode(**_at("x", "y", across, down), detail=alt.Detail("line:N"), order=alt.Order("at:Q"))


def _at(x, y, across, down):
    return {"x": alt.X(f"{x}:Q", axis=None, scale=across), "y": alt.Y(f"{y}:Q", axis=None, scale=down)}


def _labels(lines, across, down):
    """Words on the lines of declared contrasts; for thin ones there is no room, the text alternative tells them."""
    told = []
    for line in lines:
        (x, y), straight = line["points"], np.ptp(line["points"][1]) == 0 or line["points"][0][0] == line["points"][0][-1]
        at = POINTS // 2 if straight else LABEL_AT
        left = x[at] if straight else min(x[at], x[-1] - 6 - LETTER_PX / 2 * len(line["words"]))
        told += [{"x": left, "y": y[at], "words": line["words"]}] if line["way"] != "thin" else []
    if not told:
        return []
    base = Chart(pd.DataFrame(told).round(2)).encode(**_at("x", "y", across, down), text=alt.Text("words:N"))
    return [
        base.mark_text(fontSize=theme.SMALL_PX, stroke=look.PAPER, strokeWidth=5), base.mark_text(fontSize=theme.SMALL_PX),
    ]  # fmt: skip


def _boxes(boxes, marks, across, down):
    frame = pd.DataFrame([
        {"left": COLUMN_PX * b["x"], "right": COLUMN_PX * b["x"] + BOX_PX,
         "top": ROW_PX * b["y"], "foot": ROW_PX * b["y"] + BOX_HIGH_PX,
         "text": COLUMN_PX * b["x"] + 12, "middle": ROW_PX * b["y"] + BOX_HIGH_PX / 2, "name": b["name"],
         "label": _short(b["label"]), "colour": marks[b["treatment"]][0], "band": COLUMN_PX * b["x"] + 6} for b in boxes
    ])  # fmt: skip
    base, corner = Chart(frame), _at("left", "top", across, down)
    text = base.encode(**_at("text", "middle", across, down))
    return [
        base.mark_rect(fill=look.PAPER, stroke=look.INK, strokeWidth=1).encode(
            **corner, x2=alt.X2("right:Q"), y2=alt.Y2("foot:Q")),
        base.mark_rect(opacity=1).encode(
            **corner, x2=alt.X2("band:Q"), y2=alt.Y2("foot:Q"), fill=alt.Fill("colour:N", scale=None)),
        text.mark_text(align="left", baseline="middle", dy=-7, fontWeight="bold", fontSize=theme.SMALL_PX).encode(
            text=alt.Text("name:N")),
        text.mark_text(align="left", baseline="middle", dy=8, fontSize=theme.SMALL_PX - 1).encode(
            text=alt.Text("label:N")),
    ]


def _gaps(gaps, across, down):
    """Arms that are not there, dotted, at the foot."""
    if not gaps:
        return []
    frame = pd.DataFrame([
        {"left": COLUMN_PX * i, "right": COLUMN_PX * i + COLUMN_PX - 10,
         "top": ROW_PX * g["y"], "foot": ROW_PX * g["y"] + BOX_HIGH_PX,
         "text": COLUMN_PX * i + 8, "middle": ROW_PX * g["y"] + BOX_HIGH_PX / 2, "label": g["label"], "name": "not there:"}
        for i, g in enumerate(gaps)
    ])  # fmt: skip
    base = Chart(frame)
    text = base.encode(**_at("text", "middle", across, down))
    common = {"align": "left", "baseline": "middle", "fontSize": theme.SMALL_PX - 1, "color": look.QUIET}
    return [
        base.mark_rect(fill=look.PAPER, stroke=look.QUIET, strokeDash=[2, 3], strokeWidth=1.5).encode(
            **_at("left", "top", across, down), x2=alt.X2("right:Q"), y2=alt.Y2("foot:Q")),
        text.mark_text(**common, dy=-7).encode(text=alt.Text("name:N")),
        text.mark_text(**common, dy=8).encode(text=alt.Text("label:N")),
    ]


def _short(label, most=23):
    return label if len(label) <= most else f"{label[:most - 1].rstrip(', ')}…"
