"""Groups as rows: every dish a hollow point, batch means as short bars, the estimate filled on its interval.

Rows lie on a quantitative axis 0, 1, 2 ... from the top, so that dishes can be laid in one lane a batch.
"""

import altair as alt

from palea import look
from palea.figures import dishes, theme
from palea.figures.chart import Chart, layer
from palea.words import contrast, naming, numbers, prose, values

STEP_PX = 34
LABEL_PX, PLOT_PX, TEXT_PX = 190, 260, 185
LABEL_CHARACTERS = 28


def panel(groups, found, names, marks, axis, domain, control=None):
    """A chart of one row a group, with its name to the left, value, interval and replication to the right.

    groups : estimates of one quantity, denominator, species and environment.  found : dishes, from `dishes.of_groups`.
    axis : axis title.  domain : (low, high) of the axis, shared by all panels of a figure.
    control : the estimate against which most contrasts are asked; drawn as a dashed line with its name on it.
    """
    x = alt.X("value:Q", title=axis, scale=alt.Scale(domain=list(domain), nice=False, clamp=True))
    layers = [*_dishes(groups, found, x), *_estimates(groups, marks, x), *_names(groups, names), *_texts(groups)]
    if control is not None and numbers.known(control.value):
        layers = [*_control(control, x), *layers]
    return layer(*layers, width=PLOT_PX, height=STEP_PX * len(groups))


def small_panel(groups, found, names, marks, axis, domain, width, *, named):
    """As `panel`, narrower and without text to the right; the names of the rows only where `named`."""
    title = prose.wrapped(axis, width // 6)
    scale = alt.Scale(domain=list(domain), nice=False, clamp=True)
    x = alt.X("value:Q", title=title, scale=scale, axis=alt.Axis(tickCount=4))
    left = _names(groups, names) if named else []
    layers = [*_dishes(groups, found, x), *_estimates(groups, marks, x, len(groups)), *left]
    return layer(*layers, width=width, height=STEP_PX * len(groups))


def down(column, many=None):
    """The y channel of rows: no axis, since names are drawn as text in two lines. many : their number, in one layer."""
    if many is None:
        return alt.Y(column, type="quantitative", axis=None)
    scale = alt.Scale(domain=[many - 0.5, -0.5], nice=False, zero=False)
    return alt.Y(column, type="quantitative", axis=None, scale=scale)


def margin(width):
    """An unseen line that keeps `width` px free to the left of a plot, so that all plots of a figure line up."""
    line = Chart({"row": [0]}).mark_rule(opacity=0)
    return line.encode(x=alt.XValue(-width), x2=alt.X2Value(0), y=alt.YValue(0))


def domain_of(groups, found, *, share):
    """Axis from 0: to 100 for shares, else a little beyond the largest value."""
    if share:
        return 0, 100
    seen = [x for g in groups for x in (g.value, g.upper) if numbers.known(x)] + dishes.values_of(groups, found)
    return 0, round(max(seen, default=0) * 1.04, theme.PLACES) or 1


def most_asked(effects, groups):
    """The group that is b of most of these effects, the first among equals; None where there are no effects."""
    asked = [e.of["b"] for e in effects]
    if not asked:
        return None
    name = max(dict.fromkeys(asked), key=asked.count)
    here = contrast.setting(effects[0])
    return next((g for g in groups if g.of.get("treatment") == name and contrast.setting(g) == here), None)


def _dishes(groups, found, x):
    shown = dishes.laid(groups, found)
    tooltip = [alt.Tooltip(f) for f in ("unit:N", "batch:N", "value:Q")]
    base = Chart(shown).encode(x, y=down("lane"), tooltip=tooltip)
    bars = Chart(dishes.batch_means(shown)).mark_rule(strokeWidth=2, color=look.QUIET)
    return [
        base.mark_point(shape="circle", filled=False, size=20, strokeWidth=1, color=look.QUIET, opacity=0.75),
        bars.encode(x, y=down("top"), y2=alt.Y2("foot")),
    ]


def _estimates(groups, marks, x, rows=None):
    """Interval and estimate; `rows` sets the axis where no names do."""
    plain = (look.ESTIMATE, None, "circle")
    drawn = [(i, g, *marks.get(g.of.get("treatment"), plain)) for i, g in enumerate(groups) if numbers.known(g.value)]
    frame = {
        "row": [float(i) for i, *_ in drawn],
        **{name: theme.rounded([getattr(g, name) for _, g, *_ in drawn]) for name in ("value", "lower", "upper")},
        "colour": [colour for _, _, colour, _, _ in drawn], "shape": [shape for *_, shape in drawn],
    }
    colour = alt.Fill("colour:N", scale=None)
    y = down("row", rows)
    span = Chart(frame).encode(y=y, x=alt.X("lower:Q"), x2=alt.X2("upper:Q"))
    best = Chart(frame).mark_point(filled=True, size=95, opacity=1, stroke=look.INK, strokeWidth=1)
    return [
        span.mark_rule(strokeWidth=5.5, color=look.INK),
        span.mark_rule(strokeWidth=3.5).encode(stroke=alt.Stroke("colour:N", scale=None)),
        best.encode(x, y=down("row"), shape=alt.Shape("shape:N", scale=None), fill=colour),
    ]


def _control(control, x):
    name = f"control {control.of.get('treatment', '')}".strip()
    line = Chart({"value": [round(control.value, theme.PLACES)], "name": [name]}).encode(x)
    text = line.mark_text(align="center", baseline="bottom", dy=-3, fontSize=theme.SMALL_PX)
    return [
        line.mark_rule(strokeDash=[5, 4], color=look.INK, strokeWidth=1),
        text.encode(y=alt.YValue(0), text=alt.Text("name:N")),
    ]


def _names(groups, names):
    """What each row is called, to the left of it."""
    lines = [_name(g.of, names) for g in groups]
    frame = {"row": range(len(groups)), "name": [first for first, _ in lines], "key": [second for _, second in lines]}
    text = theme.two_lines(frame, "name", "key", down("row", len(groups)), -10, "right", bold=False)
    return [margin(LABEL_PX), *text]


def _texts(groups):
    """Value with interval, and what stands behind it, to the right of the row."""
    behind = [naming.replication(g) for g in groups]
    frame = {"row": range(len(groups)), "told": [_told(g) for g in groups], "behind": behind}
    return theme.two_lines(frame, "told", "behind", down("row"), PLOT_PX + 10)


def _name(of, names):
    key = next((of[k] for k in values.GROUP_KEYS if of.get(k)), "all")
    return theme.in_two(naming.plain_name(names, key), key, LABEL_CHARACTERS)


def _told(group):
    if not numbers.known(group.value):
        return group.verdict or "no value"
    span = ""
    if numbers.known(group.lower):
        span = f" ({numbers.interval(group.lower, group.upper, values.decimals(group))})"
    return f"{values.amount(group, group.value)}{span}"
