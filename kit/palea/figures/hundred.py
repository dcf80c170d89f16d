"""Of 100 units, what they were: one stacked bar a lot or treatment, split into kinds, with an interval on the last edge."""

import altair as alt
import pandas as pd

from palea import look
from palea.figures import theme
from palea.figures.chart import Chart, layer, vconcat
from palea.words import numbers, prose

BAR_PX, STEP_PX, LABEL_PX = 620, 30, 230
ROOM = 7.0  # of 100 units that a part must have for its number to be written in it
SHADES = ("#FFFFFF", "#E2E2E2", "#B9CADA", "#86A5C0", "#5583AB", "#3A6A96")  # each darker than the one before, in grey too
LAST, DARK = "#062A47", SHADES[-2:]  # the last kind, which is what seed is wanted for, is always the darkest
KEY = "Each bar is 100 units; parts stand in the order of the key."
EDGE = " The line at the foot is the 95 % interval of the edge of the last part."


def draw(parts, kinds, title, told):
    """A chart of one row a lot or treatment.

    parts : one row a bar and kind: name, second (small line), kind, share (of 100), lower, upper (of the last kind; nan else).
    kinds : the kinds in the order in which they are stacked.  title : of the figure.  told : its text alternative.
    """
    frame = _stacked(parts, kinds)
    bars = frame.drop_duplicates("row")
    many = len(bars)
    y = alt.Scale(domain=[many, 0], nice=False)
    down = lambda column: alt.Y(f"{column}:Q", axis=None, scale=y)  # noqa: E731 - said once, used for each layer
    x = alt.X("left:Q", title="of 100 units", scale=alt.Scale(domain=[0, 100], nice=False))
    box = Chart(frame).mark_rect(stroke=look.INK, strokeWidth=0.8).encode(
        x, x2=alt.X2("right:Q"), y=down("top"), y2=alt.Y2("foot:Q"), fill=alt.Fill("shade:N", scale=None))
    inside = Chart(frame[frame["share"] >= ROOM]).mark_text(fontSize=theme.SMALL_PX).encode(
        alt.X("middle:Q"), down("lane"), text=alt.Text("number:N"), color=alt.Color("ink:N", scale=None))
    spans = frame.dropna(subset=["lower"])
    edge = Chart(spans).mark_rule(strokeWidth=4, color=look.INK).encode(alt.X("from:Q"), x2=alt.X2("to:Q"), y=down("line"))
    key = KEY + (EDGE if len(spans) else "")
    names = theme.two_lines(bars, "name", "second", down("lane"), -10, "right", bold=False)
    room = Chart(bars.head(1)).mark_rule(opacity=0).encode(down("lane"), x=alt.XValue(-LABEL_PX), x2=alt.X2Value(0))
    picture = layer(box, inside, *([edge] if len(spans) else []), *names, room, width=BAR_PX, height=STEP_PX * many)
    head = alt.Title(title, fontSize=theme.TITLE_PX + 2)
    chart = vconcat(_legend(kinds), picture, theme.notes([key], LABEL_PX), title=head, spacing=14)
    return theme.finished(chart, prose.together("A bar of 100 units a row, split into kinds", told))


def _shade(kinds):
    return {kind: SHADES[i % len(SHADES)] for i, kind in enumerate(kinds[:-1])} | {kinds[-1]: LAST}


def _stacked(parts, kinds):
    """Edges of each part, left to right in the order of the kinds."""
    rows = {key: i for i, key in enumerate(dict.fromkeys(zip(parts["name"], parts["second"], strict=True)))}
    frame = parts.assign(
        row=[rows[key] for key in zip(parts["name"], parts["second"], strict=True)],
        at=parts["kind"].map({kind: i for i, kind in enumerate(kinds)}), share=parts["share"].astype(float),
    ).sort_values(["row", "at"], kind="stable")  # fmt: skip
    right = frame.groupby("row", sort=False)["share"].cumsum()
    shade = frame["kind"].map(_shade(kinds))
    dark = shade.isin((*DARK, LAST))
    return frame.assign(
        left=right - frame["share"], right=right, middle=right - frame["share"] / 2, top=frame["row"] + 0.12,
        foot=frame["row"] + 0.88, lane=frame["row"] + 0.5, line=frame["row"] + 0.88, shade=shade,
        number=[numbers.plain(v) for v in frame["share"]], ink=dark.map({True: look.PAPER, False: look.INK}),
        **{"from": right - frame["upper"], "to": right - frame["lower"]},
    ).round(theme.PLACES)  # fmt: skip


def _legend(kinds):
    """The kinds in the order of the bars, as boxes with their words: no colour has to be matched from memory."""
    frame = pd.DataFrame({"kind": list(kinds), "shade": list(_shade(kinds).values())})
    width = [18 + 7.2 * len(k) + 16 for k in kinds]
    frame["x"] = [sum(width[:i]) for i in range(len(width))]
    frame = frame.assign(x2=frame["x"] + 13, text=frame["x"] + 18)
    scale = alt.Scale(domain=[0, max(sum(width), BAR_PX)], nice=False)
    base = Chart(frame)
    words = base.mark_text(align="left", baseline="middle")
    return layer(
        base.mark_rect(stroke=look.INK, strokeWidth=0.8, height=13).encode(
            alt.X("x:Q", axis=None, scale=scale), x2=alt.X2("x2:Q"), y=alt.YValue(8), fill=alt.Fill("shade:N", scale=None)),
        words.encode(alt.X("text:Q", axis=None, scale=scale), y=alt.YValue(8), text=alt.Text("kind:N")),
        width=max(sum(width), BAR_PX), height=16)  # fmt: skip
