"""How all figures look, and how they get out: one altair theme from `palea.look`, SVG and PNG without a network.

A figure is at most 1240 px wide, so that it fits a 1280 px screen, and is read on A4 at about 60 %.
"""

import html
import itertools
import json
import math
import re

import altair as alt
import numpy as np

from palea import look
from palea.figures.chart import Chart, spec_of
from palea.words import prose

TITLE_PX, HEAD_PX, SMALL_PX = 16, 13, 11
PLACES = 6  # decimals in the data of a chart: what lies beyond differs between machines and cannot be seen
WRAP = 150  # characters of a subtitle at chart size across the whole figure
WHERE = re.compile(r' (?:d|transform)="[^"]*"')  # where an SVG says where things lie
VEGALITE = ".".join(alt.SCHEMA_VERSION.lstrip("v").split(".")[:2])
TAIL = re.compile(r"(\.\d\d)\d+")  # a hundredth of a px is enough, and halves the file


def finished(chart, description):
    """A chart with our fonts, sizes and colours, and its text alternative; nothing in it depends on the session."""
    axis = alt.AxisConfig(
        labelFont=look.CHART_FONT, titleFont=look.CHART_FONT, labelFontSize=look.CHART_FONT_PX, titleFontSize=look.CHART_FONT_PX,
        titleFontWeight="normal", labelColor=look.INK, titleColor=look.INK, gridColor=look.LINE, domainColor=look.QUIET,
        tickColor=look.QUIET, titlePadding=8, labelFlush=False,
    )
    title = alt.TitleConfig(
        anchor="start", font=look.CHART_FONT, subtitleFont=look.CHART_FONT, fontSize=TITLE_PX, subtitleFontSize=look.CHART_FONT_PX,
        subtitleColor=look.INK, color=look.INK, subtitlePadding=6, subtitleLineHeight=16, fontWeight="bold", offset=12,
    )
    text = alt.MarkConfig(font=look.CHART_FONT, fontSize=look.CHART_FONT_PX, color=look.INK)
    config = alt.Config(
        font=look.CHART_FONT, axis=axis, title=title, text=text, view=alt.ViewConfig(stroke=None),
        mark=alt.MarkConfig(aria=False),
    )
    # Set in place on the chart that was just made: each of altair's own setters copies all panels once more.
    chart.description, chart.background, chart.padding, chart.config = description, look.PAPER, 16, config
    return chart


def notes(lines, left=0):
    """Small print below a figure: how to read it, in words. left : width of the margin of what stands above it."""
    wrapped = [part for line in lines for part in prose.wrapped(line, WRAP)]
    frame = {"line": wrapped, "row": range(len(wrapped))}
    y = alt.Y("row:O", axis=None, sort=None)
    text = Chart(frame).mark_text(align="left", fontSize=SMALL_PX, color=look.QUIET)
    return text.encode(y=y, x=alt.XValue(-left), text=alt.Text("line:N")).properties(width=10, height=15 * len(wrapped))


def show_offline():
    """Let charts show in JupyterLab without a network: the bundled library is sent along with each chart."""
    alt.renderers.enable("jupyter", offline=True)
    alt.JupyterChart.enable_offline(True)  # noqa: FBT003  altair's own signature


def to_svg(chart):
    """The chart as SVG text with its text alternative. No script, link or font file; the same chart, the same bytes."""
    return as_files(chart)[0]


def as_files(chart):
    """(the chart as SVG text, the chart as its own JSON), laid out once for both."""
    import vl_convert

    spec = spec_of(chart)
    svg = vl_convert.vegalite_to_svg(json.dumps(spec, sort_keys=True), vl_version=VEGALITE)
    told = html.escape(str(chart.description), quote=False)
    svg = WHERE.sub(lambda found: TAIL.sub(r"\1", found.group()), svg)
    svg = svg.replace('class="marks"', 'class="marks" role="img"', 1).replace(">", f"><desc>{told}</desc>", 1)
    return svg, json.dumps(spec, sort_keys=True, indent=1) + "\n"


def to_png(chart, scale=2):
    """The chart as PNG bytes, at `scale` pixels a px."""
    import vl_convert

    return vl_convert.vegalite_to_png(json.dumps(spec_of(chart), sort_keys=True), vl_version=VEGALITE, scale=scale)


def rounded(numbers, places=PLACES):
    """Numbers as a chart holds them: to so many decimals, None for what is no finite number.

    >>> rounded([1.23456789, float("nan"), 2])
    [1.234568, None, 2.0]
    """
    found = np.round(np.array(numbers, dtype=float), places)
    return found.tolist() if np.isfinite(found).all() else [x if math.isfinite(x) else None for x in found.tolist()]


def marks(ids, names):
    """{id: (colour, dash, shape)}, fixed by the place of an id among all names of a package: the same in all figures.

    The ninth takes the first colour again, with another dash and shape.
    """
    known = list(names)
    order = {key: place for place, key in enumerate(known)}
    new = itertools.count(len(known))
    found = {}
    for key in dict.fromkeys(ids):
        place = order.get(key)
        found[key] = _mark(next(new) if place is None else place)
    return found


def two_lines(frame, first, second, y, x, align="left", *, bold=True):
    """Two columns of a frame as two lines of text beside a row: the first in ink, the second small and quiet.

    x : px from the left edge of the plot.  Where the second is empty the first stands in the middle of the row.
    """
    alone = alt.ExprRef(f"datum.{second} === '' ? 0 : -7")
    base = Chart(frame).encode(y=y, x=alt.XValue(x))
    common = {"align": align, "baseline": "middle"}
    return [
        base.mark_text(**common, dy=alone, fontWeight="bold" if bold else "normal").encode(text=alt.Text(f"{first}:N")),
        base.mark_text(**common, dy=8, fontSize=SMALL_PX, color=look.QUIET).encode(text=alt.Text(f"{second}:N")),
    ]


def in_two(name, key, width):
    """A name and its id on two lines of at most `width` characters; what is longer ends in three dots.

    >>> in_two("cleaned by hand", "AV-T02", 30), in_two("AV-T02", "AV-T02", 30)
    (('cleaned by hand', 'AV-T02'), ('AV-T02', ''))
    >>> in_two("film with gibberellic acid, 150 mg/kg", "AM-T10", 30)
    ('film with gibberellic acid,', '150 mg/kg (AM-T10)')
    """
    if len(name) <= width:
        return name, "" if key in name else key
    first, *rest = prose.wrapped(name, width)
    room = width - len(key) - 3
    second = " ".join(rest)
    return first, f"{second if len(second) <= room else second[:room - 1] + '…'} ({key})"


def _mark(place):
    many = len(look.CATEGORIES)
    turn = (place + place // many) % many
    return look.CATEGORIES[place % many], look.DASHES[turn], look.SHAPES[turn]
