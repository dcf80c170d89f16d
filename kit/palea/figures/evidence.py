"""What is known: a table of contrasts by stage, each cell the verdict's word and its interval; empty cells say so."""

import altair as alt
import pandas as pd

from palea import look
from palea.figures import theme
from palea.figures.chart import Chart, layer, vconcat
from palea.words import prose

LABEL_PX, WIDEST_PX, CELL_PX, ROW_PX = 260, 900, 260, 46
EMPTY = "not measured"
LETTERS_PX = 6.4  # about how broad a letter is
KEY = "Each cell: the verdict, and below it the estimate with its 95 % interval. Pale cells with a dashed edge were not measured."


def draw(cells, stages, title, told):
    """A chart of one row a contrast.

    cells : one row a contrast and stage that was judged: row (its name), second (small line), stage, verdict, said.
    stages : the columns, in the order of the work.  title : of the figure.  told : its text alternative.
    """
    rows = list(dict.fromkeys(zip(cells["row"], cells["second"], strict=True)))
    wide = min(WIDEST_PX / len(stages), CELL_PX)
    found = {(r, s, stage): (verdict, said) for r, s, stage, verdict, said in cells[
        ["row", "second", "stage", "verdict", "said"]].itertuples(index=False)}  # fmt: skip
    frame = pd.DataFrame([
        {"left": j, "right": j + 1, "top": i + 0.06, "foot": i + 0.94, "middle": j + 0.5, "lane": i + 0.5,
         "verdict": found.get((*key, stage), (EMPTY, ""))[0], "said": _short(found.get((*key, stage), (EMPTY, ""))[1], wide),
         "judged": (*key, stage) in found}
        for i, key in enumerate(rows) for j, stage in enumerate(stages)
    ])  # fmt: skip
    across, down = alt.Scale(domain=[0, len(stages)], nice=False), alt.Scale(domain=[len(rows), 0], nice=False)
    at = {"x": alt.X("left:Q", axis=None, scale=across), "y": alt.Y("top:Q", axis=None, scale=down)}
    lane = alt.Y("lane:Q", axis=None, scale=down)
    names = pd.DataFrame(rows, columns=["name", "second"]).assign(lane=[i + 0.5 for i in range(len(rows))])
    heads = pd.DataFrame({"middle": [j + 0.5 for j in range(len(stages))], "name": [prose.capital(s) for s in stages]})
    layers = [
        *(_boxes(frame[frame["judged"].eq(known)], at, known=known) for known in (True, False) if frame["judged"].eq(known).any()),
        *_texts(frame, alt.X("middle:Q", axis=None, scale=across), lane),
        *theme.two_lines(names, "name", "second", lane, -10, "right", bold=False),
        Chart(heads).mark_text(baseline="bottom", fontWeight="bold", dy=-4).encode(
            alt.X("middle:Q", axis=None, scale=across), y=alt.YValue(0), text=alt.Text("name:N")),
        Chart(names.head(1)).mark_rule(opacity=0).encode(lane, x=alt.XValue(-LABEL_PX), x2=alt.X2Value(0)),
    ]  # fmt: skip
    picture = layer(*layers, width=wide * len(stages), height=ROW_PX * len(rows))
    head = alt.Title(title, fontSize=theme.TITLE_PX + 2, offset=26)
    chart = vconcat(picture, theme.notes([KEY], LABEL_PX), title=head, spacing=14)
    return theme.finished(chart, prose.together("A table of contrasts by stage with their verdicts", told))


def _boxes(frame, at, *, known):
    look_of = {"fill": look.BAND, "stroke": look.INK} if known else {"fill": look.PAPER, "stroke": look.LINE, "strokeDash": [4, 3]}
    return Chart(frame).mark_rect(strokeWidth=0.8, **look_of).encode(**at, x2=alt.X2("right:Q"), y2=alt.Y2("foot:Q"))


def _texts(frame, middle, lane):
    base = Chart(frame).encode(middle, lane)
    judged, empty = base.transform_filter("datum.judged"), base.transform_filter("!datum.judged")
    small = {"fontSize": theme.SMALL_PX, "color": look.QUIET}
    return [
        judged.mark_text(fontWeight="bold", dy=-8).encode(text=alt.Text("verdict:N")),
        judged.mark_text(fontSize=theme.SMALL_PX, dy=9).encode(text=alt.Text("said:N")),
        empty.mark_text(**small).encode(text=alt.Text("verdict:N")),
    ]


def _short(text, wide):
    most = int(wide / LETTERS_PX)
    return text if len(text) <= most else f"{text[:most - 1]}…"
